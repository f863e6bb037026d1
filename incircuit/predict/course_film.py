"""The display while capacitors charge: what a meter shows at each of its updates, ranges found on the way.

The meter is connected at time 0 and shows a reading at once, then at every update. A meter that finds its
range by itself does so within one update: up while the reading does not fit, down where it would fit the
range below with a tenth to spare (from memory: makes differ, most take an update for each range).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.solve import solve
from incircuit.circuit.source import Drive
from incircuit.circuit.transient import Bools, Order, Plant, Span, march
from incircuit.meter.profile import Meter
from incircuit.predict.measure import Ask, direction, ranges_of

SPARE = 0.9
"""Part of the range below that a reading must fit before the meter goes down to it."""
HUNTS = 2
"""A meter that has gone up so often hunts between two ranges; it is taken to stay on the upper one."""
NEAR = 4e-3
"""A display this near to the settled one, as a part of it, stands still from there on."""


@dataclass(frozen=True, slots=True)
class Film:
    """Displays of many scenarios at their updates 0, 1, 2 …, the first at time 0.

    `exact` [V or ohm] before the meter's own error, infinite on overload, NaN where not seen, and `range`
    the number of the range, (scenarios, updates). `beep` [s] until when the beeper sounds from the first
    touch on: 0 where it does not, infinite where it does to the end; (scenarios,).
    """

    exact: Floats
    range: Ints
    beep: Floats


def film(plant: Plant, charges: Floats, meter: Meter, asks: Sequence[Ask], which: Ints, leads: Floats,
         updates: Ints, final: Floats | None = None, fixed: Ints | None = None, slack: float = 1.0) -> Film:
    """Displays of all scenarios: scenario k is `asks[which[k]]`, seen for `updates[k]` displays.

    `charges` [V] (companions, scenarios) are on the capacitances at first touch, `leads` [ohm]
    (scenarios,). A scenario that has come to its settled reading, where those are given, stays
    there: `final` is (ranges, scenarios), infinite where a range cannot show it. `fixed` are ranges set by
    hand (scenarios,), below 0 where the meter finds them; `slack` times the usual error is allowed. Raises
    MeterError where it lacks a mode.
    """
    panel = _panel(meter, asks, which, leads)
    by_hand = np.full(len(which), -1) if fixed is None else fixed
    start = np.maximum(by_hand, 0)
    panel.last[by_hand >= 0] = by_hand[by_hand >= 0]
    count, most = len(which), max(1, int(updates.max(initial=1)))
    tape = _Tape(panel, updates, meter.updates_per_second, np.full((count, most), np.nan),
                 np.zeros((count, most), dtype=np.intp), start.copy(), start.copy(),
                 np.zeros(count, dtype=np.intp), np.zeros(count, dtype=bool),
                 np.zeros(count, dtype=np.intp), np.zeros(count, dtype=bool), np.full(count, np.inf), final)
    horizon = np.asarray((updates - 0.5) / meter.updates_per_second, dtype=np.float64)
    march(plant, panel.drive(np.arange(count), tape.at), charges, horizon, tape.watch, slack)
    return Film(tape.exact, tape.range, tape.beep)


def at_the_ends(plant: Plant, charges: Floats, meter: Meter, ask: Ask, leads: Floats) -> Floats:
    """What each scenario measures at first touch, and then what they all do in the end, with no capacitance
    left to charge, (scenarios + 1,) [V or ohm]; on the lowest range. Raises MeterError where it lacks the
    mode."""
    count = charges.shape[1]
    columns, lowest = np.arange(count), np.zeros(count, dtype=np.intp)
    panel = _panel(meter, [ask], lowest, leads)
    drive, first = panel.drive(columns, lowest), [np.empty(0)]
    march(plant, drive, charges, np.zeros(count), lambda span, _: first.append(span.volts[0]))
    still = replace(plant.values.take(columns[:1]), gc=np.zeros((len(charges), 1)),
                    ec=np.zeros((len(charges), 1)))
    settled = solve(plant.network, still, drive.take(columns[:1])).pad_voltage
    return np.concatenate([panel.raw(columns, lowest, first[-1]),
                           panel.raw(columns[:1], lowest[:1], settled)])


@dataclass(frozen=True, slots=True)
class _Panel:
    """Meters of the scenarios: full scales, last digits and sources of their ranges, (ranges, scenarios)."""

    full: Floats
    step: Floats
    current: Floats
    open_circuit: Floats
    resistance: Floats
    last: Ints
    sign: Floats
    leads: Floats
    volts: Bools  # whether the display is volts
    beeps_below: Floats  # NaN where there is no beeper

    def drive(self, columns: Ints, at: Ints) -> Drive:
        """Sources of some scenarios on ranges `at`."""
        return Drive(self.current[at, columns], self.open_circuit[at, columns],
                     self.resistance[at, columns] + self.leads[columns], self.sign[columns])

    def raw(self, columns: Ints, at: Ints, pad: Floats) -> Floats:
        """What is measured [V or ohm] at pad voltages, (columns,) or (columns, times)."""
        extra = (slice(None),) + (None,) * (pad.ndim - 1)
        drive = Drive(*(a[extra] for a in vars_of(self.drive(columns, at))))
        amps, _ = drive.law(pad)
        amps = drive.sign * amps
        volts = drive.sign * pad + amps * self.leads[columns][extra]
        with np.errstate(divide="ignore", invalid="ignore"):
            ohms = np.where(amps > 0.0, volts / np.where(amps > 0.0, amps, 1.0), np.inf)
        return np.asarray(np.where(self.volts[columns][extra], volts, ohms))

    def fits(self, columns: Ints, at: Ints, raw: Floats) -> Bools:
        """Whether the ranges can show it."""
        extra = (slice(None),) + (None,) * (raw.ndim - 1)
        half = 0.5 * self.step[at, columns][extra]
        size, full = np.abs(raw), self.full[at, columns][extra]
        return np.asarray(np.where(self.volts[columns][extra], size < full - half, size <= full + half))


def vars_of(drive: Drive) -> tuple[Floats, Floats, Floats, Floats]:
    """The arrays of a source."""
    return drive.current, drive.open_circuit, drive.resistance, drive.sign


def _panel(meter: Meter, asks: Sequence[Ask], which: Ints, leads: Floats) -> _Panel:
    scales = [ranges_of(meter, ask.mode) for ask in asks]
    deepest = max(len(s) for s in scales)
    rows = [[s[min(k, len(s) - 1)] for s in scales] for k in range(deepest)]

    def table(numbers: list[list[float]]) -> Floats:
        return np.array(numbers, dtype=np.float64)[:, which]

    threshold = meter.continuity.beeps_below if meter.continuity else np.nan
    return _Panel(
        table([[r.full_scale for r in row] for row in rows]),
        table([[r.resolution for r in row] for row in rows]),
        table([[r.source.current for r in row] for row in rows]),
        table([[r.source.open_circuit for r in row] for row in rows]),
        table([[r.source.resistance for r in row] for row in rows]),
        np.array([len(s) - 1 for s in scales], dtype=np.intp)[which],
        np.array([float(direction(meter, ask)) for ask in asks])[which], leads,
        np.array([ask.mode == "diode" for ask in asks])[which],
        np.array([threshold if ask.mode == "continuity" else np.nan for ask in asks])[which])


@dataclass(slots=True)
class _Tape:
    """Watches the steps: notes every display and turns the switch. Arrays are (scenarios, …)."""

    panel: _Panel
    updates: Ints
    per_second: float
    exact: Floats
    range: Ints
    at: Ints  # range a scenario stands on
    lowest: Ints  # it has found that nothing fits below
    shown: Ints  # displays noted
    fell: Bools  # it has just gone down
    hunts: Ints  # how often it went up
    turning: Bools  # it goes to another range right now
    beep: Floats
    final: Floats | None

    def watch(self, span: Span, drive: Drive) -> Order | None:
        """Note the displays of the steps; where one does not suit its range, end the step there."""
        columns = span.columns
        still = span.end <= span.start  # just after touching or turning the switch
        self._listen(span, still)
        first = self.shown[columns] / self.per_second
        passed = np.where(still, 1, np.floor((span.end - first) * self.per_second + 1e-9).astype(np.intp) + 1)
        passed = np.minimum(passed, self.updates[columns] - self.shown[columns])
        most = int(passed.max(initial=0))
        at = np.full(len(columns), np.inf)
        if most < 1:
            return None
        grid = first[:, None] + np.arange(most) / self.per_second
        pad = np.where(still[:, None], span.volts[2][:, None], span.at(grid))
        raw = self.panel.raw(columns, self.at[columns], pad)
        fits = self.panel.fits(columns, self.at[columns], raw)
        inside = np.arange(most) < passed[:, None]
        up = inside & ~fits & (self.at[columns] < self.panel.last[columns])[:, None]
        below = np.maximum(self.at[columns] - 1, 0)
        down = (inside & (self.at[columns] > self.lowest[columns])[:, None]
                & (np.abs(raw) <= SPARE * self.panel.full[below, columns][:, None]))
        turn = up | down
        turns = turn.any(axis=1)
        until = np.where(turns, turn.argmax(axis=1), passed)
        self._note(columns, np.where(fits, raw, np.inf), until)
        if not turns.any():
            return self._done(columns, at, drive)
        rows = np.flatnonzero(turns)
        moment = until[rows]
        at[rows] = np.where(still[rows], span.end[rows], np.maximum(grid[rows, moment], span.start[rows]))
        goes_up = up[rows, moment]
        chosen = columns[rows]
        # what does not fit the range just gone down to fits none below either
        self.hunts[chosen] += goes_up & ~still[rows]
        back = goes_up & (self.fell[chosen] | ((self.hunts[chosen] > HUNTS) & ~still[rows]))
        self.lowest[chosen[back]] = self.at[chosen[back]] + 1
        self.fell[chosen] = ~goes_up
        self.at[chosen] += np.where(goes_up, 1, -1)
        self.turning[chosen] = True
        return self._done(columns, at, self.panel.drive(columns, self.at[columns]))

    def _note(self, columns: Ints, values: Floats, until: Ints) -> None:
        for k in np.flatnonzero(until > 0):
            here = slice(self.shown[columns[k]], self.shown[columns[k]] + until[k])
            self.exact[columns[k], here] = values[k, :until[k]]
            self.range[columns[k], here] = self.at[columns[k]]
        self.shown[columns] += until
        self.fell[columns[until > 0]] = False
        self.turning[columns] = False

    def _done(self, columns: Ints, at: Floats, drive: Drive) -> Order:
        done = self.shown[columns] >= self.updates[columns]
        if self.final is not None:
            now = self.exact[columns, np.maximum(self.shown[columns] - 1, 0)]
            goal = self.final[self.at[columns], columns]
            with np.errstate(invalid="ignore"):
                digit = self.panel.step[self.at[columns], columns]
                near = np.abs(now - goal) <= np.maximum(NEAR * np.abs(goal), digit)
            last = self.at[columns] >= self.panel.last[columns]
            arrived = (self.shown[columns] > 0) & ~self.turning[columns] & np.where(
                np.isinf(goal), np.isinf(now) & last, near)
            for k in np.flatnonzero(arrived & ~done):
                self.exact[columns[k], self.shown[columns[k]]:self.updates[columns[k]]] = goal[k]
                self.range[columns[k], self.shown[columns[k]]:self.updates[columns[k]]] = self.at[columns[k]]
            done |= arrived
        return Order(at, drive, done)

    def _listen(self, span: Span, still: Bools) -> None:
        """Until when the beeper sounds."""
        columns = span.columns
        limit = self.panel.beeps_below[columns]
        end = self.panel.raw(columns, self.at[columns], span.volts[2])
        first = still & (self.shown[columns] == 0)
        self.beep[columns[first & ~(end < limit)]] = 0.0
        stops = ~first & np.isinf(self.beep[columns]) & ~(end < limit)
        if not stops.any():
            return
        low, high = span.start.copy(), span.end.copy()
        for _ in range(40):
            middle = 0.5 * (low + high)
            sounds = self.panel.raw(columns, self.at[columns], span.at(middle)) < limit
            low, high = np.where(sounds, middle, low), np.where(sounds, high, middle)
        self.beep[columns[stops]] = high[stops]
