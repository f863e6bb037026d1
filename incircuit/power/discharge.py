"""What charge is left after the plug is out, where it goes, how long that takes, what to take it with."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np

from incircuit.board.model import Board
from incircuit.board.state import HEALTHY, State
from incircuit.circuit.build import Circuit, build
from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import solve
from incircuit.circuit.source import Drive, drive
from incircuit.circuit.transient import Order, Span, march, quadratic
from incircuit.circuit.values import nominal_values
from incircuit.parts.elements import Capacitance, Change, Resistance
from incircuit.paths.blocks import meters_block
from incircuit.paths.shares import current_paths, part_shares
from incircuit.power.alternating import capacitances
from incircuit.power.limits import LIMITS, can_hurt
from incircuit.power.resistor import Discharger, discharger
from incircuit.power.working import blocked, highest, with_charges
from incircuit.predict.course_plant import charged
from incircuit.predict.question import Question
from incircuit.predict.variants import compile_variants, values_of

Times: TypeAlias = dict[str, tuple[float | None, ...]]
"""Seconds to each limit: as it is under "", at the far end of all tolerances under `SLOW`, without a part."""
SLOW = "slow"

LONGEST = 24 * 3600.0
"""Nobody waits longer [s]."""
SLACK = 5.0
"""Times to a limit need no more than three parts in a thousand."""
NEAR_LIMITS = 0.01
"""Error [V] allowed to a bank in one step: voltages below the limits matter no more."""
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
FED = 1.0
"""Below this [V] nothing of the board file charges a capacitor; at work something else may."""
TELLS = 100.0
"""Capacitors without polarity are sold for so many volts [V] and less whatever stands on them; from there on
the rating tells something (from memory)."""
POLAR = ("electrolytic", "tantalum")
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
    # no transistor bleeds: what turns it on may be gone before the charge is
    banks = _banks(with_charges(blocked(circuit), charges), listed)
    unknown = tuple(c.part for g in groups if not g.why for c in g.caps if c.farads >= 1e-6)
    return Stored(board, tuple(sorted(banks, key=lambda b: (-b.joules, b.refs))), unknown)


def _grouped(circuit: Circuit) -> list[_Group]:
    """Capacitances by the pair of nodes they lie between; shunts, windings and wires join nodes."""
    caps = capacitances(circuit)
    if not caps:
        return []
    joined = [replace(e, ohms=0.0) if isinstance(e, Resistance) and e.ohms <= JOINED else e
              for e in circuit.elements]
    index = compile_network(joined, caps[0].a, caps[0].b).index
    found: dict[tuple[int, int], _Group] = {}
    for c in caps:
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
    fed = highest(circuit, [(g.plus, g.minus) for g in groups], rms) if groups else None
    named = {tuple(s.nets) for s in board.supplies if s.word == "supply"}
    has_mains = any(s.word == "mains" for s in board.supplies)
    for k, g in enumerate(groups):
        volts = 0.0 if fed is None else float(fed[k])
        ratings, polar = _ratings(board, g.caps, ()), _ratings(board, g.caps, POLAR)
        if abs(volts) >= FED:
            g.volts, g.why = abs(volts), "mains" if has_mains and (g.plus, g.minus) not in named else "supply"
            if polar and g.volts > min(polar):
                # what a chip draws and so keeps its supply down is not known; no such part outlives more
                g.volts, g.why = min(polar), "rating"
        elif fed is None or polar or min(ratings, default=0.0) >= TELLS:
            # the winding of a converter may feed it, which nothing of the file says
            g.volts, g.why = (min(ratings), "rating") if ratings else (0.0, "")
        if volts < 0.0:
            g.plus, g.minus = g.minus, g.plus
            g.signs = {name: -sign for name, sign in g.signs.items()}


def _ratings(board: Board, caps: Sequence[Capacitance], words: Collection[str]) -> list[float]:
    """Ratings [V] of those capacitors that have one of the `words`, or of all where there are none."""
    parts = [p for p in (board.part(c.part) for c in caps) if not words or set(words) & set(p.words)]
    return [part.rating for part in parts if part.rating is not None]


def _banks(circuit: Circuit, groups: Sequence[_Group]) -> list[Bank]:
    """What becomes of each bank; those that reach each other empty together, in one run."""
    paths = [_path(circuit, g) for g in groups]
    times: dict[int, Times] = {}
    blocks: dict[frozenset[str], list[int]] = {}
    for k, (g, path) in enumerate(zip(groups, paths, strict=True)):
        if path.bleeders:
            reach = meters_block(circuit.elements, g.plus, g.minus, moving=True)
            blocks.setdefault(frozenset(e.name for e in reach), []).append(k)
    for some in blocks.values():
        alike = _alike([paths[k] for k in some])
        opened = list(dict.fromkeys(alike.values()))
        found = _times(circuit, [groups[k] for k in some], opened)
        for k, rows in zip(some, found, strict=True):
            known = dict(zip(["", SLOW, *opened], rows, strict=True))
            times[k] = known | {ref: known[other] for ref, other in alike.items()}
    return [_bank(g, path, times.get(k, {})) for k, (g, path) in enumerate(zip(groups, paths, strict=True))]


def _bank(g: _Group, path: _Bleed, times: Times) -> Bank:
    never = (None,) * len(LIMITS)
    # what the reverse currents of junctions do in hours is nothing to wait for
    failing = tuple(Failing(ref, ohms, times[ref] if math.isfinite(ohms) else never)
                    for ref, ohms in zip(path.resistors, path.without, strict=True))
    refs = tuple(dict.fromkeys(c.part for c in g.caps))
    return Bank(refs, g.plus, g.minus, g.farads, g.volts, g.why, 0.5 * g.farads * g.volts**2, path.ohms,
                path.bleeders, times.get("", never), times.get(SLOW, never), failing,
                discharger(g.farads, g.volts))


def _alike(paths: Sequence[_Bleed]) -> dict[str, str]:
    """For each resistor the first one that leaves the same bleed paths when open: those in a row do."""
    left: dict[str, list[tuple[int, str]]] = {}
    for k, path in enumerate(paths):
        for ref, ohms in zip(path.resistors, path.without, strict=True):
            left.setdefault(ref, []).append((k, f"{ohms:.9g}"))
    first: dict[tuple[tuple[int, str], ...], str] = {}
    return {ref: first.setdefault(tuple(what), ref) for ref, what in left.items()}


@dataclass(frozen=True, slots=True)
class _Bleed:
    """What carries a bank's charge away at its full voltage [ohm], and what is left of it `without` each of
    its `resistors`."""

    ohms: float
    bleeders: tuple[str, ...]
    resistors: tuple[str, ...]
    without: tuple[float, ...]


def _path(circuit: Circuit, g: _Group) -> _Bleed:
    """The resting board with the bank's voltage put on it."""
    question = Question(circuit, g.plus, g.minus, g.plus, g.minus, None, ())
    network = compile_network(question.block, g.plus, g.minus)
    whole = solve(network, nominal_values(network, circuit.state.celsius), drive(math.inf, g.volts, 1.0))
    ohms = _ohms(g.volts, float(whole.current[0]))
    shares = part_shares(current_paths(whole)) if math.isfinite(ohms) else ()
    bleeders = tuple(ref for ref, share in shares if ref and share >= LEAST_SHARE)
    resistors = tuple(ref for ref in bleeders if circuit.board.part(ref).kind in RESISTORS)
    changes = [_without(circuit, ref) for ref in resistors]
    variants = compile_variants(question.block, changes, g.plus, g.minus)
    values = values_of(variants, 0, circuit.state.celsius)
    one = np.ones(len(changes))
    source = Drive(math.inf * one, g.volts * one, one, one)
    left = solve(variants.network, values, source).current if changes else ()
    return _Bleed(ohms, bleeders, resistors, tuple(_ohms(g.volts, float(amps)) for amps in left))


def _ohms(volts: float, amps: float) -> float:
    return volts / amps if amps > volts / BLEEDS else math.inf


def _without(circuit: Circuit, ref: str) -> Change:
    return Change(frozenset(e.name for e in circuit.of_part(ref)))


def _times(circuit: Circuit, groups: Sequence[_Group],
           opened: Sequence[str]) -> list[list[tuple[float | None, ...]]]:
    """When each bank falls below each limit: as it is, the same at the far end of all tolerances, and with
    each of `opened` open; [s], None for longer than `LONGEST`."""
    first = groups[0]
    stage = charged(circuit, [_without(circuit, ref) for ref in opened], first.plus, first.minus, 0)
    some = stage.plant.take(np.concatenate([[0], np.arange(stage.conditions)]))
    network, count = some.network, stage.conditions + 1
    # the second column alone is off its values
    reach = np.array([[r.spread.own + abs(r.spread.shared)] for r in network.resistances]).reshape(-1, 1)
    more = np.array([[c.spread.own + abs(c.spread.shared)] for c in network.companions]).reshape(-1, 1)
    off = (np.arange(count) == 1.0)[None, :]
    row = {c.name: k for k, c in enumerate(network.companions)}
    own = [max((c for c in g.caps if c.name in row), key=lambda c: c.farads) for g in groups]
    slow = replace(some, values=replace(some.values, g=some.values.g / (1.0 + reach * off)),
                   farads=some.farads * (1.0 + more * off),
                   counted=tuple(sorted(row[c.name] for g in groups for c in g.caps if c.name in row)),
                   absolute=NEAR_LIMITS)
    none = np.zeros(count)
    resting = Drive(none, none + 1e12, none + 1.0, none + 1.0)  # no current at any voltage
    clock = _Clock(np.array([row[c.name] for c in own]),
                   np.array([g.signs[c.name] for g, c in zip(groups, own, strict=True)]),
                   np.full((len(groups), len(LIMITS), count), np.inf))
    charges = stage.charges[:, np.zeros(count, dtype=np.intp)]
    march(slow, resting, charges, none + LONGEST, clock.watch, SLACK)
    return [[tuple(None if math.isinf(t) else float(t) for t in bank[:, k]) for k in range(count)]
            for bank in clock.times]


@dataclass(slots=True)
class _Clock:
    """Notes when the voltage of each bank falls below each limit: of the capacitances `rows`, which way
    round by `signs`; `times` [s] is (banks, limits, columns)."""

    rows: Ints
    signs: Floats
    times: Floats

    def watch(self, span: Span, source: Drive) -> Order:
        """Look at one step; done when all are below the lowest limit."""
        columns = span.columns
        volts = span.held[:, self.rows] * self.signs[:, None]  # (3, banks, columns)
        for k, limit in enumerate(LIMITS):
            fresh = np.isinf(self.times[:, k, columns]) & (volts[2] <= limit.volts)
            if fresh.any():
                crossed = self.times[:, k, columns]
                crossed[fresh] = _crossing(span, volts, limit.volts)[fresh]
                self.times[:, k, columns] = crossed
        lowest = min(limit.volts for limit in LIMITS)
        return Order(np.full(len(columns), np.inf), source, (volts[2] <= lowest).all(axis=0))


def _crossing(span: Span, volts: Floats, limit: float) -> Floats:
    """When falling voltages, (3, banks, columns), pass a limit within a step [s], (banks, columns)."""
    low, high = np.zeros(volts.shape[1:]), np.ones(volts.shape[1:])
    for _ in range(50):
        middle = 0.5 * (low + high)
        above = quadratic(volts, middle) > limit
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return np.where(span.end > span.start, span.start + high * (span.end - span.start), 0.0)
