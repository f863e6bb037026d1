"""What charge is left after the plug is out, where it goes, how long that takes, what to take it with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from incircuit.board.model import Board
from incircuit.board.state import HEALTHY, State
from incircuit.circuit.build import Circuit, build
from incircuit.circuit.elimination import Floats
from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import Solution, solve
from incircuit.circuit.source import Drive, drive
from incircuit.circuit.transient import Order, Span, march
from incircuit.circuit.values import nominal_values
from incircuit.parts.elements import Capacitance, Change, Resistance
from incircuit.paths.shares import current_paths, part_shares
from incircuit.power.limits import LIMITS, can_hurt
from incircuit.power.resistor import Discharger, discharger
from incircuit.power.working import highest, with_charges
from incircuit.predict.course_plant import Charged, charged
from incircuit.predict.question import Question

LONGEST = 24 * 3600.0
"""Nobody waits longer [s]."""
SLACK = 4.0
"""Times to a limit need no more than two parts in a thousand."""
JOINED = 0.5
"""Nodes joined by so little [ohm], a shunt or a winding, are one for the capacitors between them."""
RESISTORS = ("resistor", "shunt", "potentiometer", "thermistor")
LEAST_SHARE = 0.03
"""Parts that carry less of the discharge than this are no bleeder."""
LEAST_JOULES = 1.0
"""Below the lowest limit of volts, a bank is listed from this energy on: it burns and welds (assumption)."""
LEAST_COULOMBS = 45e-6
"""Above the lowest limit of volts, a bank is listed from this charge on (IEC 61010-1, from memory)."""
SLIGHT_VOLTS, SLIGHT_JOULES = 60.0, LEAST_JOULES
"""A bank of at most so many volts (IEC 60204-1 cl. 6.2.4) and less than this energy hurts nobody."""
BLEEDS = 1e8
"""More than this [ohm] is no bleed path."""


@dataclass(frozen=True, slots=True)
class Failing:
    """The bleed path with one part open: what is left [ohm, infinite for none] and how long to each limit [s,
    None for longer than `LONGEST`]."""

    part: str
    ohms: float
    seconds: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Bank:
    """Capacitors side by side between two nets, charged.

    `volts` [V] when last powered, by `why`: ``supply``, ``mains`` or ``rating``; `joules` at that voltage.
    `ohms` is the bleed path at that voltage, infinite for none, through `bleeders`; `seconds` to each of
    `LIMITS` with every value as it says, `slowest` with all at the far end of their tolerances (None: longer
    than a day).
    """

    refs: tuple[str, ...]
    plus: str
    minus: str
    farads: float
    volts: float
    why: str
    joules: float
    ohms: float
    bleeders: tuple[str, ...]
    seconds: tuple[float | None, ...]
    slowest: tuple[float | None, ...]
    failing: tuple[Failing, ...]
    discharger: Discharger

    @property
    def time_constant(self) -> float:
        """R·C [s], infinite without a bleed path."""
        return self.ohms * self.farads

    @property
    def can_hurt(self) -> bool:
        """Whether it lies above the shock threshold."""
        return can_hurt(self.volts, self.joules)

    @property
    def slight(self) -> bool:
        """Whether it can hold nothing dangerous."""
        return self.volts <= SLIGHT_VOLTS and self.joules < SLIGHT_JOULES


@dataclass(frozen=True, slots=True)
class Stored:
    """All banks that matter, the most energy first, and refs whose voltage nothing tells."""

    board: Board
    banks: tuple[Bank, ...]
    unknown: tuple[str, ...]

    @property
    def stacks(self) -> tuple[tuple[Bank, Bank], ...]:
        """Banks that lie in series, the upper one first: between their ends stand both voltages."""
        return tuple((a, b) for a in self.banks for b in self.banks if a.minus == b.plus)

    @property
    def joules(self) -> float:
        """All energy together [J]."""
        return sum(bank.joules for bank in self.banks)


@dataclass(slots=True)
class _Group:
    plus: str
    minus: str
    caps: list[Capacitance] = field(default_factory=list)
    volts: float = 0.0
    why: str = ""
    turned: bool = False
    signs: dict[str, float] = field(default_factory=dict)  # +1 where a capacitance's first node is plus

    @property
    def farads(self) -> float:
        return sum(c.farads for c in self.caps)


def stored(board: Board, state: State = HEALTHY, rms: float | None = None) -> Stored:
    """What the board holds after it was powered; `rms` [V] stands for its mains where given.

    Raises SolveError where the powered board cannot be solved.
    """
    circuit = build(board, state)
    groups = _grouped(circuit)
    _set_volts(circuit, groups, rms)
    known = [g for g in groups if g.why]
    charges = {c.name: g.signs[c.name] * g.volts for g in known for c in g.caps}
    lowest = min(limit.volts for limit in LIMITS)
    listed = [g for g in known if (g.volts > lowest and g.farads * g.volts >= LEAST_COULOMBS)
              or 0.5 * g.farads * g.volts**2 >= LEAST_JOULES]
    banks = [_bank(with_charges(circuit, charges), g) for g in listed]
    unknown = tuple(c.part for g in groups if not g.why for c in g.caps if c.farads >= 1e-6)
    return Stored(board, tuple(sorted(banks, key=lambda b: (-b.joules, b.refs))), unknown)


def _grouped(circuit: Circuit) -> list[_Group]:
    """Capacitances by the pair of nodes they lie between; shunts, windings and wires join nodes."""
    capacitances = [e for e in circuit.elements if isinstance(e, Capacitance) and e.farads > 0.0]
    if not capacitances:
        return []
    joined = [replace(e, ohms=0.0) if isinstance(e, Resistance) and e.ohms <= JOINED else e
              for e in circuit.elements]
    index = compile_network(joined, capacitances[0].a, capacitances[0].b).index
    found: dict[tuple[int, int], _Group] = {}
    for c in capacitances:
        a, b = index[c.a], index[c.b]
        if a != b:
            key = (min(a, b), max(a, b))
            group = found.setdefault(key, _Group(c.a, c.b, turned=a != key[0]))
            group.caps.append(c)
            group.signs[c.name] = 1.0 if (a != key[0]) == group.turned else -1.0
    return list(found.values())


def _set_volts(circuit: Circuit, groups: Sequence[_Group], rms: float | None) -> None:
    """Voltages by the feeds of the board file, else by the lowest rating of the capacitors side by side."""
    board = circuit.board
    fed = highest(circuit, [(g.plus, g.minus) for g in groups], rms=rms) if groups else None
    named = {tuple(s.nets) for s in board.supplies if s.word == "supply"}
    has_mains = any(s.word == "mains" for s in board.supplies)
    for k, g in enumerate(groups):
        volts = 0.0 if fed is None else float(fed[k, 0])
        ratings = [r for c in g.caps if (r := board.part(c.part).rating) is not None]
        if fed is not None:
            g.volts, g.why = abs(volts), "mains" if has_mains and (g.plus, g.minus) not in named else "supply"
        polar = [r for c in g.caps if {"electrolytic", "tantalum"} & set(board.part(c.part).words)
                 and (r := board.part(c.part).rating) is not None]
        if polar and g.volts > min(polar):
            # what a chip draws and so keeps its supply down is not known; no such part outlives more
            g.volts, g.why = min(polar), "rating"
        elif ratings and fed is None:
            g.volts, g.why = min(ratings), "rating"
        if volts < 0.0:
            g.plus, g.minus = g.minus, g.plus
            g.signs = {name: -sign for name, sign in g.signs.items()}


def _bank(circuit: Circuit, g: _Group) -> Bank:
    farads, joules = g.farads, 0.5 * g.farads * g.volts**2
    paths = _bleeding(circuit, g)
    ohms = g.volts / float(paths.current[0]) if float(paths.current[0]) > g.volts / BLEEDS else math.inf
    shares = part_shares(current_paths(paths)) if math.isfinite(ohms) else ()
    bleeders = tuple(ref for ref, share in shares if ref and share >= LEAST_SHARE)
    resistors = [ref for ref in bleeders if circuit.board.part(ref).kind in RESISTORS]
    opened = [Change(frozenset(e.name for e in circuit.of_part(ref))) for ref in resistors]
    times = np.full((len(LIMITS), 2), np.inf)
    if bleeders:
        times = _times(charged(circuit, opened, g.plus, g.minus, 1), frozenset(c.name for c in g.caps))
    failing = tuple(Failing(ref, _left(circuit, g, change), _row(times[:, k]))
                    for k, (ref, change) in enumerate(zip(resistors, opened, strict=True), start=2))
    refs = tuple(dict.fromkeys(c.part for c in g.caps))
    return Bank(refs, g.plus, g.minus, farads, g.volts, g.why, joules, ohms, bleeders, _row(times[:, 0]),
                _row(times[:, 1]), failing, discharger(farads, g.volts))


def _row(times: Floats) -> tuple[float | None, ...]:
    return tuple(None if math.isinf(t) else float(t) for t in times.tolist())


def _bleeding(circuit: Circuit, g: _Group) -> Solution:
    """The resting board with the bank's voltage put on it."""
    question = Question(circuit, g.plus, g.minus, g.plus, g.minus, None, ())
    network = compile_network(question.block, g.plus, g.minus)
    return solve(network, nominal_values(network, circuit.state.celsius), drive(math.inf, g.volts, 1.0))


def _left(circuit: Circuit, g: _Group, without: Change) -> float:
    kept = replace(circuit, elements=tuple(e for e in circuit.elements if e.name not in without.remove))
    amps = float(_bleeding(kept, g).current[0])
    return g.volts / amps if amps > g.volts / BLEEDS else math.inf


def _times(stage: Charged, own: frozenset[str]) -> Floats:
    """When each condition falls below each limit [s], infinite for longer than `LONGEST`; (limits, 2 +
    changes): as it is, the same at the far end of all tolerances, and with each change."""
    columns = stage.columns_of(range(stage.conditions), [0])
    some = stage.plant.take(np.concatenate([columns[:1], columns]))
    network = some.network
    factor = np.ones((1, len(columns) + 1))
    factor[0, 1] = 0.0  # the second column alone is off its values
    reach = np.array([[r.spread.own + abs(r.spread.shared)] for r in network.resistances]).reshape(-1, 1)
    more = np.array([[c.spread.own + abs(c.spread.shared)] for c in network.companions]).reshape(-1, 1)
    slow = replace(some, values=replace(some.values, g=some.values.g / (1.0 + reach * (1.0 - factor))),
                   farads=some.farads * (1.0 + more * (1.0 - factor)),
                   counted=tuple(k for k, c in enumerate(network.companions) if c.name in own))
    none = np.zeros(len(columns) + 1)
    resting = Drive(none, none + 1e12, none + 1.0, none + 1.0)  # no current at any voltage
    clock = _Clock(np.full((len(LIMITS), len(none)), np.inf))
    charges = stage.charges[:, np.zeros(len(none), dtype=np.intp)]
    march(slow, resting, charges, none + LONGEST, clock.watch, SLACK)
    return clock.times


@dataclass(slots=True)
class _Clock:
    """Notes when the voltage falls below each limit."""

    times: Floats

    def watch(self, span: Span, source: Drive) -> Order:
        """Look at one step; done below the lowest limit."""
        columns, end = span.columns, span.volts[2]
        for k, limit in enumerate(LIMITS):
            fresh = np.isinf(self.times[k, columns]) & (end <= limit.volts)
            if fresh.any():
                self.times[k, columns[fresh]] = self._crossing(span, limit.volts)[fresh]
        lowest = min(limit.volts for limit in LIMITS)
        return Order(np.full(len(columns), np.inf), source, end <= lowest)

    def _crossing(self, span: Span, volts: float) -> Floats:
        low, high = span.start.copy(), span.end.copy()
        for _ in range(50):
            middle = 0.5 * (low + high)
            above = span.at(middle) > volts
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        return np.asarray(np.where(span.end <= span.start, 0.0, high))
