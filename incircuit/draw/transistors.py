"""Symbols of transistors: base or gate on the left, the main current down the line through the origin."""

from __future__ import annotations

from incircuit.board.model import Part
from incircuit.draw.shapes import anchor, arrow, shape
from incircuit.draw.strokes import Circle, Glyph, Line, PinSpot, Stroke, line, mapped, moved, rectangle

REACH = 26.0
"""From the middle of a transistor to its upper and lower pin [px]."""


def _scaled(strokes: tuple[Stroke, ...], by: float, dx: float, dy: float) -> tuple[Stroke, ...]:
    found: list[Stroke] = []
    for s in strokes:
        if isinstance(s, Line):
            found.append(Line(tuple((x * by + dx, y * by + dy) for x, y in s.points), s.closed, s.fill,
                              s.dashed, s.bold))
        elif isinstance(s, Circle):
            found.append(Circle(s.x * by + dx, s.y * by + dy, s.r * by, s.fill))
    return tuple(found)


def _tails(half: float, reach: float = REACH) -> tuple[Stroke, ...]:
    """The main line from the library's short pins out to ours."""
    return line((0, -half), (0, -reach)), line((0, half), (0, reach))


def _bjt(npn: bool) -> tuple[tuple[Stroke, ...], float, float]:
    """Strokes about the main line, the base's x, and half the height."""
    name = "BjtNpn" if npn else "BjtPnp"
    x, y = anchor(name, "collector")
    return moved(shape(name), -x, 0), -x, abs(y)


def _is_npn(part: Part) -> bool:
    return part.kind == "npn" or (part.kind != "pnp" and "pnp" not in part.words)


def _spots(part: Part, npn: bool, base: tuple[float, float], reach: float = REACH) -> tuple[PinSpot, ...]:
    top, bottom = ("C", "E") if npn else ("E", "C")
    spots = {top: PinSpot(top, 0, -reach, "N"), bottom: PinSpot(bottom, 0, reach, "S"),
             "B": PinSpot("B", *base, "W")}
    return tuple(spots[name] for name in part.pin_names)


def bipolar(part: Part) -> Glyph:
    """NPN or PNP; the emitter of a PNP is on top."""
    npn = _is_npn(part)
    strokes, base, half = _bjt(npn)
    return Glyph((*strokes, *_tails(half)), _spots(part, npn, (base, 0)), (base, -REACH, 4, REACH))


def darlington(part: Part) -> Glyph:
    """Two transistors, the first one's emitter on the second one's base."""
    npn = _is_npn(part)
    big, base, half = _bjt(npn)
    by = 0.62
    side = -1.0 if npn else 1.0  # the first transistor sits towards the collectors
    dx, dy = base, side * half * by
    small = _scaled(big, by, dx, dy)
    rise = dy + side * half * by
    collect = line((dx, rise), (0, rise))
    first = base * by + dx
    strokes = (*big, *small, collect, *_tails(half, 34))
    return Glyph(strokes, _spots(part, npn, (first, dy), 34), (first, -34, 4, 34))


def bias(part: Part) -> Glyph:
    """A transistor with a resistor before its base and one from base to emitter, framed."""
    npn = _is_npn(part)
    strokes, base, half = _bjt(npn)
    sign = 1.0 if npn else -1.0
    ends = sorted((sign * 5, sign * 19))
    inside = (rectangle(base - 22, -4, base - 6, 4), line((base - 6, 0), (base, 0)),
              line((base - 28, 0), (base - 22, 0)),
              line((base - 1, 0), (base - 1, sign * 5)), rectangle(base - 5, ends[0], base + 3, ends[1]),
              line((base - 1, sign * 19), (base - 1, sign * half), (0, sign * half)))
    frame = rectangle(base - 28, -REACH, 8, REACH, "paper")
    return Glyph((frame, *strokes, *_tails(half), *inside), _spots(part, npn, (base - 28, 0)),
                 (base - 28, -REACH, 8, REACH))


def diode_up(x: float, half: float, size: float = 5.0) -> tuple[Stroke, ...]:
    """A diode conducting upwards at x, wired to the main line above and below."""
    return (line((0, -half), (x, -half), (x, -size)), line((x, size), (x, half), (0, half)),
            line((x - size, size), (x + size, size), (x, -size), closed=True),
            line((x - size, -size), (x + size, -size)))


def igbt_strokes(freewheel: bool) -> tuple[tuple[Stroke, ...], tuple[float, float]]:
    """An insulated-gate transistor about the main line, and where its gate is."""
    x, y = anchor("IgbtN", "collector")
    gate = anchor("IgbtN", "base")
    strokes = moved(shape("IgbtN"), -x, 0)
    diode = diode_up(14, abs(y) - 1) if freewheel else ()
    return (*strokes, *_tails(abs(y)), *diode), (gate[0] - x, gate[1])


def igbt(part: Part) -> Glyph:
    """With its freewheel diode unless there is none."""
    freewheel = part.option("freewheel") != "none"
    strokes, gate = igbt_strokes(freewheel)
    spots = {"C": PinSpot("C", 0, -REACH, "N"), "E": PinSpot("E", 0, REACH, "S"),
             "G": PinSpot("G", *gate, "W")}
    return Glyph(strokes, tuple(spots[n] for n in part.pin_names),
                 (gate[0], -REACH, 19 if freewheel else 4, REACH))


def mos(part: Part) -> Glyph:
    """With its body diode; the source of a p-channel part is on top."""
    channel = [line((-9, y - 4), (-9, y + 4)) for y in (-10, 0, 10)]
    stem = (line((-14, 12), (-14, -12)), line((-24, 10), (-14, 10)),
            line((-9, -10), (0, -10), (0, -REACH)), line((-9, 10), (0, 10), (0, REACH)),
            line((-9, 0), (0, 0), (0, 10)))
    head = arrow((0, 0), (-8, 0), 7) if part.kind == "nmos" else arrow((-9, 0), (-1, 0), 7)
    upright: tuple[Stroke, ...] = (*channel, *stem, *diode_up(13, 19))
    if part.kind == "pmos":  # source and substrate on top: turn all but the arrow and the diode over
        upright = tuple(mapped(s, 1.0, -1.0) for s in (*channel, *stem)) + tuple(diode_up(13, 19))
    gate_y = 10.0 if part.kind == "nmos" else -10.0
    top, bottom = ("D", "S") if part.kind == "nmos" else ("S", "D")
    spots = {top: PinSpot(top, 0, -REACH, "N"), bottom: PinSpot(bottom, 0, REACH, "S"),
             "G": PinSpot("G", -24, gate_y, "W")}
    return Glyph((*upright, head), tuple(spots[n] for n in part.pin_names), (-24, -REACH, 18, REACH))
