"""The symbol of every kind of part, after IEC 60617 (shapes from memory and the drawing library).

A symbol stands upright with its main current from top to bottom; pins that steer enter from the left.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from incircuit.board.kinds import KINDS
from incircuit.board.model import Part
from incircuit.draw import boxes
from incircuit.draw.shapes import SCALE, shape
from incircuit.draw.strokes import (
    Circle,
    Glyph,
    Line,
    PinSpot,
    Stroke,
    Text,
    line,
    mapped,
    moved,
    rectangle,
    text_width,
)
from incircuit.draw.transistors import bias, bipolar, darlington, igbt, mos

TIGHT = 17.0
"""Half the length of a resistor [px]."""


def extent(strokes: Sequence[Stroke]) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of some strokes."""
    xs: list[float] = []
    ys: list[float] = []
    for s in strokes:
        if isinstance(s, Line):
            xs += [x for x, _ in s.points]
            ys += [y for _, y in s.points]
        elif isinstance(s, Circle):
            xs += [s.x - s.r, s.x + s.r]
            ys += [s.y - s.r, s.y + s.r]
        else:
            wide = text_width(s.text, s.size)
            left = s.x - {"middle": wide / 2, "end": wide}.get(s.anchor, 0.0)
            xs += [left, left + wide]
            ys += [s.y - 0.8 * s.size, s.y]
    return min(xs), min(ys), max(xs), max(ys)


def down(name: str, length: float, **options: object) -> tuple[Stroke, ...]:
    """A library symbol of two pins, turned to run down the page, its middle at the origin."""
    half = length * SCALE / 2
    turned = (mapped(s, 1.0, 1.0, turned=True) for s in shape(name, **options))
    return tuple(mapped(s, -1.0, -1.0, 0.0, -half) for s in turned)


def inline(part: Part, strokes: Sequence[Stroke], half: float | None = None) -> Glyph:
    """A two-pin symbol on the main line, the part's first pin on top."""
    left, top, right, bottom = extent(strokes)
    reach = half if half is not None else max(-top, bottom)
    first, second = part.pin_names
    return Glyph(tuple(strokes), (PinSpot(first, 0, -reach, "N"), PinSpot(second, 0, reach, "S")),
                 (left, min(top, -reach), right, max(bottom, reach)))


def _resistor(part: Part) -> Glyph:
    return inline(part, down("ResistorIEC", 1.0))


def _fuse(part: Part) -> Glyph:
    if "blown" in part.words or "open" in part.words:
        box = rectangle(-8.5, -TIGHT, 8.5, TIGHT)
        return inline(part, (box, line((0, -TIGHT), (0, -5)), line((0, 5), (0, TIGHT)),
                             line((-4, -4), (4, 4)), line((-4, 4), (4, -4))))
    return inline(part, (*down("ResistorIEC", 1.0), line((0, -TIGHT), (0, TIGHT))))


def _jumper(part: Part) -> Glyph:
    rings = (Circle(0, -8, 3, "paper"), Circle(0, 8, 3, "paper"))
    cap = rectangle(-6, -14, 6, 14, "none", dashed=True)
    bar = line((0, -5), (0, 5)) if "open" not in part.words else line((0, 5), (-7, -7))
    return inline(part, (line((0, -14), (0, -11)), line((0, 11), (0, 14)), cap, *rings, bar), 14)


def _link(part: Part) -> Glyph:
    rings = (Circle(0, -9, 3, "paper"), Circle(0, 9, 3, "paper"))
    return inline(part, (*rings, line((0, -6), (0, 6), bold=True)), 12)


def _thermistor(part: Part) -> Glyph:
    sign = "+t°" if "ptc" in part.words else "−t°"
    slash = (line((-14, 17), (-14, 10), (14, -13)),)
    return inline(part, (*down("ResistorIEC", 1.0), *slash, Text(-17, 5, sign, "end", 9)))


def _varistor(part: Part) -> Glyph:
    slash = (line((-14, 17), (-14, 10), (14, -13)),)
    return inline(part, (*down("ResistorIEC", 1.0), *slash, Text(-17, 5, "U", "end", 10)))


def _potentiometer(part: Part) -> Glyph:
    from incircuit.draw.shapes import arrow

    strokes = (*down("ResistorIEC", 1.0), line((-22, 0), (-12, 0)), arrow((-22, 0), (-8.5, 0)))
    spots = {"1": PinSpot("1", 0, -TIGHT, "N"), "3": PinSpot("3", 0, TIGHT, "S"),
             "W": PinSpot("W", -22, 0, "W")}
    return Glyph(strokes, tuple(spots[name] for name in part.pin_names), (-22, -TIGHT, 8.5, TIGHT))


def _capacitor(part: Part) -> Glyph:
    plates = (line((-11, -3), (11, -3)), line((-11, 3), (11, 3)))
    if part.pin_names == ("-", "+"):
        return inline(part, (*plates, *_cross(-8, 9)), 3)
    polar = part.pin_names == ("+", "-") or {"electrolytic", "tantalum"} & set(part.words)
    return inline(part, (*plates, *(_cross(-8, -9) if polar else ())), 3)


def _cross(x: float, y: float) -> tuple[Stroke, ...]:
    """A plus sign drawn, not written: no font needed."""
    return line((x - 3, y), (x + 3, y)), line((x, y - 3), (x, y + 3))


def _crystal(part: Part) -> Glyph:
    return inline(part, down("Crystal", 0.4))


def winding(turns: int = 4, r: float = 5.0) -> tuple[Stroke, ...]:
    """Half circles down the page, bulging to the right, the middle at the origin."""
    from math import cos, pi, sin

    top = -turns * r
    points = [(0.0, top)]
    for k in range(turns):
        middle = top + (2 * k + 1) * r
        points += [(r * sin(pi * j / 8), middle - r * cos(pi * j / 8)) for j in range(1, 9)]
    return (Line(tuple(points)),)


def _inductor(part: Part) -> Glyph:
    return inline(part, winding())


def _choke(part: Part) -> Glyph:
    coils = (*moved(winding(), -14, 0), *moved(winding(), 14, 0, sx=-1))
    core = (line((-3, -20), (-3, 20)), line((3, -20), (3, 20)))
    dots = (Circle(-19, -15, 1.8, "solid"), Circle(19, -15, 1.8, "solid"))
    spots = {"A1": PinSpot("A1", -14, -20, "N"), "A2": PinSpot("A2", -14, 20, "S"),
             "B1": PinSpot("B1", 14, -20, "N"), "B2": PinSpot("B2", 14, 20, "S")}
    return Glyph((*coils, *core, *dots), tuple(spots[n] for n in part.pin_names), (-21, -20, 21, 20))


def _motor(part: Part) -> Glyph:
    body = (Circle(0, 0, 17, "paper"), Text(0, 5, "M", size=14))
    if len(part.pins) == 2:
        return inline(part, body)
    spots = tuple(PinSpot(name, x, y, "N") for name, x, y in zip(
        part.pin_names, (-13.0, 0.0, 13.0), (-11.0, -17.0, -11.0), strict=True))
    return Glyph(body, spots, (-17, -17, 17, 17))


DIODE = 0.35 * SCALE / 2
"""Half the height of a diode's triangle [px]."""


def _diode_shape(part: Part) -> str:
    if part.kind == "zener" or (part.kind == "tvs" and "bidirectional" not in part.words):
        return "Zener"
    return "Schottky" if "schottky" in part.words else "Diode"


def _diode(part: Part) -> Glyph:
    return _anode_up(part, down(_diode_shape(part), 0.35))


def _anode_up(part: Part, strokes: Sequence[Stroke], half: float = DIODE) -> Glyph:
    """A diode with its anode on top, whatever order its pins were typed in."""
    left, top, right, bottom = extent(strokes)
    spots = {"A": PinSpot("A", 0, -half, "N"), "K": PinSpot("K", 0, half, "S")}
    return Glyph(tuple(strokes), tuple(spots[n] for n in part.pin_names),
                 (left, min(top, -half), right, max(bottom, half)))


def _tvs(part: Part) -> Glyph:
    if "bidirectional" in part.words:
        return _anode_up(part, down("DiodeTVS", 0.7), 2 * DIODE)
    return _diode(part)


def _led(part: Part) -> Glyph:
    return _anode_up(part, down("LED", 0.35))


def _dual(part: Part) -> Glyph:
    one = down(_diode_shape(part), 0.35)
    names = set(part.pin_names)
    if {"A1", "A2"} <= names:
        strokes = (*moved(one, -13, 0), *moved(one, 13, 0),
                   line((-13, DIODE), (-13, 14), (13, 14), (13, DIODE)))
        spots = {"A1": PinSpot("A1", -13, -DIODE, "N"), "A2": PinSpot("A2", 13, -DIODE, "N"),
                 "K": PinSpot("K", 0, 14, "S")}
        box = (-22.0, -DIODE, 22.0, 14.0)
    elif {"K1", "K2"} <= names:
        strokes = (*moved(one, -13, 0), *moved(one, 13, 0),
                   line((-13, -DIODE), (-13, -14), (13, -14), (13, -DIODE)))
        spots = {"K1": PinSpot("K1", -13, DIODE, "S"), "K2": PinSpot("K2", 13, DIODE, "S"),
                 "A": PinSpot("A", 0, -14, "N")}
        box = (-22.0, -14.0, 22.0, DIODE)
    else:
        strokes = (*moved(one, 0, -14), *moved(one, 0, 14), line((0, DIODE - 14), (0, 14 - DIODE)),
                   line((0, 0), (-12, 0)))
        spots = {"A": PinSpot("A", 0, -14 - DIODE, "N"), "M": PinSpot("M", -12, 0, "W"),
                 "K": PinSpot("K", 0, 14 + DIODE, "S")}
        box = (-12.0, -14 - DIODE, 10.0, 14 + DIODE)
    return Glyph(strokes, tuple(spots[n] for n in part.pin_names), box)


def _bridge(part: Part) -> Glyph:
    frame = line((0, -26), (26, 0), (0, 26), (-26, 0), closed=True, fill="paper")
    one = moved(down("Diode", 0.35), 0, 0, sy=-1)
    inside = (line((0, 15), (0, DIODE)), line((0, -DIODE), (0, -15)))
    marks = (Text(-16, 3.5, "~", size=11), Text(16, 3.5, "~", size=11), *_cross(8, -26),
             line((5, 26), (11, 26)))
    spots = {"+": PinSpot("+", 0, -26, "N"), "-": PinSpot("-", 0, 26, "S"),
             "AC1": PinSpot("AC1", -26, 0, "W"), "AC2": PinSpot("AC2", 26, 0, "E")}
    return Glyph((frame, *one, *inside, *marks), tuple(spots[n] for n in part.pin_names), (-26, -29, 26, 29),
                 "corner")


def _thyristor(part: Part) -> Glyph:
    strokes = down("SCR", 0.35)
    spots = {"A": PinSpot("A", 0, -DIODE, "N"), "K": PinSpot("K", 0, DIODE, "S"),
             "G": PinSpot("G", -17, 0.65 * SCALE - DIODE, "W")}
    return Glyph(strokes, tuple(spots[n] for n in part.pin_names), (-17, -DIODE, 9, 17))


def _triac(part: Part) -> Glyph:
    strokes = tuple(mapped(s, -1.0, 1.0) for s in down("Triac", 0.35))
    spots = {"MT2": PinSpot("MT2", 0, -DIODE, "N"), "MT1": PinSpot("MT1", 0, DIODE, "S"),
             "G": PinSpot("G", -17, 0.85 * SCALE - DIODE, "W")}
    return Glyph(strokes, tuple(spots[n] for n in part.pin_names), (-17, -DIODE - 1, 17, 23))


def _diac(part: Part) -> Glyph:
    return inline(part, down("Diac", 0.35))


def _spark_gap(part: Part) -> Glyph:
    """Two arrowheads that face each other (IEC 60617-7, from memory)."""
    tips = (line((0, -TIGHT), (0, -10)), line((-6, -10), (6, -10), (0, -3), closed=True, fill="solid"),
            line((0, TIGHT), (0, 10)), line((-6, 10), (6, 10), (0, 3), closed=True, fill="solid"))
    return inline(part, tips, TIGHT)


def _shunt_regulator(part: Part) -> Glyph:
    one = moved(down("Zener", 0.35), 0, 0, sy=-1)
    strokes = (*one, line((-16, 0), (-4.5, 0)))
    spots = {"K": PinSpot("K", 0, -DIODE, "N"), "A": PinSpot("A", 0, DIODE, "S"),
             "REF": PinSpot("REF", -16, 0, "W")}
    return Glyph(strokes, tuple(spots[n] for n in part.pin_names), (-16, -DIODE - 3, 12, DIODE + 3))


def _switch(part: Part) -> Glyph:
    if "closed" in part.words:
        strokes: tuple[Stroke, ...] = (Circle(0, -13, 3, "paper"), Circle(0, 13, 3, "paper"),
                                       line((3, 13), (3, -15)))
    else:
        strokes = (Circle(0, -13, 3, "paper"), Circle(0, 13, 3, "paper"), line((-1, 10), (-12, -11)))
    return inline(part, strokes, 16)


SYMBOLS: Mapping[str, Callable[[Part], Glyph]] = MappingProxyType({
    "resistor": _resistor, "fuse": _fuse, "jumper": _jumper, "link": _link, "shunt": _resistor,
    "thermistor": _thermistor, "varistor": _varistor, "potentiometer": _potentiometer,
    "capacitor": _capacitor, "crystal": _crystal, "inductor": _inductor, "choke": _choke,
    "transformer": boxes.transformer, "relay": boxes.relay, "motor-winding": _motor,
    "diode": _diode, "dual-diode": _dual, "bridge": _bridge, "three-phase-bridge": boxes.rectifier,
    "zener": _diode, "tvs": _tvs, "led": _led, "thyristor": _thyristor, "triac": _triac,
    "diac": _diac, "spark-gap": _spark_gap,
    "npn": bipolar, "pnp": bipolar, "darlington": darlington, "bias-transistor": bias,
    "nmos": mos, "pmos": mos, "igbt": igbt, "half-bridge": boxes.half_bridge,
    "three-phase-inverter": boxes.inverter, "optocoupler": boxes.optocoupler,
    "shunt-regulator": _shunt_regulator, "linear-regulator": boxes.regulator, "switch": _switch,
    "connector": boxes.connector, "chip": boxes.chip,
})
"""The symbol of a part by its kind; every kind of `incircuit.board.kinds` has one."""


def glyph_of(part: Part) -> Glyph:
    """The symbol of a part, upright."""
    return SYMBOLS[KINDS[part.kind].name](part)
