"""Plain text for people: columns, bands, lists. No line over 100 columns."""

from __future__ import annotations

import json
import os
import re
import sys
import unicodedata
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import click

from incircuit.report.words import listed, span

if TYPE_CHECKING:
    from incircuit.meter.profile import Meter
    from incircuit.predict.prediction import Band

__all__ = ["cells", "columns", "listed", "paragraph", "say", "say_json", "short", "span", "span_of"]

WIDTH = 100
NARROWEST = 8
"""No column of a table is cut to less."""
SCHEMA = 1
COLOURS = {"FAILED": "red", "HEALTHY": "green", "EXPLAINED": "green", "UNDECIDED": "yellow",
           "UNLISTED": "magenta"}
"""Of the word a verdict begins with; the words say the same without."""
OFF = re.compile("off, (open|explained)")


def columns(head: Sequence[str], rows: Iterable[Sequence[str]], indent: str = "  ") -> str:
    """A table with its columns lined up, the head in the first line; long cells lose their middle."""
    table = [list(head), *(list(row) for row in rows)]
    widths = [max(cells(row[k]) for row in table) for k in range(len(head))]
    room = WIDTH - len(indent) - 2 * (len(head) - 1)
    for least in ([max(cells(h), NARROWEST) for h in head], [NARROWEST] * len(head)):
        while sum(widths) > room and (wide := [k for k, w in enumerate(widths) if w > least[k]]):
            widths[max(wide, key=lambda k: (widths[k], -k))] -= 1
    lines = ("  ".join(_padded(cell, w) for cell, w in zip(row, widths, strict=True)) for row in table)
    return "\n".join((indent + line).rstrip() for line in lines)


def cells(text: str) -> int:
    """Columns a text takes in a terminal: two for a wide character, none for a combining mark.

    >>> cells("GATE"), cells("電源"), cells("e\u0301")
    (4, 4, 1)
    """
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1
               for c in text)


def short(text: str, width: int) -> str:
    """A text that takes at most `width` columns, its middle left out where it is longer.

    >>> short("/power/gate_drive/high_side", 15)
    '/power/…gh_side'
    """
    if cells(text) <= width:
        return text
    left, right = text, text[len(text) // 2:]
    while cells(left) > width // 2:
        left = left[:-1]
    while cells(right) > width - 1 - cells(left):
        right = right[1:]
    return f"{left}…{right}"


def _padded(text: str, width: int) -> str:
    cut = short(text, width)
    return cut + " " * (width - cells(cut))


def paragraph(text: str, indent: str = "", after: str | None = None) -> str:
    """Text wrapped at the width; following lines indented by `after` (default: as the first)."""
    lines: list[str] = []
    line, rest = indent, indent if after is None else after
    for word in text.split():
        gap = "" if line in (indent, rest) and not line.strip() else " "
        if gap and cells(line) + 1 + cells(word) > WIDTH:
            lines.append(line)
            line, gap = rest, ""
        while cells(line) + len(gap) + cells(word) > WIDTH:  # a name longer than a line is cut
            head = _fitting(word, WIDTH - cells(line) - len(gap))
            lines.append(line + gap + head)
            line, gap, word = rest, "", word[len(head):]
        line += gap + word
    return "\n".join([*lines, line])


def _fitting(text: str, width: int) -> str:
    """As much of the beginning of a text as takes `width` columns."""
    while cells(text) > width:
        text = text[:-1]
    return text


def span_of(meter: Meter, mode: str, band: Band) -> str:
    """A band as the meter would show its ends."""
    from incircuit.predict.prediction import limits

    return span(*limits(meter, mode, band))


def say(text: str) -> None:
    """Text on standard output, the verdict coloured where the terminal can and the user does not object."""
    click.echo(coloured(text) if _colours() else text)


def _colours() -> bool:
    """On a terminal, unless NO_COLOR is set (no-color.org) or the terminal is a dumb one."""
    wanted = not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"
    return wanted and bool(sys.stdout and sys.stdout.isatty())


def coloured(text: str) -> str:
    """The text with its verdict and what is off made visible; nothing is said by colour alone.

    >>> coloured("HEALTHY D3") == click.style("HEALTHY", fg="green", bold=True) + " D3"
    True
    """
    word = re.match("[A-Z]+", text)
    if word and word[0] in COLOURS:
        text = click.style(word[0], fg=COLOURS[word[0]], bold=True) + text[word.end():]
    return OFF.sub(lambda found: click.style(found[0], fg="red"), text)


def say_json(content: dict[str, Any]) -> None:
    """One JSON document with its schema number first."""
    click.echo(json.dumps({"schema": SCHEMA, **content}, indent=2, ensure_ascii=False, allow_nan=False))


def band_json(band: Band | None) -> dict[str, Any] | None:
    """A band as JSON: SI units, null on an overloaded side."""
    if band is None:
        return None
    return {"value": band.value, "low": band.low, "high": band.high, "overload": band.overload}
