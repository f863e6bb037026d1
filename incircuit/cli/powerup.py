"""`incircuit powerup`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.setup import NAMES, mains_volts
from incircuit.cli.text import band_json, columns, paragraph, say_json, span

if TYPE_CHECKING:
    from incircuit.power.powerup import Step


@click.command(context_settings=NAMES,
               epilog="Example: incircuit powerup boards/battery-charger/battery-charger.board")
@click.argument("board")
@click.option("--mains", metavar="VOLTS", help="Effective mains voltage, instead of the board file's.")
@click.option("--meter", default="handheld", show_default=True, metavar="NAME|FILE",
              help="A shipped meter or a profile of your own; it needs volts.")
@click.option("--json", "as_json", is_flag=True, help="For programs; SI units, schema 1.")
def powerup(board: str, mains: str | None, meter: str, as_json: bool) -> None:
    """The first power-up after a repair, in order, each step with its caution.

    Readings in place once more, a safe voltage from a current-limited supply with the voltages to expect at
    named pads, then mains through a series lamp with the link voltage to expect. What powers the board is in
    its file: `mains L N 230V`, `supply +15V RTN 15V`.
    """
    from incircuit.board import read_board
    from incircuit.meter.profile import load_meter
    from incircuit.power.powerup import powerup as plan

    read, used = read_board(board), load_meter(meter)
    rms = mains_volts(mains, read)
    if len(read.parts) > 25:
        click.echo("solving the powered board …", err=True)
    steps = plan(read, used, rms=rms)
    if as_json:
        say_json({"title": read.title, "meter": used.name, "steps": [step_json(s) for s in steps]})
    else:
        head = (f"{read.title or board}. Meter {used.name}. Only for who may work on live equipment: local "
                "codes and licensed practice come first.")
        click.echo("\n".join([paragraph(head), *(_text(k, s) for k, s in enumerate(steps, start=1))]))


def step_json(s: Step) -> dict[str, Any]:
    """One step as JSON, SI units."""
    from incircuit.cli.predict import reading_json

    return {
        "title": s.title, "do": s.do, "stop": s.stop, "caution": s.caution, "plus": s.plus, "minus": s.minus,
        **({"middle": s.middle} if s.middle else {}),
        "volts": s.volts or None, "limit": s.limit, "draws": s.draws,
        "readings": [reading_json(p) for p in s.readings],
        "expected": [{"red": e.red, "black": e.black, "display": e.prediction.shown.text,
                      **(band_json(e.prediction.band) or {})} for e in s.expected],
        "chips_set": list(s.chips_set),
    }


def _text(number: int, s: Step) -> str:
    from incircuit.report.charge import limit_words, unpredicted_words

    lines = ["", paragraph(f"{number}. {s.title}", after="   "), paragraph(s.do, "   ")]
    if limit := limit_words(s):
        lines.append(paragraph(limit, "   "))
    if s.readings:
        rows = [(p.mode, p.red, p.black, p.shown.text, span(p.low, p.high)) for p in s.readings]
        lines.append(columns(("mode", "red", "black", "expect", "healthy boards show"), rows, "   "))
    if s.expected:
        pads = [(e.red, e.black, e.prediction.shown.text, span(e.prediction.low, e.prediction.high))
                for e in s.expected]
        lines.append(columns(("red", "black", "expect", "healthy boards show"), pads, "   "))
    if unpredicted := unpredicted_words(s):
        lines.append(paragraph(unpredicted, "   "))
    return "\n".join([*lines, paragraph(f"Stop if: {s.stop}", "   "),
                      paragraph(f"Caution: {s.caution}", "   ")])
