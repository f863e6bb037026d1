"""What symbols are made of: lines, circles and texts in pixels, x to the right and y down the page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Line:
    """A polyline. `fill`: ``none``, ``paper`` (hides what is behind) or ``solid``."""

    points: tuple[Point, ...]
    closed: bool = False
    fill: str = "none"
    dashed: bool = False
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle of radius `r` about (x, y)."""

    x: float
    y: float
    r: float
    fill: str = "none"


@dataclass(frozen=True, slots=True)
class Text:
    """Text on the baseline y; `anchor` is ``start``, ``middle`` or ``end``; `size` in pixels."""

    x: float
    y: float
    text: str
    anchor: str = "middle"
    size: float = 10.0
    style: str = "pin"


Stroke = Line | Circle | Text


@dataclass(frozen=True, slots=True)
class PinSpot:
    """Where a wire meets the symbol: at (x, y), leaving it to the `side` N, S, W or E."""

    name: str
    x: float
    y: float
    side: str


@dataclass(frozen=True, slots=True)
class Glyph:
    """A symbol upright, about its own origin.

    `box` is (left, top, right, bottom) of the body without wires; `label` says where reference and
    value go: ``right`` of the body, or ``above`` it. `free` sides may have their pins in any order
    and on either side: a chip's. `turns` marks two-pin symbols that may lie on their side.
    """

    strokes: tuple[Stroke, ...]
    pins: tuple[PinSpot, ...]
    box: tuple[float, float, float, float]
    label: str = "right"
    free: bool = False

    @property
    def turns(self) -> bool:
        """Whether it has two pins in line and can be drawn in a horizontal wire."""
        return len(self.pins) == 2 and {p.side for p in self.pins} == {"N", "S"} and all(
            p.x == 0 for p in self.pins)


def mapped(stroke: Stroke, sx: float, sy: float, dx: float = 0.0, dy: float = 0.0,
           turned: bool = False) -> Stroke:
    """The stroke mirrored by the signs, a quarter turn first where `turned`, and moved."""

    def at(x: float, y: float) -> Point:
        if turned:
            x, y = y, -x
        return sx * x + dx, sy * y + dy

    match stroke:
        case Line():
            return replace(stroke, points=tuple(at(*p) for p in stroke.points))
        case Circle():
            x, y = at(stroke.x, stroke.y)
            return replace(stroke, x=x, y=y)
        case Text():
            x, y = at(stroke.x, stroke.y - 0.35 * stroke.size)  # its middle moves, it stays upright
            anchor = {"start": "end", "end": "start"}.get(stroke.anchor, stroke.anchor)
            return replace(stroke, x=x, y=y + 0.35 * stroke.size, anchor=anchor if sx < 0 else stroke.anchor)


def flipped(glyph: Glyph, across: bool = False, over: bool = False) -> Glyph:
    """The symbol mirrored left to right (`across`) or upside down (`over`)."""
    sx, sy = -1.0 if across else 1.0, -1.0 if over else 1.0
    swap = {"W": "E", "E": "W"} if across else {}
    swap |= {"N": "S", "S": "N"} if over else {}
    left, top, right, bottom = glyph.box
    if across:
        left, right = -right, -left
    if over:
        top, bottom = -bottom, -top
    return replace(
        glyph, strokes=tuple(mapped(s, sx, sy) for s in glyph.strokes), box=(left, top, right, bottom),
        pins=tuple(PinSpot(p.name, sx * p.x, sy * p.y, swap.get(p.side, p.side)) for p in glyph.pins))


def line(*points: Point, closed: bool = False, fill: str = "none", dashed: bool = False,
         bold: bool = False) -> Line:
    """A polyline through points."""
    return Line(points, closed, fill, dashed, bold)


def rectangle(left: float, top: float, right: float, bottom: float, fill: str = "paper",
              dashed: bool = False) -> Line:
    """A rectangle by its edges."""
    return Line(((left, top), (right, top), (right, bottom), (left, bottom)), True, fill, dashed)


def moved(strokes: Iterable[Stroke], dx: float, dy: float, sx: float = 1.0,
          sy: float = 1.0) -> tuple[Stroke, ...]:
    """Strokes mirrored by the signs, then moved."""
    return tuple(mapped(s, sx, sy, dx, dy) for s in strokes)


def text_width(text: str, size: float) -> float:
    """Width [px] a text takes at most in the usual sans-serif fonts, a little on the safe side.

    >>> text_width("GATE", 12) > text_width("ill", 12) > 0
    True
    """
    import unicodedata

    total = 0.0
    for c in text:
        if unicodedata.combining(c):
            continue
        if unicodedata.east_asian_width(c) in "WF":
            total += 1.05
        elif c in "iljI.,:;'|!()[] tfr/\\":
            total += 0.36
        elif c in "mwMW@%ΩOQG—":
            total += 0.88
        elif c.isupper() or c in "+=<>~±":
            total += 0.7
        else:
            total += 0.6
    return total * size
