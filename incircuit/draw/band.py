"""Bands and a reading on one axis: the picture of why a reading tells something, or does not."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from incircuit.draw.axis import Axis, axis_for, tick_text
from incircuit.draw.bodies import plain
from incircuit.draw.strokes import Text, text_width
from incircuit.draw.svg import (
    CURRENT,
    INK,
    MARK,
    MARK_FILL,
    MUTED,
    PAPER,
    RED,
    document,
    group,
    path_data,
    tag,
    text,
)

if TYPE_CHECKING:
    from incircuit.compare.compare import Comparison
    from incircuit.meter.profile import Meter
    from incircuit.predict.explanation import Explanation

ROW, BAR = 26.0, 14.0
PLOT = 420.0
OVERLOAD = 52.0
"""Width of the field for OL [px]."""
LABEL = 11.5
MOST_FAULTS = 9
FILLS = {
    "alone": (PAPER, INK),
    "healthy": ("#cfe3f5", CURRENT),
    "fault": (MARK_FILL, MARK),
    "other": (PAPER, MUTED),
}


@dataclass(frozen=True, slots=True)
class BandRow:
    """One band [V or ohm]: `low` None where all of it is OL, `high` None where it reaches OL.

    `kind` is ``alone``, ``healthy``, ``fault`` or ``other``; `note` stands after the label.
    """

    label: str
    low: float | None
    high: float | None
    value: float | None = None
    kind: str = "other"
    note: str = ""


def band_picture(rows: Sequence[BandRow], unit: str, *, reading: float | None = None, shown: str = "",
                 resolution: float = 0.0, title: str = "Bands",
                 limit: tuple[float, str] | None = None) -> str:
    """Rows of bands on one axis as SVG text.

    `shown` is the reading as the display showed it, ``OL`` too, ``""`` for none; `reading` its value
    [V or ohm], None on overload; `resolution` one digit of the meter there. `limit` is a value with what is
    said of it.
    """
    left = 20 + max([text_width(f"{r.label} {r.note}", LABEL) for r in rows] + [60.0])
    finite = [x for r in rows for x in (r.low, r.high, r.value) if x is not None]
    finite += [reading] if reading is not None else []
    finite += [limit[0]] if limit else []
    axis = axis_for(finite, left, left + PLOT, resolution, unit == "Ω")
    over = any(r.high is None or r.low is None for r in rows) or (bool(shown) and reading is None)
    right = left + PLOT + (OVERLOAD if over else 0.0)
    top = 40.0 if shown or limit else 14.0
    bottom = top + ROW * len(rows)
    inside = [*_grid(axis, unit, top, bottom, over)]
    if shown:
        x = right - OVERLOAD / 2 if reading is None else axis.at(reading)
        wide = 2.0
        if reading is not None and resolution:
            wide = max(
                2.0, axis.at(reading + resolution / 2) - axis.at(max(reading - resolution / 2, axis.low))
            )
        inside.append(_needle(x, wide, top, bottom, shown, left, right))
    if limit:
        x = axis.at(limit[0])
        inside.append(
            tag(
                "path",
                {
                    "class": "limit",
                    "d": path_data([(x, top - 12), (x, bottom)]),
                    "stroke": RED,
                    "stroke-width": "1.5",
                    "stroke-dasharray": "4 3",
                    "fill": "none",
                },
            )
        )
        end = x + text_width(limit[1], 12) > right
        inside.append(
            text(Text(x, top - 17, limit[1], "end" if end else "start", 12, "reading"), RED, "bold")
        )
    inside += [_row(r, axis, top + ROW * k, over) for k, r in enumerate(rows)]
    foot = f"one digit here: {tick_text(resolution, unit)}" if resolution and shown else ""
    if foot:
        inside.append(text(Text(left + PLOT, bottom + 32, foot, "end", 10, "foot"), MUTED))
    said = "; ".join(_in_words(r, unit) for r in rows) + (f"; read {shown}" if shown else "")
    return document(right + 14, bottom + (40 if foot else 26), title, inside, said)


def _in_words(r: BandRow, unit: str) -> str:
    ends = ["OL" if x is None else tick_text(x, unit) for x in (r.low, r.high)]
    return f"{r.label}: {ends[0] if ends[0] == ends[1] else ' to '.join(ends)}"


def _grid(axis: Axis, unit: str, top: float, bottom: float, over: bool) -> list[str]:
    lines, last = [], -1e9
    room = axis.end + OVERLOAD / 2 - text_width("OL", 10) if over else math.inf
    for value in axis.ticks():
        x = axis.at(value)
        lines.append(tag("path", {"d": path_data([(x, top), (x, bottom + 4)]), "stroke": "#d0d0d0",
                                  "stroke-width": "1", "fill": "none"}))
        said = tick_text(value, unit)
        half = text_width(said, 10) / 2
        if x - half > last + 4 and x + half < room:
            lines.append(text(Text(x, bottom + 16, said, "middle", 10, "tick")))
            last = x + half
    lines.append(tag("path", {"d": path_data([(axis.start, bottom), (axis.end, bottom)]), "stroke": INK,
                              "stroke-width": "1", "fill": "none"}))
    if over:
        lines.append(
            tag(
                "rect",
                {
                    "x": axis.end,
                    "y": top,
                    "width": OVERLOAD,
                    "height": bottom - top,
                    "fill": "#f1f1f1",
                    "stroke": INK,
                    "stroke-dasharray": "3 3",
                    "class": "field",
                },
            )
        )
        lines.append(text(Text(axis.end + OVERLOAD / 2, bottom + 16, "OL", "middle", 10, "tick")))
    return [tag("g", {"class": "grid"}, "".join(lines))]


def _row(r: BandRow, axis: Axis, y: float, over: bool) -> str:
    fill, line = FILLS[r.kind]
    middle = y + ROW / 2
    end = axis.end + OVERLOAD if over else axis.end
    start = axis.end if r.low is None else axis.at(r.low)
    stop = end if r.high is None else axis.at(r.high)
    if stop - start < 6.0:
        start, stop = (start + stop) / 2 - 3.0, (start + stop) / 2 + 3.0
    label = Text(axis.start - 12, middle + 4, r.label, "end", LABEL, "row")
    inside = [text(label, INK, "bold" if r.kind in ("healthy", "alone") else None)]
    if r.note:
        note = Text(axis.start - 12, middle + 4, r.note, "end", LABEL, "note")
        label = Text(
            axis.start - 12 - text_width(f"{r.note} ", LABEL), middle + 4, r.label, "end", LABEL, "row"
        )
        inside = [text(label, INK, "bold" if r.kind in ("healthy", "alone") else None), text(note, MUTED)]
    inside.append(tag("rect", {
        "x": start, "y": middle - BAR / 2, "width": stop - start, "height": BAR, "rx": "2", "fill": fill,
        "stroke": line, "stroke-width": "1.5", "class": f"band band-{r.kind}",
        "stroke-dasharray": {"alone": "5 2", "fault": "2 2"}.get(r.kind)}))
    if r.value is not None:
        x = axis.at(r.value)
        inside.append(
            tag(
                "path",
                {
                    "d": path_data([(x, middle - BAR / 2), (x, middle + BAR / 2)]),
                    "stroke": line,
                    "stroke-width": "2",
                    "fill": "none",
                },
            )
        )
    return group({"class": "row"}, "", inside)


def _needle(x: float, wide: float, top: float, bottom: float, shown: str, left: float, right: float) -> str:
    """The reading: a line through all rows as wide as one digit, with a pointer and what was read."""
    said = f"you read {shown}"
    half = text_width(said, 12) / 2
    at = min(max(x, left + half - 40), right - half)
    return group({"class": "reading", "data-reading": shown}, said, [
        tag("rect", {"x": x - wide / 2, "y": top - 6, "width": wide, "height": bottom - top + 6, "fill": RED,
                     "fill-opacity": "0.85" if wide <= 4 else "0.35", "stroke": "none"}),
        tag("path", {"d": path_data([(x - 6, top - 14), (x + 6, top - 14), (x, top - 5)], True), "fill": RED,
                     "stroke": "none"}),
        text(Text(at, top - 19, said, "middle", 12, "reading"), RED, "bold")])


def rows_of(explanation: Explanation, comparison: Comparison | None = None,
            part: str | None = None) -> tuple[BandRow, ...]:
    """The part alone, the healthy board, and the faults that would show: first those that fit a reading."""
    p = explanation.prediction
    rows = []
    if p.alone is not None:
        rows.append(
            BandRow(f"{part} alone" if part else "alone", p.alone.low, p.alone.high, p.alone.value, "alone")
        )
    inside = "" if comparison is None else "inside" if comparison.verdict.healthy_fits else "outside"
    rows.append(BandRow("healthy in place", p.band.low, p.band.high, p.band.value, "healthy", inside))
    odds = {(c.part, c.fault): c for c in comparison.verdict.candidates} if comparison else {}
    told = [s for s in explanation.sights if s.told and s.band is not None]
    told.sort(key=lambda s: -(odds[s.part, s.fault].probability if (s.part, s.fault) in odds else -1.0))
    for s in told[:MOST_FAULTS]:
        known = odds.get((s.part, s.fault))
        band = s.band
        assert band is not None
        rows.append(BandRow(f"{s.part} {s.fault}", band.low, band.high, s.shown.value,
                            "fault" if known else "other", "fits" if known else ""))
    return tuple(rows)


def bands_of(explanation: Explanation, meter: Meter, comparison: Comparison | None = None,
             part: str | None = None) -> str:
    """The picture for one explained, or compared, reading."""
    from incircuit.predict.measure import ranges_of

    unit = explanation.prediction.shown.unit or "V"
    title = f"{explanation.mode}, red {explanation.red}, black {explanation.black}"
    rows = rows_of(explanation, comparison, part)
    scales = ranges_of(meter, explanation.mode)
    least = scales[0].resolution
    if comparison is None:
        return band_picture(rows, unit, title=title, resolution=least)
    typed = comparison.typed
    if typed.value is None and typed.beep is not None and meter.continuity is not None:
        heard = "you heard it" if typed.beep else "it was silent"
        below = meter.continuity.beeps_below
        return band_picture(
            rows, unit, title=title, limit=(below, f"beeps below {plain(below, unit)}: {heard}")
        )
    scale = next((s for s in scales if typed.value is not None and typed.value <= s.full_scale), scales[-1])
    return band_picture(
        rows, unit, reading=typed.value, shown=comparison.read.text, resolution=scale.resolution, title=title
    )
