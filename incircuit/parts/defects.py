"""What can be wrong with a part: every single defect, with its share of the part's failures."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from incircuit.board.kinds import kind_named
from incircuit.board.model import Part
from incircuit.parts.data import Row, row
from incircuit.parts.elements import Capacitance, Element, Junction, Resistance, nodes_of
from incircuit.parts.priors import raw_shares
from incircuit.parts.structure import (
    between,
    node_fields,
    ordered,
    pairs_joined,
    pin_at,
    pins_of,
    skeleton,
)

WORDS = ("open", "short", "leaky", "drifted", "dried", "high-esr", "reversed", "missing", "wrong-value")
"""Every word for a defect, in the order they are listed."""

_CONTACTS = frozenset({"fuse", "jumper", "link", "switch", "relay"})
_VALUED = frozenset({"resistor", "shunt", "thermistor", "potentiometer", "capacitor"})
_DRIFTING = _VALUED | _CONTACTS | {"inductor", "choke", "transformer", "motor-winding"}
_SINGLE_PATHS = frozenset({"dual-diode", "bridge", "three-phase-bridge", "half-bridge",
                           "three-phase-inverter", "igbt", "nmos", "pmos", "choke", "transformer", "relay",
                           "motor-winding", "potentiometer"})
"""Kinds in which one path between two pins can open while both pins keep their others."""
_ALIKE_PAIRS = frozenset({"dual-diode", "choke", "transformer", "motor-winding", "optocoupler",
                          "potentiometer"})
"""Kinds of several pairs of which none carries the power more than another."""
_TURNABLE = frozenset({"npn", "pnp", "darlington", "bias-transistor", "nmos", "pmos", "igbt", "thyristor",
                       "triac", "shunt-regulator", "linear-regulator", "dual-diode"})


@dataclass(frozen=True, slots=True)
class Magnitude:
    """How large a defect is, where that is unknown: log-uniform from `low` to `high`.

    `unit` ``Ω`` (the resistance that appears) or ``×`` (factor on the value). `typical` stands for
    it where one number must do. `tilt` > 0 leans to the low end, density ∝ exp(−tilt·u) with u from
    0 to 1 along the logarithm; `up` is the share above factor 1; with `choices` only those occur.
    """

    unit: str
    low: float
    high: float
    typical: float
    tilt: float = 0.0
    up: float | None = None
    choices: tuple[float, ...] = ()

    def nodes(self, count: int) -> tuple[tuple[float, float], ...]:
        """`count` values in the middle of equal steps of the logarithm, with weights that sum to 1."""
        if self.choices:
            return tuple((value, 1.0 / len(self.choices)) for value in self.choices)
        span = math.log(self.high / self.low)
        steps = [(k + 0.5) / count for k in range(count)]
        values = [self.low * math.exp(span * u) for u in steps]
        weights = [math.exp(-self.tilt * u) for u in steps]
        if self.up is not None:
            above = sum(w for v, w in zip(values, weights, strict=True) if v > 1.0) or 1.0
            below = sum(w for v, w in zip(values, weights, strict=True) if v <= 1.0) or 1.0
            weights = [w * (self.up / above if v > 1.0 else (1.0 - self.up) / below)
                       for v, w in zip(values, weights, strict=True)]
        total = sum(weights)
        return tuple((v, w / total) for v, w in zip(values, weights, strict=True))


@dataclass(frozen=True, slots=True)
class Defect:
    """One thing that can be wrong with a part.

    `pins` are empty for a part of two pins, and where the whole part is meant. `share` is its part
    of all failures of this part; `source` says where the shares come from. The shares of a part sum
    to 1, or to less where a mode of failure cannot show (a contact that rests open and fails open).
    """

    part: str
    word: str
    pins: tuple[str, ...] = ()
    magnitude: Magnitude | None = None
    share: float = 0.0
    source: str = ""

    @property
    def name(self) -> str:
        """Word and pins as typed in a fault: ``short C-E``, ``open G``, ``missing``."""
        return f"{self.word} {'-'.join(self.pins)}" if self.pins else self.word


def magnitude_of(name: str) -> Magnitude:
    """A magnitude out of priors.toml [magnitude.*]."""
    data: Row = row("priors", "magnitude", name)
    unit = "Ω" if name in ("short", "leaky") else "×"
    up = data.number("up") if "up" in data.table else None
    choices = tuple(float(v) for v in data.table.get("choices", ()))
    return Magnitude(unit, data.number("low"), data.number("high"), data.number("typical"),
                     data.get("tilt", 0.0), up, choices)


def kind_of(part: Part) -> str:
    """The kind's own name, aliases resolved."""
    spec = kind_named(part.kind)
    return spec.name if spec else part.kind


def defects_of(part: Part, elements: Sequence[Element]) -> tuple[Defect, ...]:
    """Every single defect the part can have, in a fixed order.

    `elements` are the part's own as they are now: what an earlier fault has already taken away can
    neither open nor drift. Raises BoardError for a part that cannot be expanded.
    """
    present = {e.name for e in elements}
    raw = tuple(_listed(part, present))
    power = main_pair(part) if kind_of(part) not in _ALIKE_PAIRS else None
    shares, source = raw_shares(part, tuple((word, pins) for word, pins, _ in raw), power)
    return tuple(Defect(part.ref, word, pins, magnitude, share, source)
                 for (word, pins, magnitude), share in zip(raw, shares, strict=True))


_Raw = tuple[str, tuple[str, ...], Magnitude | None]


def _listed(part: Part, present: set[str]) -> Iterator[_Raw]:
    two = len(part.pins) == 2
    for pins in _opens(part, present):
        yield "open", () if two else pins, None
    for word in ("short", "leaky"):
        for pair in short_pairs(part):
            if _bonded(part, pair, present):
                continue  # a short by nature
            yield word, () if two else pair, magnitude_of(word)
    for pins, names in drifting(part):
        if present.intersection(names):
            yield "drifted", () if two else pins, magnitude_of(_drift_kind(part, names[0]))
    if kind_of(part) == "capacitor" and "electrolytic" in part.words and present:
        yield "dried", (), magnitude_of("dried")
        yield "high-esr", (), magnitude_of("high-esr")
    if present:
        for pins in turns(part):
            yield "reversed", pins, None
        yield "missing", (), None
    if kind_of(part) in _VALUED and present:
        yield "wrong-value", (), magnitude_of("wrong-value")


def _bonded(part: Part, pair: tuple[str, str], present: set[str]) -> bool:
    """Whether a closed contact or a lead of the same electrode joins two pins."""
    if kind_of(part) not in _CONTACTS | {"half-bridge"}:
        return False
    return any(e.name in present and isinstance(e, Resistance) and not e.henries
               and set(pins_of(part, e)) == set(pair) for e in skeleton(part))


def _opens(part: Part, present: set[str]) -> Iterator[tuple[str, ...]]:
    shape = [e for e in skeleton(part) if e.name in present]
    if len(part.pins) == 2:
        if shape:
            yield ()
        return
    near: dict[str, int] = {}
    for element in shape:
        for node in set(nodes_of(element)):
            near[node] = near.get(node, 0) + 1
    for pin in part.pin_names:
        if near.get(f"@{pin}"):
            yield (pin,)
    if kind_of(part) not in _SINGLE_PATHS:
        return
    for a, b in pairs_joined(part):
        inside = [e for e in shape if e.name in between(part, a, b)]
        own = {pin: sum(f"@{pin}" in nodes_of(e) for e in inside) for pin in (a, b)}
        if inside and all(near[f"@{pin}"] > count for pin, count in own.items()):
            yield (a, b)


def short_pairs(part: Part) -> tuple[tuple[str, str], ...]:
    """Pairs of pins that can be shorted inside: those joined, and those insulation parts only."""
    names, kind = part.pin_names, kind_of(part)
    if len(names) <= 3 and kind != "connector":
        extra = [(a, b) for k, a in enumerate(names) for b in names[k + 1:]]
    elif kind == "connector":
        extra = list(pairwise(names))
    else:
        extra = [pair for pair in (("+", "-"), ("COM", "NO")) if set(pair) <= set(names)]
        extra += _windings_facing(part) if kind in ("choke", "transformer") else []
    wanted = {*pairs_joined(part), *(ordered(part, a, b) for a, b in extra)}
    order = {pin: k for k, pin in enumerate(names)}
    return tuple(sorted(wanted, key=lambda pair: (order[pair[0]], order[pair[1]])))


def _windings_facing(part: Part) -> list[tuple[str, str]]:
    """First pins of every two windings: their insulation can break down."""
    firsts: list[str] = []
    linked: set[str] = set()
    joined = pairs_joined(part)
    for pin in part.pin_names:
        if pin not in linked:
            firsts.append(pin)
            reach = {pin}
            for _ in part.pins:
                reach |= {q for pair in joined if reach & set(pair) for q in pair}
            linked |= reach
    return [(a, b) for k, a in enumerate(firsts) for b in firsts[k + 1:]]


def drifting(part: Part) -> tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]:
    """(pins, element names) of each value that can drift."""
    if kind_of(part) not in _DRIFTING:
        return ()
    kinds = Capacitance if kind_of(part) == "capacitor" else Resistance
    found: dict[tuple[str, ...], list[str]] = {}
    for element in skeleton(part):
        if isinstance(element, kinds):
            found.setdefault(pins_of(part, element), []).append(element.name)
    return tuple((pins, tuple(names)) for pins, names in found.items())


def _drift_kind(part: Part, name: str) -> str:
    element = next(e for e in skeleton(part) if e.name == name)
    if isinstance(element, Capacitance):
        return "drifted-capacitance"
    if isinstance(element, Resistance) and element.henries > 0.0:
        return "drifted-winding"
    return "drifted-contact" if kind_of(part) in _CONTACTS else "drifted-resistance"


def turned(part: Part, pins: tuple[str, ...]) -> dict[str, str]:
    """Which pin sits where another should, for a part put in reversed.

    Two `pins` have changed places; no pins: a two-pin part the wrong way round, or a bridge or
    optocoupler turned by half a turn (optocoupler: A K in front of E C, from memory).
    """
    if len(pins) == 2:
        return {pins[0]: pins[1], pins[1]: pins[0]}
    names = part.pin_names
    if len(names) == 2:
        return {names[0]: names[1], names[1]: names[0]}
    half_turn = [("AC1", "AC2"), ("+", "-")] if "AC1" in names else [("A", "E"), ("K", "C")]
    return {a: b for pair in half_turn for a, b in (pair, pair[::-1])}


def turns(part: Part) -> tuple[tuple[str, ...], ...]:
    """Pins of each way to put the part in wrongly that makes it another circuit."""
    kind, names = kind_of(part), part.pin_names
    if len(names) == 2:
        polar = kind == "capacitor" and {"electrolytic", "tantalum"} & set(part.words)
        return ((),) if polar or _asymmetric(part, ()) else ()
    if kind in ("bridge", "three-phase-bridge", "optocoupler"):
        return ((),)
    if kind not in _TURNABLE:
        return ()
    return tuple((a, b) for k, a in enumerate(names) for b in names[k + 1:] if _asymmetric(part, (a, b)))


def _asymmetric(part: Part, pins: tuple[str, ...]) -> bool:
    """Whether the part turned so is another circuit."""
    swap = {f"@{a}": f"@{b}" for a, b in turned(part, pins).items()}
    inside = {node for e in skeleton(part) for node in nodes_of(e) if pin_at(node) is None}

    def shape(e: Element, swap: dict[str, str]) -> tuple[str, ...]:
        ends = [swap.get(node, "inner" if node in inside else node) for node in node_fields(e).values()]
        if isinstance(e, Resistance | Capacitance):
            ends.sort()
        size = e.ohms if isinstance(e, Resistance) else e.is_ if isinstance(e, Junction) else 0.0
        return (type(e).__name__, *ends, repr(size))

    return sorted(shape(e, {}) for e in skeleton(part)) != sorted(shape(e, swap) for e in skeleton(part))


_MAIN = (("C", "E"), ("D", "S"), ("A", "K"), ("MT1", "MT2"), ("IN", "OUT"), ("1", "3"), ("A1", "A2"),
         ("P1", "P2"), ("U", "V"))


def main_pair(part: Part) -> tuple[str, str] | None:
    """The pair of pins meant by a bare ``short``; None for bridges, modules, chips and connectors."""
    kind, names = kind_of(part), part.pin_names
    if len(names) == 2 and kind != "connector":
        return ordered(part, *names)
    if kind == "dual-diode":
        first = skeleton(part)[0]
        one, two = pins_of(part, first)
        return one, two
    if kind in ("bridge", "three-phase-bridge", "half-bridge", "three-phase-inverter", "connector", "chip",
                "relay"):
        return None
    return next((ordered(part, a, b) for a, b in _MAIN if a in names and b in names), None)
