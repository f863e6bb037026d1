"""Capacitance as a hand-held meter finds it: a current charges from one voltage to another, the time counts.

What stands beside the capacitor takes its share of the current: a resistance makes the time longer and at
last endless, a junction that opens on the way too, another capacitor adds itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.source import Drive
from incircuit.circuit.transient import Order, Span, march
from incircuit.errors import MeterError
from incircuit.meter.profile import FaradsMode, Meter
from incircuit.predict.course_plant import Charged

SLACK = 8.0
"""Times of a part in a thousand will do: such meters are good for percents."""
SURELY = 0.3
"""A reading is more than this part of the capacitance that lies between the pads."""
LONGER = 3.0
"""A range is watched for so many times its patience where a reading beyond its end counts too."""


def farads_mode(meter: Meter) -> FaradsMode:
    """The mode. Raises MeterError where the meter lacks it."""
    if meter.farads is None:
        raise MeterError(f"meter {meter.name} has no farads mode; it has: {', '.join(meter.all_modes)}")
    return meter.farads


@dataclass(frozen=True, slots=True)
class Reading:
    """Readings before the meter's own error [F], infinite on overload, and the range they stand on."""

    exact: Floats
    range: Ints


def read_farads(stage: Charged, meter: Meter, swapped: bool, conditions: Ints, leads: Floats,
                on: int | None = None) -> Reading:
    """Readings of all boards of some conditions, (conditions, boards + 1). `leads` [ohm] (boards + 1,).

    Each board finds its range, the drawn ones from that of the nominal board upwards: one that a junction
    makes overload may read less on the next. Where the range is known to be number `on`, all are read there,
    and beyond its end.
    """
    mode = farads_mode(meter)
    nominal = stage.columns_of(list(conditions), [0])
    first = np.full(len(nominal), leads[0])
    if on is None:
        exact, chosen = _ranged(stage, mode, swapped, nominal, first)
    else:
        chosen = np.full(len(nominal), on, dtype=np.intp)
        exact = _timed(stage, mode, swapped, nominal, chosen, first, 1.0 if _last(mode, on) else LONGER)
    found = np.repeat(exact[:, None], stage.boards + 1, axis=1)
    stands = np.repeat(chosen[:, None], stage.boards + 1, axis=1)
    if stage.boards:
        columns = stage.columns_of(list(conditions), range(1, stage.boards + 1))
        lead = np.tile(leads[1:], len(conditions))
        at = np.repeat(chosen, stage.boards)
        drawn = _timed(stage, mode, swapped, columns, at, lead, LONGER)
        ends = np.array([r.full_scale * (1.0 + 1e-6) for r in mode.ranges])
        while on is None and len(up := np.flatnonzero((drawn > ends[at]) & ~_last(mode, at))):
            at[up] += 1
            drawn[up] = _timed(stage, mode, swapped, columns[up], at[up], lead[up], LONGER)
        found[:, 1:], stands[:, 1:] = (a.reshape(len(conditions), -1) for a in (drawn, at))
    over = found > mode.ranges[-1].full_scale * (1.0 + 1e-6)
    return Reading(np.where(over & _last(mode, stands), np.inf, found), stands)


def _last(mode: FaradsMode, chosen: Ints | int) -> NDArray[np.bool_]:
    """Whether a range is the last one, which has an end."""
    return np.asarray(chosen == len(mode.ranges) - 1)


def _ranged(stage: Charged, mode: FaradsMode, swapped: bool, columns: Ints,
            leads: Floats) -> tuple[Floats, Ints]:
    """The lowest range that fits, for each column. Ranges far below what lies between the pads are passed
    over: what else is on the board only adds to it."""
    network = stage.plant.network
    pads = {network.red, network.black}
    beside = [k for k in range(len(network.companions))
              if {int(network.ends.xa[k]), int(network.ends.xb[k])} == pads]
    direct = stage.plant.farads[beside][:, columns].sum(axis=0) if beside else np.zeros(len(columns))
    ends = np.array([r.full_scale for r in mode.ranges])
    wanted = [(c, k) for c in range(len(columns)) for k in range(len(ends))
              if ends[k] >= SURELY * direct[c] or k == len(ends) - 1]
    which, at = (np.array(x, dtype=np.intp) for x in zip(*wanted, strict=True))
    found = _timed(stage, mode, swapped, columns[which], at, leads[which], 1.0)
    exact = np.full(len(columns), np.inf)
    chosen = np.full(len(columns), len(ends) - 1, dtype=np.intp)
    for c, k, value in zip(which[::-1], at[::-1], found[::-1], strict=True):
        if value <= ends[k] + 0.5 * mode.ranges[k].resolution:
            exact[c], chosen[c] = value, k
    return exact, chosen


def _timed(stage: Charged, mode: FaradsMode, swapped: bool, columns: Ints, at: Ints, leads: Floats,
           longer: float) -> Floats:
    """Capacitance on ranges `at`; infinite where the upper voltage is not reached in time."""
    scales = [mode.ranges[k] for k in at]
    current = np.array([s.source.current for s in scales])
    sign = float(-mode.red if swapped else mode.red)
    drive = Drive(current, np.array([s.source.open_circuit for s in scales]),
                  np.array([s.source.resistance for s in scales]) + leads, np.full(len(columns), sign))
    timer = _Timer(sign, mode.low - current * leads, mode.high - current * leads,
                   np.full(len(columns), np.inf), np.full(len(columns), np.inf))
    horizon = longer * np.array([mode.patience(s) for s in scales])
    march(stage.plant.take(columns), drive, stage.charges[:, columns], horizon, timer.watch, SLACK)
    there = np.isfinite(timer.ended)
    seconds = np.where(there, timer.ended, 0.0) - np.where(there, timer.began, 0.0)
    return np.asarray(np.where(there, current * seconds / (mode.high - mode.low), np.inf))


@dataclass(slots=True)
class _Timer:
    """Notes when each pad voltage passes the two thresholds [V]."""

    sign: float
    low: Floats
    high: Floats
    began: Floats
    ended: Floats

    def watch(self, span: Span, drive: Drive) -> Order:
        """Look at one step; a scenario is done at the upper threshold."""
        columns = span.columns
        pad = self.sign * span.volts[2]
        for limit, times in ((self.low, self.began), (self.high, self.ended)):
            fresh = np.isinf(times[columns]) & (pad >= limit[columns])
            if fresh.any():
                times[columns[fresh]] = self._crossing(span, limit[columns])[fresh]
        # what starts above the lower threshold is timed from the first touch
        return Order(np.full(len(columns), np.inf), drive, np.isfinite(self.ended[columns]))

    def _crossing(self, span: Span, limit: Floats) -> Floats:
        low, high = span.start.copy(), span.end.copy()
        for _ in range(40):
            middle = 0.5 * (low + high)
            above = self.sign * span.at(middle) >= limit
            low, high = np.where(above, low, middle), np.where(above, middle, high)
        return high
