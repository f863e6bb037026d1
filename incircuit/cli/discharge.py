"""`incircuit discharge`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.setup import NAMES, mains_volts
from incircuit.cli.text import columns, listed, paragraph, say_json

if TYPE_CHECKING:
    from incircuit.power.discharge import Bank, Stored
    from incircuit.power.resistor import Discharger

_WHY = {"supply": "by the supply lines of the board file", "mains": "by its mains line, at the peak",
        "rating": "its rating, the worst it may hold"}

AT_ONCE = 0.05
"""Shorter than this [s] nobody waits."""


@click.command(context_settings=NAMES,
               epilog="Example: incircuit discharge boards/pump-drive/boost-stage.board")
@click.argument("board")
@click.option("--mains", metavar="VOLTS", help="Effective mains voltage, instead of the board file's.")
@click.option("--json", "as_json", is_flag=True, help="For programs; SI units, schema 1.")
def discharge(board: str, mains: str | None, as_json: bool) -> None:
    """What the capacitors hold after the plug is out, and how to take it away.

    For each capacitor that may hold a dangerous charge: voltage, energy, the bleed path with its time, what
    happens if one of its resistors is open, and a resistor to discharge with. Voltages come from the lines
    `mains L N 230V` and `supply BUS RTN 390V` of the board file, else from ratings.
    """
    from incircuit.board import read_board
    from incircuit.power.discharge import stored

    rms = mains_volts(mains)
    read = read_board(board)
    if len(read.parts) > 60:
        click.echo("solving the powered board and every discharge …", err=True)
    found = stored(read, rms=rms)
    if as_json:
        say_json(stored_json(found))
    else:
        click.echo(_text(board, found))


def stored_json(found: Stored) -> dict[str, Any]:
    """What a board holds, as JSON: SI units, null for never or longer than a day."""
    from incircuit.power.limits import CAUTIONS, LIMITS, SHOCK_SOURCE

    return {
        "joules": found.joules, "unknown": list(found.unknown),
        "limits": [{"volts": v.volts, "seconds": v.seconds, "source": v.source} for v in LIMITS],
        "banks": [_bank_json(b) for b in found.banks],
        "stacks": [{"plus": a.plus, "minus": b.minus, "volts": a.volts + b.volts} for a, b in found.stacks],
        "shock_threshold": SHOCK_SOURCE,
        "cautions": [{"text": text, "source": source or None} for text, source in CAUTIONS],
    }


def _bank_json(b: Bank) -> dict[str, Any]:
    from dataclasses import asdict

    def finite(x: float) -> float | None:
        return x if x < float("inf") else None

    return {
        "parts": list(b.refs), "plus": b.plus, "minus": b.minus, "farads": b.farads, "volts": b.volts,
        "volts_from": b.why, "joules": b.joules, "can_hurt": b.can_hurt, "bleed_ohms": finite(b.ohms),
        "bleeders": list(b.bleeders), "time_constant": finite(b.time_constant), "seconds": list(b.seconds),
        "slowest": list(b.slowest),
        "one_open": [{"part": f.part, "bleed_ohms": finite(f.ohms), "seconds": list(f.seconds)}
                     for f in b.failing],
        "resistor": asdict(b.discharger),
    }


def _text(board: str, found: Stored) -> str:
    from incircuit.power.discharge import SLIGHT_JOULES, SLIGHT_VOLTS
    from incircuit.power.limits import CAUTIONS, LIMITS

    lines = [paragraph(f"{found.board.title or board}. Unplug and lock out first; nothing here says that the "
                       "board is empty.")]
    if not found.banks:
        lines += ["", paragraph("No capacitor of this board file holds more than the limits below, by its "
                                "mains and supply lines and its ratings. Measure all the same.")]
    for bank in (b for b in found.banks if not b.slight):
        lines += ["", *_bank_lines(bank)]
    if slight := [b for b in found.banks if b.slight]:
        lines += ["", paragraph(f"At most {SLIGHT_VOLTS:g} V and {SLIGHT_JOULES:g} J, no danger by "
                                "themselves; a charge left still falsifies readings and can harm a chip. "
                                "Measure, and discharge all the same:")]
        lines += [paragraph(_slight(b), "  ", "    ") for b in slight]
    for a, b in found.stacks:
        lines += ["", paragraph(f"{listed(a.refs)} and {listed(b.refs)} lie in series: "
                                f"{a.volts + b.volts:.0f} V between {a.plus} and {b.minus}. Discharge each.")]
    if found.unknown:
        lines += ["", paragraph(f"No voltage known for {listed(found.unknown)}: give a rating, or a line "
                                "such as supply +15V RTN 15V.")]
    lines += ["", "Limits:", *(paragraph(f"{limit.source}.", "  ", "    ") for limit in LIMITS)]
    lines += ["", "Always:"]
    lines += [paragraph(f"{k}. {text}" + (f" ({source})" if source else ""), "  ", "     ")
              for k, (text, source) in enumerate(CAUTIONS, start=1)]
    return "\n".join(lines)


def _slight(b: Bank) -> str:
    """One line for a bank that can hold nothing dangerous."""
    from incircuit.units import format_value

    return (f"{listed(b.refs)}, {b.plus} to {b.minus}: {format_value(b.farads, 'F')}, {b.volts:.3g} V "
            f"({_WHY[b.why]}), {format_value(b.joules, 'J')}; "
            f"with {format_value(b.discharger.ohms, 'Ω', 2)}.")


def _bank_lines(b: Bank) -> list[str]:
    from incircuit.power.limits import LIMITS, SHOCK_SOURCE
    from incircuit.units import format_value

    head = (f"{listed(b.refs)}, {b.plus} to {b.minus}: {format_value(b.farads, 'F')}, {b.volts:.3g} V "
            f"({_WHY[b.why]}), {format_value(b.joules, 'J')}.")
    hurt = f" CAN KILL: above the shock threshold ({SHOCK_SOURCE})." if b.can_hurt else ""
    lines = [paragraph(head + hurt, after="  ")]
    if not b.bleeders:
        lines.append(paragraph("No bleed path in the netlist: it keeps its charge until you take it.", "  "))
    else:
        lines.append(paragraph(f"Bleeds through {listed(b.bleeders, 8)}: {format_value(b.ohms, 'Ω')}, time "
                               f"constant {_constant(b.time_constant)}.", "  "))
    rows = [("as it should be", *(_time(t) for t in b.seconds)),
            ("every tolerance at its slow end", *(_time(t) for t in b.slowest))]
    alike: dict[tuple[str, ...], list[str]] = {}
    for f in b.failing:
        alike.setdefault(tuple(_time(t) for t in f.seconds), []).append(f.part)
    rows += [(f"{listed(refs, 5)} open", *times) for times, refs in alike.items()]
    if b.bleeders:
        lines.append(columns(("by itself", *(f"to {limit.volts:g} V" for limit in LIMITS)), rows, "    "))
    return [*lines, paragraph(_resistor_words(b.discharger), "  ")]


def _resistor_words(d: Discharger) -> str:
    from incircuit.units import format_value

    volts = f", for at least {d.volts:.0f} V" if d.volts > 200.0 else ""
    to = f"; below 34 V {_within(d.seconds)}" if d.seconds else ""
    return (f"Discharge with {format_value(d.ohms, 'Ω', 2)}, {d.watts:g} W wirewound{volts}: at first "
            f"{format_value(d.peak_amps, 'A', 2)} and {format_value(d.peak_watts, 'W', 2)}, "
            f"{format_value(d.joules, 'J', 2)} in all{to}. Then verify on volts.")


def _within(seconds: float) -> str:
    return "at once" if seconds < AT_ONCE else f"in {_time(seconds)}"


def _constant(seconds: float) -> str:
    """A time constant: also what is over at once has one.

    >>> _constant(0.0033), _constant(174.0)
    ('3.3 ms', '2.9 min')
    """
    from incircuit.units import format_value

    return format_value(seconds, "s", 2) if seconds < AT_ONCE else _time(seconds)


def _time(seconds: float | None) -> str:
    """A time for people; None and infinite: not within a day.

    >>> _time(0.0), _time(1.43), _time(325.5), _time(5000.0), _time(None)
    ('at once', '1.4 s', '5.4 min', '83 min', 'not in a day')
    """
    if seconds is None or seconds > 86400.0:
        return "not in a day"
    if seconds < AT_ONCE:
        return "at once"
    unit, size = ("s", 1.0) if seconds < 120.0 else ("min", 60.0) if seconds < 7200.0 else ("h", 3600.0)
    return f"{seconds / size:.{0 if seconds / size >= 9.95 else 1}f} {unit}"
