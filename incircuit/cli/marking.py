"""`incircuit marking`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from incircuit.cli.text import columns, say_json

if TYPE_CHECKING:
    from incircuit.marking import CapacitorMarks, Marks, Meaning, Printed

MOST_TABLES = 3
"""Resistances whose marks are shown; a mark that can be more is asked for again by its value."""
NONE = "–"


@click.command(epilog='Examples: incircuit marking 103, incircuit marking brown black orange gold, '
                      "incircuit marking 4k7")
@click.argument("mark", nargs=-1, required=True)
@click.option("--json", "as_json", is_flag=True, help="For programs; schema 1.")
def marking(mark: tuple[str, ...], as_json: bool) -> None:
    """What is printed on a part: a code or colours to values, a value to codes and colours.

    MARK is a code as printed (103, 4992, 68C, 4k7, 473J), the colours of the bands, or a value with
    its unit. Everything the mark can mean is shown, then how those values may be marked.
    """
    from incircuit.marking import capacitor_marks_of, marks_of, read_mark

    text = " ".join(mark)
    found = read_mark(text)
    resistors = [marks_of(value) for value in _values(found, "resistor")]
    capacitors = [capacitor_marks_of(value) for value in _values(found, "capacitor")]
    if as_json:
        say_json({"mark": text, "meanings": [asdict(m) for m in found],
                  "resistors": [asdict(m) for m in resistors], "capacitors": [asdict(m) for m in capacitors]})
    else:
        click.echo(_text(found, resistors[:MOST_TABLES], capacitors[:MOST_TABLES]))


def _values(found: tuple[Meaning, ...], part: str) -> list[float]:
    return list(dict.fromkeys(m.value for m in found if m.part == part))


def _text(found: tuple[Meaning, ...], resistors: list[Marks], capacitors: list[CapacitorMarks]) -> str:
    tables = [columns(["on a", "means", "tolerance", "series", "read as"], map(_meaning_row, found))]
    tables += [_resistor_table(marks) for marks in resistors]
    if capacitors:
        tables.append(_capacitor_table(capacitors))
    return "\n\n".join(tables)


def _meaning_row(m: Meaning) -> list[str]:
    from incircuit.marking import plain

    read_as = [m.kind, *([f"{m.tempco * 1e6:g} ppm/K"] if m.tempco else []), *([m.note] if m.note else [])]
    return [m.part, plain(m.value, m.unit), m.tolerance.text if m.tolerance else NONE, m.series or NONE,
            "; ".join(read_as)]


def _resistor_table(marks: Marks) -> str:
    """The ways to mark a resistance, one row each, one column for each preferred value."""
    ways: list[tuple[str, Callable[[Printed], str | None]]] = [
        ("four bands, 5 %", lambda p: " ".join(p.four_bands or ())),
        ("five bands, 1 %", lambda p: " ".join(p.five_bands or ())),
        ("three digits", lambda p: p.three_digits),
        ("four digits", lambda p: p.four_digits),
        ("EIA-96, 1 %", lambda p: p.eia96),
        ("letter code", lambda p: p.letters),
    ]
    if not marks.ohms:
        ways = [("one band", ways[0][1]), *ways[2:4], ways[5]]
    head = ["resistor marks", *(_heading(p.ohms, "Ω", p.series, marks.ohms) for p in marks.printed)]
    return columns(head, [[name, *(way(p) or NONE for p in marks.printed)] for name, way in ways])


def _capacitor_table(found: list[CapacitorMarks]) -> str:
    ways: list[tuple[str, Callable[[CapacitorMarks], str | None]]] = [
        ("three digits", lambda m: m.three_digits),
        ("letter code", lambda m: m.letters),
        ("microfarads", lambda m: m.microfarads),
    ]
    head = ["capacitor marks", *(_heading(m.farads, "F", "E24", m.asked) for m in found)]
    return columns(head, [[name, *(way(m) or NONE for m in found)] for name, way in ways])


def _heading(value: float, unit: str, series: str, asked: float) -> str:
    """``4.75 kΩ, E96 (+1.1 %)``: the preferred value, and how far it is from the one asked for."""
    from incircuit.marking import plain

    off = f" ({100 * (value - asked) / asked:+.1f} %)".replace("-", "−") if value != asked else ""
    return plain(value, unit) + (f", {series}" if series else "") + off
