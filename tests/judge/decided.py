"""Whether readings decide a fault at all, by ngspice and not by the engine under test.

The hidden fault is read on a few drawn boards, every other fault on the nominal board at many magnitudes. It
is decided where no other fault, at any magnitude, and no board without one reads within the same limits
everywhere; a fault of the same part is no other fault. What is not decided has to be left open or named
together with what it cannot be told from.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from incircuit.board import Board
from incircuit.board.state import HEALTHY
from incircuit.errors import EngineError
from incircuit.meter.profile import Meter, Range
from tests.judge.bench import Bench, Hidden, exact_reading
from tests.judge.stories import Asked, every_fault

DRAWN = 6
WIDER = 2.5
"""Few drawn boards do not reach the limits, and boards with another fault spread as much: widened so."""
SIZES = 9

Reading = tuple[float, Range | None]
"""Volts or ohms, infinite on overload, and the range it stood on."""


@dataclass
class Table:
    """Readings of every fault on the nominal board, filled in as they are asked for."""

    board: Board
    meter: Meter
    known: dict[tuple[object, ...], float]

    def read(self, asked: Asked, *faults: Hidden | None) -> float:
        """The reading [V or ohm] with faults or without; infinite on overload, NaN where none was found."""
        there = tuple(f for f in faults if f)
        key = (asked, *((str(replace(f, size=None)), f.size) for f in there))
        if key not in self.known:
            self.known[key] = _read(_nominal(self.board, self.meter, there), asked)
        return self.known[key]


def table_of(board: Board, meter: Meter) -> Table:
    """An empty table of a board."""
    return Table(board, meter, {})


def decided(table: Table, on: Bench, plan: Sequence[Asked]) -> bool:
    """Whether readings `plan` in place on the board as it is decide the single fault hidden on a bench."""
    (hidden,) = on.faults
    limits = [_limits(on, asked) for asked in plan]
    none: list[Hidden | None] = [None]
    rivals = [none, *(_sizes(f) for f in every_fault(table.board) if f.part != hidden.part)]
    return not any(_within(table, plan, limits, rival) for rival in rivals)


def both_decided(table: Table, on: Bench, plan: Sequence[Asked]) -> bool:
    """Whether readings decide both of two hidden faults: no single one, nor another beside either of the two,
    reads alike. A pair of two other faults may, which is not looked for."""
    limits = [_limits(on, asked) for asked in plan]
    none: list[Hidden | None] = [None]
    every = every_fault(table.board)
    if any(_within(table, plan, limits, rival) for rival in (none, *map(_sizes, every))):
        return False
    mine = {f.part for f in on.faults}
    return not any(_within(table, plan, limits, _sizes(f), kept) for kept in on.faults
                   for f in every if f.part not in mine)


def _within(table: Table, plan: Sequence[Asked], limits: Sequence[tuple[float, float]],
            rival: Sequence[Hidden | None], beside: Hidden | None = None) -> bool:
    """Whether a rival reads within all limits at one of its magnitudes or between two of them."""
    spans = list(pairwise(rival)) if len(rival) > 1 and not _chosen(rival[0]) else [(r, r) for r in rival]
    for asked, (low, high) in zip(plan, limits, strict=True):
        spans = [(a, b) for a, b in spans
                 if _meets(table.read(asked, a, beside), table.read(asked, b, beside), low, high)]
        if not spans:
            return False
    return True


def _chosen(fault: Hidden | None) -> bool:
    return bool(fault and fault.defect and fault.defect.magnitude and fault.defect.magnitude.choices)


def _meets(a: float, b: float, low: float, high: float) -> bool:
    if math.isnan(a) or math.isnan(b):
        return True
    return min(a, b) <= high and max(a, b) >= low


def boards_like(on: Bench, asked: Asked) -> list[Bench]:
    """The one on the bench and `DRAWN` others of its kind, at other temperatures."""
    rng = random.Random(f"{on.seed} {asked}")
    others = (replace(on, seed=str(rng.random()), celsius=rng.uniform(20.0, 30.0)) for _ in range(DRAWN))
    return [on, *others]


def _limits(on: Bench, asked: Asked) -> tuple[float, float]:
    """What boards like the one on the bench read: meter's accuracy, rounding and contact included."""
    read = [x for x in (_read(b, asked) for b in boards_like(on, asked)) if not math.isnan(x)]
    if not read:
        return -math.inf, math.inf
    here, low, high = read[0], min(read), max(read)
    error = _error(on.meter, asked, here if math.isfinite(here) else low)
    if math.isinf(low):
        return 0.9 * low if math.isfinite(low) else 1e3 if asked[2] == "diode" else _end(on.meter), math.inf
    low -= (WIDER - 1.0) * (here - low) + error
    high = math.inf if math.isinf(high) else high + (WIDER - 1.0) * (high - here) + error
    return low, high


def _end(meter: Meter) -> float:
    assert meter.ohms is not None
    return 0.9 * meter.ohms.ranges[-1].full_scale


def _error(meter: Meter, asked: Asked, value: float) -> float:
    """The meter's accuracy twice, a digit and the contact [V or ohm]: two readings are compared."""
    if math.isinf(value):
        return 0.0
    if asked[2] == "diode":
        assert meter.diode is not None
        a, resolution, contact = meter.diode.accuracy, meter.diode.resolution, 0.0
    else:
        assert meter.ohms is not None
        scale = next((r for r in meter.ohms.ranges if value <= r.full_scale), meter.ohms.ranges[-1])
        a, resolution, contact = scale.accuracy, scale.resolution, 0.2
    return 2.0 * (a.percent / 100.0 * abs(value) + a.digits * resolution) + resolution + contact


def _sizes(fault: Hidden) -> list[Hidden | None]:
    size = fault.defect.magnitude if fault.defect else None
    if size is None:
        return [fault]
    if size.choices:
        return [replace(fault, size=v) for v in size.choices]
    span = math.log(size.high / size.low)
    return [replace(fault, size=size.low * math.exp(span * k / (SIZES - 1))) for k in range(SIZES)]


def _nominal(board: Board, meter: Meter, faults: tuple[Hidden, ...]) -> Bench:
    return Bench(board, meter, faults, "", 25.0, meter.lead_resistance, {}, nominal=True)


def _read(on: Bench, asked: Asked) -> float:
    try:
        return exact_reading(on, HEALTHY, frozenset(), *asked)
    except EngineError:
        return math.nan
