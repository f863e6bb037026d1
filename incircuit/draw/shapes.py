"""Symbols of the drawing library as strokes of ours: its shapes, our places and sizes."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

from incircuit.draw.strokes import Circle, Line, Point, Stroke

SCALE = 34.0
"""Pixels per unit of the library: its resistor is one unit long."""
_SOLID_ARROW = (5.5, 9.0)
"""Half width is the first over two, length the second [px]."""


@lru_cache(maxsize=64)
def shape(name: str, **options: Any) -> tuple[Stroke, ...]:
    """Strokes of a library symbol, in its own orientation, origin at its first point, y down."""
    import schemdraw.elements as library

    element = getattr(library, name)(**options)
    found: list[Stroke] = []
    for segment in element.segments:
        kind = type(segment).__name__
        if kind == "SegmentCircle":
            x, y = segment.center
            found.append(Circle(x * SCALE, -y * SCALE, segment.radius * SCALE,
                                "paper" if segment.fill else "none"))
        elif kind == "SegmentPoly":
            found.append(Line(tuple((x * SCALE, -y * SCALE) for x, y in segment.verts), True))
        elif kind == "Segment":
            pieces = _pieces(segment.path)
            found += [Line(piece) for piece in pieces]
            if segment.arrow and pieces:
                ends = pieces[0][:2] if segment.arrow == "<-" else pieces[-1][:-3:-1]
                found.append(arrow(ends[1], ends[0]))
    return tuple(found)


def anchor(name: str, spot: str, **options: Any) -> Point:
    """A named point of a library symbol."""
    import schemdraw.elements as library

    x, y = getattr(library, name)(**options).anchors[spot]
    return x * SCALE, -y * SCALE


def arrow(tail: Point, tip: Point, length: float = _SOLID_ARROW[1], width: float = _SOLID_ARROW[0]) -> Line:
    """A solid arrow head at `tip`."""
    dx, dy = tip[0] - tail[0], tip[1] - tail[1]
    reach = math.hypot(dx, dy) or 1.0
    ux, uy = dx / reach, dy / reach
    bx, by = tip[0] - ux * length, tip[1] - uy * length
    half = width / 2
    return Line((tip, (bx - uy * half, by + ux * half), (bx + uy * half, by - ux * half)), True, "solid")


def _pieces(path: Any) -> list[tuple[Point, ...]]:
    """A path cut where the library leaves a gap; lone points drop out."""
    pieces: list[list[Point]] = [[]]
    for x, y in path:
        if math.isnan(x):
            pieces.append([])
        else:
            pieces[-1].append((x * SCALE, -y * SCALE))
    return [tuple(p) for p in pieces if len(set(p)) > 1]
