"""Plain text for people: columns, bands, lists. No line over 100 columns."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from incircuit.meter.display import Shown
    from incircuit.meter.profile import Meter
    from incircuit.predict.prediction import Band

WIDTH = 100
SCHEMA = 1


def columns(head: Sequence[str], rows: Iterable[Sequence[str]], indent: str = "  ") -> str:
    """A table with its columns lined up, the head in the first line."""
    table = [list(head), *(list(row) for row in rows)]
    widths = [max(len(row[k]) for row in table) for k in range(len(head))]
    lines = ("  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)) for row in table)
    return "\n".join((indent + line).rstrip() for line in lines)


def paragraph(text: str, indent: str = "", after: str | None = None) -> str:
    """Text wrapped at the width; following lines indented by `after` (default: as the first)."""
    return textwrap.fill(text, WIDTH, initial_indent=indent, break_long_words=False, break_on_hyphens=False,
                         subsequent_indent=indent if after is None else after)


def listed(names: Sequence[str], most: int = 20) -> str:
    """Names in a row, the tail counted where there are too many."""
    if not names:
        return "none"
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def span(low: Shown, high: Shown) -> str:
    """A band in the meter's own digits: ``0.009 to 0.011 V``, one number where both ends read alike."""
    if low.text == high.text:
        return low.text
    number, _, unit = low.text.rpartition(" ")
    if number and unit == high.text.rpartition(" ")[2]:
        return f"{number} to {high.text}"
    return f"{low.text} to {high.text}"


def span_of(meter: Meter, mode: str, band: Band) -> str:
    """A band as the meter would show its ends."""
    from incircuit.predict.prediction import limits

    return span(*limits(meter, mode, band))


def say_json(content: dict[str, Any]) -> None:
    """One JSON document with its schema number first."""
    click.echo(json.dumps({"schema": SCHEMA, **content}, indent=2, ensure_ascii=False, allow_nan=False))


def band_json(band: Band | None) -> dict[str, Any] | None:
    """A band as JSON: SI units, null on an overloaded side."""
    if band is None:
        return None
    return {"value": band.value, "low": band.low, "high": band.high, "overload": band.overload}
