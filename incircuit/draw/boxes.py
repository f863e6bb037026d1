"""Symbols with many pins: chips, modules, transformers, optocouplers, relays, connectors."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from incircuit.board.model import Part
from incircuit.draw.strokes import Circle, Glyph, PinSpot, Stroke, Text, line, moved, rectangle, text_width
from incircuit.draw.transistors import diode_up, igbt_strokes

PITCH = 16.0
"""Between pins on one side of a box [px]."""
NAME = 9.5
"""Size of a pin's name [px]."""


def _names(spots: Sequence[PinSpot]) -> tuple[Stroke, ...]:
    """Pin names inside the edge."""
    found: list[Stroke] = []
    for p in spots:
        if p.side == "W":
            found.append(Text(p.x + 3, p.y + 3.4, p.name, "start", NAME))
        elif p.side == "E":
            found.append(Text(p.x - 3, p.y + 3.4, p.name, "end", NAME))
        else:
            found.append(Text(p.x, p.y + (11 if p.side == "N" else -4), p.name, "middle", NAME))
    return tuple(found)


def box(left: Sequence[str], right: Sequence[str], top: Sequence[str] = (), bottom: Sequence[str] = (),
        inside: float = 34.0) -> tuple[float, float, tuple[PinSpot, ...]]:
    """Half width, half height and pins of a box with named pins on its sides; `inside` is kept free."""
    widest = max((text_width(n, NAME) for n in left), default=0.0)
    widest_right = max((text_width(n, NAME) for n in right), default=0.0)
    rows = sum(text_width(n, NAME) + 8 for n in top), sum(text_width(n, NAME) + 8 for n in bottom)
    half_x = max((2 * max(widest, widest_right) + inside + 8) / 2, max(rows) / 2 + 4)
    over = (13 if top else 0) + (13 if bottom else 0)
    half_y = max(max(len(left), len(right)) * PITCH + over, 34.0) / 2
    middle = (0.5 if top else -0.0) * 13 - (0.5 if bottom else 0.0) * 13
    spots: list[PinSpot] = []
    for names, side in ((left, "W"), (right, "E")):
        x = -half_x if side == "W" else half_x
        start = middle - (len(names) - 1) * PITCH / 2
        spots += [PinSpot(name, x, start + k * PITCH, side) for k, name in enumerate(names)]
    for names, side in ((top, "N"), (bottom, "S")):
        steps = [text_width(n, NAME) + 8 for n in names]
        x = -sum(steps) / 2
        for name, step in zip(names, steps, strict=True):
            spots.append(PinSpot(name, x + step / 2, -half_y if side == "N" else half_y, side))
            x += step
    return half_x, half_y, tuple(spots)


def _framed(part: Part, half_x: float, half_y: float, spots: Sequence[PinSpot], label: str,
            more: Sequence[Stroke] = (), free: bool = False, names: bool = True) -> Glyph:
    order = {name: k for k, name in enumerate(part.pin_names)}
    listed = tuple(sorted(spots, key=lambda p: order[p.name]))
    strokes = (rectangle(-half_x, -half_y, half_x, half_y), *more, *(_names(listed) if names else ()))
    return Glyph(strokes, listed, (-half_x, -half_y, half_x, half_y), label, free)


def chip_sides(part: Part) -> tuple[list[str], list[str]]:
    """Supply pins and ground pins as the board names them, first of each on top and at the bottom."""
    supply, ground = ((part.option(key) or "").split(",") for key in ("supply", "ground"))
    return ([n for n in part.pin_names if n in supply],
            [n for n in part.pin_names if n in ground and n not in supply])


def chip(part: Part, left: Sequence[str] | None = None, right: Sequence[str] | None = None) -> Glyph:
    """A box with its pins by name, supply on top and ground below; other pins left and right as given."""
    top, bottom = chip_sides(part)
    others = [n for n in part.pin_names if n not in top and n not in bottom]
    if left is None or right is None:
        left, right = others[: (len(others) + 1) // 2], others[(len(others) + 1) // 2:]
    half_x, half_y, spots = box(left, right, top, bottom, text_width(part.ref, 12) + 10)
    return _framed(part, half_x, half_y, spots, "inside", free=True)


def connector(part: Part, left: Sequence[str] | None = None, right: Sequence[str] | None = None) -> Glyph:
    """A narrow box, its pins on one side."""
    if left is None or right is None:
        left, right = [], list(part.pin_names)
    half_x, half_y, spots = box(left, right, inside=0.0 if not (left and right) else 6.0)
    widest = max(text_width(n, NAME) for n in part.pin_names)
    half_x = (widest + 12) / 2 if not (left and right) else half_x
    half_y = max(len(left), len(right)) * PITCH / 2
    spots = tuple(PinSpot(p.name, half_x if p.side == "E" else -half_x, p.y, p.side) for p in spots)
    return _framed(part, half_x, half_y, spots, "above", free=True)


def regulator(part: Part) -> Glyph:
    """IN on the left, OUT on the right, GND below."""
    half_x, half_y, spots = box(["IN"], ["OUT"], (), ["GND"], 12)
    return _framed(part, half_x, half_y, spots, "above")


def optocoupler(part: Part) -> Glyph:
    """The LED on the left, the transistor on the right, light between."""
    from incircuit.draw.shapes import arrow

    half_x, half_y = 34.0, 28.0
    led = (line((-34, -16), (-18, -16), (-18, -6)), line((-18, 6), (-18, 16), (-34, 16)),
           line((-24, -6), (-12, -6), (-18, 5), closed=True), line((-24, 5), (-12, 5)))
    light = (line((-9, -5), (0, -1)), arrow((-9, -5), (0, -1), 5, 5),
             line((-9, 3), (0, 7)), arrow((-9, 3), (0, 7), 5, 5))
    transistor = (line((7, -10), (7, 10)), line((7, -4), (20, -16), (34, -16)),
                  line((7, 4), (20, 16), (34, 16)), arrow((7, 4), (18, 14.2), 7, 6))
    spots = [PinSpot("A", -34, -16, "W"), PinSpot("K", -34, 16, "W"), PinSpot("C", 34, -16, "E"),
             PinSpot("E", 34, 16, "E")]
    base: tuple[Stroke, ...] = ()
    if "B" in part.pin_names:
        spots.append(PinSpot("B", 34, 0, "E"))
        base = (line((7, 0), (34, 0)),)
    return _framed(part, half_x, half_y, spots, "above", (*led, *light, *transistor, *base), names=False)


def rectifier(part: Part) -> Glyph:
    """Three phases on the left, + above, - below, a diode inside."""
    names = [n for n in part.pin_names if n.startswith("AC")]
    half_x, half_y, spots = box(names, [], ["+"], ["-"], 22)
    inside = moved(diode_up(0, 12, 6), 14, 0)
    return _framed(part, half_x, half_y, spots, "corner", inside)


def _leg(x: float, y: float) -> tuple[Stroke, ...]:
    strokes, gate = igbt_strokes(True)
    return (*moved(strokes, x, y), line((gate[0] + x - 6, gate[1] + y), (gate[0] + x, gate[1] + y)))


def half_bridge(part: Part) -> Glyph:
    """Two switches above each other, the output between them."""
    legs = (*_leg(6, -30), *_leg(6, 30), line((6, -56), (6, -64)), line((6, 56), (6, 64)),
            line((6, -4), (6, 4)), line((6, 0), (46, 0)))
    names = part.pin_names
    spots = [PinSpot("+", 6, -64, "N"), PinSpot("-", 6, 64, "S"), PinSpot("OUT", 46, 0, "E")]
    for name, y in (("GH", -20.0), ("EH", -4.0), ("GL", 40.0)):
        if name in names:
            spots.append(PinSpot(name, -46, y, "W"))
    marked = tuple(s for s in _names([p for p in spots if p.side == "W"]))
    return _framed(part, 46, 64, spots, "corner", (*legs, *marked), names=False)


def inverter(part: Part) -> Glyph:
    """Six switches in one box, sketched as one leg of three; outputs on the right, gates on the left."""
    names = part.pin_names
    gates = [n for n in names if n.startswith("G")]
    lower = [n for n in names if n == "-" or n.startswith("N")]
    half_x, half_y, spots = box(gates, ["U", "V", "W"], ["+"], lower, 74)
    half_y = max(half_y, 66)
    spots = tuple(PinSpot(p.name, p.x, {"N": -half_y, "S": half_y}.get(p.side, p.y), p.side) for p in spots)
    legs = (*_leg(6, -24), *_leg(6, 24), line((6, 2), (6, -2)), Text(32, -34, "×3", "start", 11))
    return _framed(part, half_x, half_y, spots, "corner", legs)


def windings(part: Part) -> list[list[str]]:
    """Pins of each winding: names that agree but for their number."""
    keyed = sorted(part.pin_names, key=lambda n: n.rstrip("0123456789"))
    groups = [list(g) for _, g in groupby(keyed, key=lambda n: n.rstrip("0123456789"))]
    first = {name: k for k, name in enumerate(part.pin_names)}
    return sorted(groups, key=lambda g: min(first[n] for n in g))


def transformer(part: Part) -> Glyph:
    """Windings on both sides of a core: the first on the left, with all others that are no secondary (S…)."""
    from incircuit.draw.symbols import winding

    groups = windings(part)
    left = [g for k, g in enumerate(groups)
            if k == 0 or (len(groups) > 2 and not g[0].upper().startswith("S"))]
    right = [g for g in groups if g not in left] or [left.pop()]
    heights = [sum(24.0 * max(len(g) - 1, 1) + 14 for g in side) - 14 for side in (left, right)]
    half = max(heights) / 2 + 4
    strokes: list[Stroke] = [line((-3, -half), (-3, half)), line((3, -half), (3, half))]
    spots: list[PinSpot] = []
    for side, sign in ((left, -1.0), (right, 1.0)):
        y = -(sum(24.0 * max(len(g) - 1, 1) + 14 for g in side) - 14) / 2
        for group in side:
            tall = 24.0 * max(len(group) - 1, 1)
            turns = 2 * max(len(group) - 1, 1)
            strokes += moved(winding(turns, 6.0), sign * 16, y + tall / 2, sx=-sign)
            strokes.append(Circle(sign * 22, y + 5, 1.8, "solid"))
            for k, name in enumerate(group):
                at = y + 24.0 * k
                strokes.append(line((sign * 16, at), (sign * 30, at)))
                strokes.append(Text(sign * 30, at - 2.5, name, "start" if sign < 0 else "end", 8.5))
                spots.append(PinSpot(name, sign * 30, at, "W" if sign < 0 else "E"))
            y += tall + 14
    order = {name: k for k, name in enumerate(part.pin_names)}
    return Glyph(tuple(strokes), tuple(sorted(spots, key=lambda p: order[p.name])),
                 (-30, -half - 6, 30, half), "above")


def relay(part: Part) -> Glyph:
    """Coil on the left, the contact at rest on the right, joined by the dashed line of the armature."""
    spots = [PinSpot("A1", -22, -20, "N"), PinSpot("A2", -22, 20, "S")]
    strokes: list[Stroke] = [line((-22, -20), (-22, -8)), line((-22, 8), (-22, 20)),
                             rectangle(-34, -8, -10, 8), line((-28, 8), (-16, -8))]
    names = set(part.pin_names)
    if names & {"COM", "NO", "NC"}:
        tip = (12.0, -9.0) if "NC" not in names else (24.0, -11.0)
        strokes += [line((18, 20), (18, 11), tip), line((-10, 0), (16, 0), dashed=True)]
    if "COM" in names:
        spots.append(PinSpot("COM", 18, 20, "S"))
    if "NC" in names:
        spots.append(PinSpot("NC", 24, -20, "N"))
        strokes.append(line((24, -20), (24, -12), (18, -12)))
    if "NO" in names:
        x = 18.0 if "NC" not in names else 8.0
        spots.append(PinSpot("NO", x, -20, "N"))
        strokes.append(line((x, -20), (x, -12)))
    order = {name: k for k, name in enumerate(part.pin_names)}
    return Glyph(tuple(strokes), tuple(sorted(spots, key=lambda p: order[p.name])), (-34, -20, 26, 20))
