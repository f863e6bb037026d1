"""`incircuit predict`."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.setup import MODES, MORE_MODES, NAMES, Setup, option_value, prepare, shared_options
from incircuit.cli.text import band_json, columns, listed, paragraph, say_json, span

if TYPE_CHECKING:
    from incircuit.predict.course import Course
    from incircuit.predict.prediction import Prediction


POWERED = ("The board is under power: guard it against touch, use a meter and probes rated for the place "
           "(IEC 61010-2-033, IEC 61010-031), keep one hand away, and use no mode but volts. What chips do "
           "once they run is not predicted. Local codes and licensed practice come first.")


@click.command(context_settings=NAMES,
               epilog="Example: incircuit predict boards/pump-drive/gate-drive.board GATE DRV")
@click.argument("board")
@click.argument("red")
@click.argument("black")
@click.option("--mode", multiple=True, type=click.Choice((*MODES, *MORE_MODES)),
              help="Only this mode. Repeatable; farads, esr and volts only where named.")
@click.option("--power", multiple=True, metavar='"PLUS MINUS VOLTS"',
              help="A supply on two pads, for the mode volts. Repeatable.")
@click.option("--limit", metavar="AMPS", help="The current limit of the first supply.")
@shared_options
def predict(board: str, red: str, black: str, mode: tuple[str, ...], limit: str | None,
            **options: Any) -> None:
    """What the meter should show between two pads if all is well.

    Diode test, ohms and continuity, both ways round: the display, the band 99 of 100 healthy boards
    stay within, what the part between the pads would show alone, and what the display does while
    capacitors charge. With --mode farads or esr a capacitor in place; with --mode volts and --power
    what a meter shows on a board with a safe voltage put in.
    """
    from incircuit.predict.course import BOARDS, courses_of
    from incircuit.predict.measure import Ask
    from incircuit.predict.prediction import predict as ask
    from incircuit.predict.reach import floating_gates, moving_parts, slow_parts

    setup = prepare(board, red, black, **options)
    ways = (True,) if setup.swap else (False, True)
    mode = _fitting(mode, bool(setup.question.circuit.state.power))
    own = tuple(m for m in mode if m not in MORE_MODES)
    found = ask(setup.question, setup.meter, own, ways, engine=setup.engine) if own or not mode else ()
    found += _more(setup, tuple(dict.fromkeys(m for m in mode if m in MORE_MODES)), limit)
    gates = floating_gates(setup.question)
    slow = slow_parts(setup.question, setup.meter, [p for p in found if p.mode in MODES])
    moves = slow or moving_parts(setup.question)
    asks = [Ask(p.mode, p.red != red) for p in found if moves and p.mode in MODES]
    seen = courses_of(setup.question, setup.meter, asks, BOARDS if setup.as_json and slow else 0)
    courses = [seen[a] for a in asks]
    if setup.as_json:
        part = setup.question.part
        say_json({"part": part.ref if part else None, "meter": setup.meter.name,
                  "moving": list(moving_parts(setup.question)), "floating_gates": list(gates),
                  "readings": [{**reading_json(p), "course": course_json(c)} for p, c in
                               zip_longest(found, courses)]})
    else:
        click.echo(_text(setup, found, slow, gates, courses))


def _fitting(modes: tuple[str, ...], powered: bool) -> tuple[str, ...]:
    """Under power only volts, which need it. Raises StateError for another mode."""
    from incircuit.errors import StateError

    if powered and (wrong := [m for m in modes if m != "volts"]):
        raise StateError(f"{wrong[0]} with the supply on: a meter that brings its own current is misled or "
                         "ends; leave --power out, or ask --mode volts")
    return ("volts",) if powered else modes


def _more(setup: Setup, modes: tuple[str, ...], limit: str | None) -> tuple[Prediction, ...]:
    """Farads and volts both ways would say the same: the way asked for; esr has no way round."""
    from incircuit.errors import StateError
    from incircuit.predict.charging import predict_charging

    amps = option_value("--limit", limit, "A") if limit is not None else float("inf")
    if amps <= 0.0:
        raise StateError(f"--limit {limit}: a supply limited to {amps:g} A gives nothing")
    return tuple(predict_charging(setup.question, setup.meter, m, setup.swap, limit=amps) for m in modes)


def reading_json(p: Prediction) -> dict[str, Any]:
    """One prediction as JSON; `value` to full digits, `display` as the meter shows it."""
    return {
        "mode": p.mode, "red": p.red, "black": p.black, "display": p.shown.text, "value": p.band.value,
        "unit": p.shown.unit, "overload": p.band.overload, "low": p.band.low, "high": p.band.high,
        "beep": p.shown.beep if p.mode == "continuity" else None,
        "range": p.shown.range.full_scale if p.shown.range else None, "alone": band_json(p.alone),
    }


def course_json(c: Course | None) -> dict[str, Any] | None:
    """A course as JSON: SI units, null on overload; None where the display stands at once."""
    if c is None or not c.moves:
        return None
    return {"times": list(c.times), "values": list(c.values), "low": list(c.low), "high": list(c.high),
            "beeps": c.beeps, "settled_after": c.settled_after, "first": c.first.text,
            "final": c.final.text, "lowest_range": c.lowest.text if c.lowest else None,
            "sentence": c.sentence}


def _text(setup: Setup, found: tuple[Prediction, ...], slow: tuple[str, ...], gates: tuple[str, ...],
          courses: Sequence[Course]) -> str:
    question = setup.question
    alone = f"{question.part.ref} alone" if question.part else ""
    head = ["mode", "red", "black", "expect", "healthy boards show", *([alone] if alone else [])]
    rows = []
    for p in found:
        row = [p.mode, p.red, p.black, expected(p), span(p.low, p.high)]
        if alone:
            row.append(span(*p.alone_shown) if p.alone_shown else "")
        rows.append(row)
    return "\n".join([headline(setup), "", columns(head, rows), *notes(slow, gates), *course_lines(courses),
                      *_beside(setup, found), *_warnings(setup)])


def _beside(setup: Setup, found: tuple[Prediction, ...]) -> list[str]:
    """Who falsifies a reading of farads or esr."""
    from incircuit.predict.charging import falsifiers
    from incircuit.predict.measure import ranges_of, show

    lines: list[str] = []
    for p in (p for p in found if p.mode in ("farads", "esr")):
        scales, words = ranges_of(setup.meter, p.mode), []
        for ref, without in falsifiers(setup.question, setup.meter, p.mode, setup.swap):
            value = float("inf") if without is None else without
            at = next((k for k, r in enumerate(scales) if value <= r.full_scale), len(scales) - 1)
            words.append(f"{ref} ({show(setup.meter, p.mode, value, at).text} without it)")
        if words:
            lines += ["", paragraph(f"In this {p.mode} reading too: {listed(words, 6)}.", after="  ")]
    return lines


def _warnings(setup: Setup) -> list[str]:
    """What heat, charge and power ask for."""
    state = setup.question.circuit.state
    lines = []
    if state.hot:
        hot = listed([ref for ref, _ in state.hot])
        lines += ["", paragraph(f"{hot}: a junction reads about 2 mV less for every kelvin it is warmer. Let "
                                "it cool and read again before you judge it.")]
    if state.charge:
        lines += ["", paragraph("A charged board: discharge it through a resistor and verify with the meter "
                                "on volts before any other mode.")]
    if state.power:
        lines += ["", paragraph(POWERED)]
    return lines


def course_lines(courses: Sequence[Course]) -> list[str]:
    """How each display that moves gets there, a line each."""
    moving = [c for c in courses if c.moves and (c.mode != "continuity" or c.beeps != 0.0)]
    if not moving:
        return []
    from incircuit.draw.course import sparkline

    lines = (paragraph(f"{c.mode} {c.red} {c.black}: {c.sentence}. {sparkline(c)}", "  ", "    ")
             for c in moving)
    return ["", "From the first touch on:", *lines, *_stopped_above(moving)]


def _stopped_above(courses: Sequence[Course]) -> list[str]:
    """Where a display comes down from a higher range and stays there, though a lower one would fit."""
    lines: list[str] = []
    for c in courses:
        if c.lowest is not None:
            lines += ["", paragraph(
                f"{c.mode} {c.red} {c.black}: coming down from OL the meter may stop on a higher range, at "
                f"{c.final.text} instead of the {c.lowest.text} of the table: a junction reads otherwise on "
                "each range. Both are healthy; type all the digits you see, they tell the range.")]
    return lines


def notes(slow: tuple[str, ...], gates: tuple[str, ...]) -> list[str]:
    """What to know about charges: capacitors that move the display, gates taken as empty."""
    lines = []
    if slow:
        lines += ["", paragraph(f"The meter charges {listed(slow, 6)} first: wait until the display stands "
                                "still. These are the settled readings.")]
    if gates:
        lines += ["", paragraph(f"No gate resistor in sight for {listed(gates, 6)}: taken as uncharged. "
                                "Short gate to source or emitter before you read.")]
    return lines


def expected(p: Prediction) -> str:
    """The display, with the beeper's answer in words."""
    if p.mode != "continuity":
        return p.shown.text
    return p.shown.text + (", beeps" if p.shown.beep else ", silent")


def headline(setup: Setup) -> str:
    """Board, part in question, meter, state: one line."""
    question = setup.question
    state = question.circuit.state
    about = f", asking about {question.part.ref}" if question.part else ""
    done = [*(f"{ref}.{pin} lifted" for ref, pin in sorted(state.lifted)),
            *(f"{ref} removed" for ref in sorted(state.removed)), *state.faults,
            *(f"{ref} charged to {volts:g} V" for ref, volts in state.charge),
            *(f"{ref} at {celsius:g} °C" for ref, celsius in state.hot),
            *(f"{volts:g} V from {minus} to {plus}" for plus, minus, volts in state.power)]
    title = question.circuit.board.title or setup.board
    line = f"{title}{about}. Meter {setup.meter.name}, board at {state.celsius:g} °C."
    if done:
        line += f" With {', '.join(done)}."
    if question.others and question.part:
        line += f" Also between these pads: {', '.join(question.others)}."
    return paragraph(line)
