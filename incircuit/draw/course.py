"""The course of a reading as a picture: what the display shows, second by second, until it stands still."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from incircuit.draw.axis import Axis, axis_for, tick_text
from incircuit.draw.strokes import Point, Text, text_width
from incircuit.draw.svg import CURRENT, INK, MUTED, document, path_data, tag, text

if TYPE_CHECKING:
    from incircuit.predict.course import Course

WIDE, HIGH = 430.0, 150.0
FIELD = 24.0
"""Height of the field for OL [px]."""
SPARKS = "▁▂▃▄▅▆▇█"


def course_picture(course: Course, title: str = "") -> str:
    """The display against time as SVG text: a step at every update, the healthy band behind it."""
    unit = course.final.unit or course.first.unit or "V"
    shown = [v for v in (*course.values, *course.low, *course.high) if v is not None]
    over = any(v is None for v in (*course.values, *course.high))
    top = 16.0 + (FIELD if over else 0.0)
    bottom = top + HIGH
    up = axis_for(shown, bottom, top, 0.1 if unit == "Ω" else 1e-3, unit == "Ω")
    left = 16.0 + max(text_width(tick_text(v, unit), 10) for v in up.ticks())
    last = course.times[-1] if course.times else 0.0
    stop = max(1.3 * course.settled_after if course.settled_after else last, 1.0)
    along = Axis(0.0, stop, left, left + WIDE)
    inside = [*_grids(along, up, unit, top, bottom, over)]
    inside += _band(course, along, up, top - FIELD)
    line = _steps(course.times, course.values, along, up, top - FIELD / 2, stop)
    inside.append(tag("path", {"class": "course", "d": path_data(line), "fill": "none", "stroke": CURRENT,
                               "stroke-width": "2.2", "stroke-linejoin": "round"}))
    if course.moves and course.settled_after is not None and course.settled_after <= stop:
        x = along.at(course.settled_after)
        inside.append(
            tag(
                "path",
                {
                    "d": path_data([(x, top), (x, bottom)]),
                    "stroke": INK,
                    "stroke-width": "1.2",
                    "stroke-dasharray": "4 3",
                    "fill": "none",
                },
            )
        )
        said = f"stands still after {course.settled_after:.2g} s"
        end = x + 5 + text_width(said, 10) > left + WIDE
        inside.append(
            text(Text(x + (-5 if end else 5), bottom - 6, said, "end" if end else "start", 10, "note"))
        )
    label = title or f"{course.mode}, red {course.red}, black {course.black}"
    return document(left + WIDE + 16, bottom + 30, label, inside, course.sentence)


def _grids(along: Axis, up: Axis, unit: str, top: float, bottom: float, over: bool) -> list[str]:
    lines = []
    for value in up.ticks(5):
        y = up.at(value)
        lines.append(tag("path", {"d": path_data([(along.start, y), (along.end, y)]), "stroke": "#d0d0d0",
                                  "stroke-width": "1", "fill": "none"}))
        lines.append(text(Text(along.start - 6, y + 3.5, tick_text(value, unit), "end", 10, "tick")))
    for value in along.ticks(6):
        lines.append(text(Text(along.at(value), bottom + 15, tick_text(value, "s"), "middle", 10, "tick")))
    lines.append(
        tag(
            "path",
            {
                "d": path_data([(along.start, top), (along.start, bottom), (along.end, bottom)]),
                "stroke": INK,
                "stroke-width": "1",
                "fill": "none",
            },
        )
    )
    if over:
        lines.append(
            tag(
                "rect",
                {
                    "x": along.start,
                    "y": top - FIELD,
                    "width": along.end - along.start,
                    "height": FIELD,
                    "fill": "#f1f1f1",
                    "stroke": INK,
                    "stroke-dasharray": "3 3",
                },
            )
        )
        lines.append(text(Text(along.start - 6, top - FIELD / 2 + 3.5, "OL", "end", 10, "tick"), MUTED))
    return [tag("g", {"class": "grid"}, "".join(lines))]


def _steps(times: tuple[float, ...], values: tuple[float | None, ...], along: Axis, up: Axis, ol: float,
           stop: float) -> list[Point]:
    """A display holds its value until the next update."""
    points: list[Point] = []
    for k, (t, value) in enumerate(zip(times, values, strict=False)):
        if t > stop:
            break
        y = ol if value is None else up.at(value)
        until = times[k + 1] if k + 1 < len(times) else stop
        points += [(along.at(t), y), (along.at(min(until, stop)), y)]
    return points or [(along.start, ol), (along.end, ol)]


def _band(course: Course, along: Axis, up: Axis, ol: float) -> list[str]:
    """What 99 of 100 healthy boards stay within along the way."""
    if not course.low:
        return []
    stop = along.high
    lower = _steps(course.times, course.low, along, up, ol, stop)
    upper = _steps(course.times, course.high, along, up, ol, stop)
    return [tag("path", {"class": "band band-healthy", "d": path_data([*lower, *upper[::-1]], True),
                         "fill": "#cfe3f5", "stroke": "none"})]


def sparkline(course: Course, width: int = 20) -> str:
    """The display over time in one line of a terminal, evenly spaced until it stands still; ``-`` is OL."""
    last = course.times[-1] if course.times else 0.0
    stop = course.settled_after if course.settled_after else last
    return spark([course.at(stop * k / (width - 1)) for k in range(width)])


def spark(values: Sequence[float | None]) -> str:
    """Values as blocks of different height, ``-`` for None.

    >>> spark([0.0, 1.0, 2.0, None])
    '▁▅█-'
    """
    finite = [v for v in values if v is not None]
    low, high = min(finite, default=0.0), max(finite, default=0.0)
    span = (high - low) or 1.0
    return "".join("-" if v is None else SPARKS[round((v - low) / span * (len(SPARKS) - 1))] for v in values)
