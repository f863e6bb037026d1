"""What the planner knows of a part: its pins, how much room it takes, which end belongs up."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.board.model import Part
from incircuit.draw.scene import Item
from incircuit.draw.strokes import Glyph, text_width
from incircuit.draw.symbols import glyph_of
from incircuit.units import format_value

REF, VALUE = 12.0, 11.0
"""Sizes of a reference and of a value [px]."""
UPSIDE_DOWN = 6.0
"""What a transistor on its head costs."""
MILD = 1.5
"""What any other part costs whose upper end should be up."""

UPPER: dict[str, tuple[str, str, float]] = {
    "npn": ("C", "E", UPSIDE_DOWN),
    "pnp": ("E", "C", UPSIDE_DOWN),
    "bias-transistor": ("C", "E", UPSIDE_DOWN),
    "darlington": ("C", "E", UPSIDE_DOWN),
    "nmos": ("D", "S", UPSIDE_DOWN),
    "pmos": ("S", "D", UPSIDE_DOWN),
    "igbt": ("C", "E", UPSIDE_DOWN),
    "thyristor": ("A", "K", UPSIDE_DOWN),
    "half-bridge": ("+", "-", 20.0),
    "three-phase-inverter": ("+", "-", 20.0),
    "bridge": ("+", "-", UPSIDE_DOWN),
    "three-phase-bridge": ("+", "-", 20.0),
    "zener": ("K", "A", MILD),
    "tvs": ("K", "A", MILD),
    "led": ("A", "K", MILD),
    "dual-diode": ("K", "A", MILD),
    "shunt-regulator": ("K", "A", UPSIDE_DOWN),
    "capacitor": ("+", "-", 3.0),
    "linear-regulator": ("OUT", "GND", UPSIDE_DOWN),
    "optocoupler": ("C", "E", MILD),
    "potentiometer": ("1", "3", 1.0),
    "diode": ("K", "A", 0.3),
}
"""Upper pin, lower pin, and what it costs when they stand the other way round."""


@dataclass(frozen=True, slots=True)
class Pin:
    """A pin of an upright symbol: its net, the side it leaves to, its place."""

    net: int
    side: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Body:
    """A symbol with its label as the planner sees it. `upper` and `lower` are nets, -1 for none."""

    glyph: Glyph
    pins: tuple[Pin, ...]
    turns: bool
    label: tuple[str, ...]
    label_width: float
    note_width: float
    upper: int
    lower: int
    weight: float
    over_weight: float


def value_text(part: Part) -> str:
    """The value as it is printed beside a symbol: ``10 kΩ``, ``5 A`` for a fuse, ``blown``."""
    from incircuit.board.kinds import KINDS

    spec = KINDS[part.kind]
    said = []
    if part.value is not None and spec.unit:
        said.append(plain(part.value, spec.unit))
    elif spec.value_options and (vz := part.option(spec.value_options[0])):
        said.append(vz)
    elif part.rating is not None and spec.name in ("fuse", "spark-gap"):
        said.append(plain(part.rating, spec.rating_unit))
    said += [w for w in part.words if w in ("blown", "open", "closed") and part.kind != "connector"]
    return " ".join(said)


def plain(x: float, unit: str) -> str:
    """A value without zeros that say nothing.

    >>> plain(22.0, "Ω"), plain(4700.0, "Ω"), plain(1e30, "Ω")
    ('22 Ω', '4.7 kΩ', '1e+30 Ω')
    """
    number, _, tail = format_value(x, unit).partition(" ")
    digits, e, power = number.partition("e")
    digits = digits.rstrip("0").rstrip(".") if "." in digits else digits
    return f"{digits}{e}{power} {tail}"


def body_of(item: Item, note: str = "", glyph: Glyph | None = None) -> Body:
    """A part for the planner; `note` is a further line of its label."""
    part, drawn = item.part, glyph or glyph_of(item.part)
    nets = dict(zip(part.pin_names, item.nets, strict=True))
    pins = tuple(Pin(nets[p.name], p.side, p.x, p.y) for p in drawn.pins)
    label = tuple(t for t in (part.ref, value_text(part), note) if t)
    wide = max(text_width(t, REF if k == 0 else VALUE) for k, t in enumerate(label))
    outside = label[1:] if drawn.label == "inside" else ()
    note_width = max([text_width(t, VALUE) for t in outside], default=0.0)
    wide = text_width(part.ref, REF) if outside else wide
    upper, lower, weight = _ends(part, nets)
    over = UPPER.get(part.kind, ("", "", 0.0))[2]
    turns = drawn.turns and len(set(item.nets)) == 2
    return Body(drawn, pins, turns, label, wide, note_width, upper, lower, weight,
                max(over, 8.0) if drawn.free else over)


def _ends(part: Part, nets: dict[str, int]) -> tuple[int, int, float]:
    if part.kind == "chip":
        from incircuit.draw.boxes import chip_sides

        top, bottom = chip_sides(part)
        if top and bottom:
            return nets[top[0]], nets[bottom[0]], UPSIDE_DOWN
        return -1, -1, 0.0
    up, low, weight = UPPER.get(part.kind, ("", "", 0.0))
    if part.kind == "capacitor" and {"electrolytic", "tantalum"} & set(part.words) and "1" in nets:
        up, low = "1", "2"
    if part.kind == "dual-diode":
        up = next((n for n in ("K", "K1") if n in nets), "")
        low = next((n for n in ("A", "A1") if n in nets), "")
    if up in nets and low in nets:
        return nets[up], nets[low], weight
    return -1, -1, 0.0
