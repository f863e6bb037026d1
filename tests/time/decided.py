"""Whether readings decide a capacitor fault, by ngspice: `tests.judge.decided` with farads and esr."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from incircuit.board import Board
from incircuit.board.pads import resolve_pad
from incircuit.board.state import HEALTHY, State
from incircuit.errors import EngineError
from incircuit.meter.profile import Meter, Range
from incircuit.parts.elements import Element
from incircuit.paths.blocks import meters_block
from tests.judge.bench import Bench, Hidden, _faulty, exact_reading
from tests.judge.decided import WIDER, _meets, _nominal, _sizes, boards_like
from tests.judge.decided import _limits as limits_at_rest
from tests.judge.stories import Asked, every_fault
from tests.time.hidden import _with_capacitors, timed
from tests.time.spice import impedance

CONTACT = 0.03
"""A needle's contact in esr mode [ohm]."""
MODES = ("farads", "esr")


@dataclass
class Table:
    """Readings of every fault on the nominal board, filled in as they are asked for."""

    board: Board
    meter: Meter
    known: dict[tuple[Asked, str, float | None], float] = field(default_factory=dict)

    def read(self, asked: Asked, fault: Hidden | None) -> float:
        """The reading [V, ohm or F] with a fault or without; infinite on overload, NaN where none."""
        key = (asked, str(replace(fault, size=None)) if fault else "", fault.size if fault else None)
        if key not in self.known:
            self.known[key] = _read(_nominal(self.board, self.meter, (fault,) if fault else ()), asked)
        return self.known[key]


def rivals(table: Table, on: Bench, plan: Sequence[Asked]) -> list[str]:
    """Other faults, at any magnitude, and the board without one, that read as boards with this fault do."""
    (hidden,) = on.faults
    limits = [limits_of(on, asked) for asked in plan]
    none: list[Hidden | None] = [None]
    every = [none, *(_sizes(f) for f in every_fault(table.board) if f.part != hidden.part)]
    return [str(rival[0]) if rival[0] else "none" for rival in every if _within(table, plan, limits, rival)]


def _within(table: Table, plan: Sequence[Asked], limits: Sequence[tuple[float, float]],
            rival: Sequence[Hidden | None]) -> bool:
    chosen = rival[0] and rival[0].defect and rival[0].defect.magnitude and rival[0].defect.magnitude.choices
    spans = list(pairwise(rival)) if len(rival) > 1 and not chosen else [(r, r) for r in rival]
    for asked, (low, high) in zip(plan, limits, strict=True):
        spans = [(a, b) for a, b in spans if _meets(table.read(asked, a), table.read(asked, b), low, high)]
        if not spans:
            return False
    return True


def limits_of(on: Bench, asked: Asked) -> tuple[float, float]:
    """What boards like the one on the bench read: meter's accuracy, rounding and contact included."""
    if asked[2] not in MODES:
        return limits_at_rest(on, asked)
    read = [x for x in (_read(b, asked) for b in boards_like(on, asked)) if not math.isnan(x)]
    if not read:
        return -math.inf, math.inf
    here, low, high = read[0], min(read), max(read)
    scales: tuple[Range, ...] = getattr(on.meter, asked[2]).ranges
    if math.isinf(low):
        return 0.9 * scales[-1].full_scale, math.inf
    scale = next((r for r in scales if low <= r.full_scale), scales[-1])
    error = 2.0 * (scale.accuracy.percent / 100.0 * low + scale.accuracy.digits * scale.resolution)
    error += scale.resolution + (2.0 * CONTACT if asked[2] == "esr" else 0.0)
    low = low - (WIDER - 1.0) * (here - low) - error if math.isfinite(here) else 0.9 * low
    high = math.inf if math.isinf(high) else high * (1.0 + 2.0 * scale.accuracy.percent / 100.0) + (
        WIDER - 1.0) * (high - here) + error
    return low, high


def elements_of(on: Bench, state: State = HEALTHY) -> list[Element]:
    """Everything on the bench in a state, drawn or as it says."""
    whole = _faulty(on, state, frozenset())
    return list(whole) if on.nominal else _with_capacitors(whole, on.seed)


def exact(on: Bench, asked: Asked) -> float:
    """A reading of farads or esr without the meter's error; infinite on overload."""
    return exact_on(on, asked)[0]


def exact_on(on: Bench, asked: Asked, first: int = 0, state: State = HEALTHY) -> tuple[float, int]:
    """The same on the ranges from number `first` on, and the number of the lowest that may show it."""
    red, black = (resolve_pad(on.board, state, pad) for pad in asked[:2])
    mode = asked[2]
    elements = meters_block(elements_of(on, state), red, black, moving=True)
    if mode == "esr":
        assert on.meter.esr is not None
        ohms = abs(impedance(elements, red, black, on.meter.esr.hertz, on.celsius)) if elements else math.inf
        return (ohms if ohms <= on.meter.esr.ranges[-1].full_scale else math.inf), first
    assert on.meter.farads is not None
    if not elements:
        return 0.0, first
    for k, scale in enumerate(on.meter.farads.ranges[first:], start=first):
        found = timed(on.meter, elements, red, black, scale, on.celsius)
        if found <= scale.full_scale:
            return found, k
    return math.inf, 0


def _read(on: Bench, asked: Asked) -> float:
    try:
        return exact(on, asked) if asked[2] in MODES else exact_reading(on, HEALTHY, frozenset(), *asked)
    except EngineError:
        return math.nan
