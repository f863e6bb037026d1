"""`incircuit compare`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.explain import blind_json, blind_lines
from incircuit.cli.predict import headline
from incircuit.cli.setup import MODES, NAMES, Setup, prepare, shared_options
from incircuit.cli.text import band_json, columns, paragraph, say, say_json, span

if TYPE_CHECKING:
    from incircuit.compare.compare import Comparison

MOST_NAMED = 6
"""As many faults are shown with their odds."""
LEAST_NAMED = 0.02
"""Beside a healthy board, a fault is shown from this probability on …"""
FAVOURED = 3.0
"""… and when the reading is so many times more probable with it."""


@click.command(context_settings=NAMES,
               epilog="Example: incircuit compare boards/pump-drive/gate-drive.board GATE DRV 0.011")
@click.argument("board")
@click.argument("red")
@click.argument("black")
@click.argument("shown")
@click.option("--mode", type=click.Choice(MODES), default="diode", show_default=True)
@shared_options
def compare(board: str, red: str, black: str, shown: str, mode: str, **options: Any) -> None:
    """What a reading means: healthy, explained by a neighbour, failed, or not to be told in place.

    SHOWN is what the display showed, such as 0.011, OL, 10k1 or beep.
    """
    from incircuit.compare.compare import compare as ask
    from incircuit.compare.why import why
    from incircuit.errors import UnitError
    from incircuit.meter.typed import last_digit, parse_shown
    from incircuit.predict.measure import Ask

    typed = parse_shown(shown, mode)
    if typed.word:
        raise UnitError(f'"{typed.word}" is what a display does, not a reading: wait until it stands still, '
                        "or put it in a readings file and judge that")
    setup = prepare(board, red, black, **options)
    found = ask(setup.question, setup.meter, Ask(mode, setup.swap), typed, last_digit(shown, mode),
                setup.engine)
    reason = why(setup.question, found)
    if setup.as_json:
        say_json(_json(found, shown, reason))
    else:
        say(_text(setup, found, reason))


def _json(c: Comparison, shown: str, reason: str) -> dict[str, Any]:
    v = c.verdict
    path = c.unlisted
    return {
        "verdict": v.word, "part": v.part, "fault": v.fault, "twins": list(v.twins),
        "candidates": [{"part": k.part, "fault": k.fault, "probability": k.probability, "fits": k.fits,
                        "magnitude": k.magnitude} for k in v.candidates],
        "healthy": {**(band_json(c.prediction.band) or {}), "fits": v.healthy_fits,
                    "probability": v.healthy_probability},
        "alone": band_json(c.prediction.alone),
        "reading": {"mode": c.prediction.mode, "red": c.prediction.red, "black": c.prediction.black,
                    "shown": shown, "value": c.typed.value, "unit": c.prediction.shown.unit,
                    "overload": c.typed.overload, "beep": c.typed.beep},
        "carried_by": [{"part": part, "share": share} for part, share in c.explanation.shares],
        "blind_to": blind_json(c.explanation),
        "unlisted": None if path is None else {"between": [c.prediction.red, c.prediction.black],
                                               "ohms": path.ohms, "low": path.low, "high": path.high},
        "why": reason,
    }


def _text(setup: Setup, c: Comparison, reason: str) -> str:
    from incircuit.compare.why import read_text
    from incircuit.predict.sentences import path_sentences

    v, p = c.verdict, c.prediction
    about = f" {v.part}" if v.part else ""
    asked = setup.question.part
    lines = [f"{v.word.upper()}{about}", paragraph(reason, "  "), "", headline(setup), ""]
    rows = [(f"{asked.ref} alone", span(*p.alone_shown))] if p.alone_shown and asked else []
    rows += [("healthy in place", span(p.low, p.high)), ("you read", read_text(c))]
    lines.append(columns((p.mode, f"red {p.red}, black {p.black}"), rows))
    lines += _odds(c)
    if c.explanation.paths:
        lines += ["", "On a healthy board the meter's current goes:"]
        lines += [paragraph(line, "  ", "    ") for line in path_sentences(c.explanation)[:5]]
    lines += blind_lines(c.explanation)
    return "\n".join(lines)


def _odds(c: Comparison) -> list[str]:
    """The faults that the reading speaks for; where it is healthy, only those it favours clearly."""
    from incircuit.compare.why import candidate_words
    from incircuit.predict.sentences import percent

    v = c.verdict
    named = v.candidates
    if v.healthy_fits:
        named = tuple(k for k in named if k.favour >= FAVOURED and k.probability >= LEAST_NAMED)
    if not named:
        return []
    rows = [(candidate_words(k), percent(k.probability)) for k in named[:MOST_NAMED]]
    if v.healthy_probability >= LEAST_NAMED:
        rows.insert(0, ("healthy board" if v.healthy_fits else "healthy board, at its edge",
                        percent(v.healthy_probability)))
    lines = ["", columns(("fits the reading", "odds"), rows)]
    more = len(named) - MOST_NAMED
    return lines + ([f"  and {more} more"] if more > 0 else [])
