"""Capacitors that charge: many scenarios at once, each in steps of its own.

Steps are TR-BDF2 with the error estimate of M. E. Hosea and L. F. Shampine, Appl. Numer. Math. 20 (1996)
21: two implicit stages, L-stable, so that a nanosecond beside a minute costs nothing. In each stage a
capacitance is a conductance with a voltage behind it (its companion), and the network is solved by
`incircuit.circuit.solve`, with its proof. A first step, and one after every change of the source, is one
of backward Euler over a tenth of a microsecond: it shares out what capacitors side by side disagree about.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Guess, Ports, cold_guess, reduce_linear
from incircuit.circuit.solve import guess_of, solve
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values, columns_of
from incircuit.errors import SolveError

Bools = npt.NDArray[np.bool_]

GAMMA = 2.0 - np.sqrt(2.0)
_D, _W = GAMMA / 2.0, np.sqrt(2.0) / 4.0
_ERROR = ((4.0 * _W - 1.0) / 3.0, -1.0 / 3.0, 2.0 * _D / 3.0)
FIRST = 1e-7
"""Length [s] of the step after a change of the source."""
ABSOLUTE, RELATIVE = 5e-5, 2e-4
"""Error allowed to a capacitor's voltage in one step [V], and as a part of it: a tenth of a digit."""
SHORTEST = 1e-13
"""A scenario that needs shorter steps [s] is given up."""
MOST_STEPS = 4000
GROWTH = 20.0
"""A step may be so much longer than the one before: from a tenth of a microsecond to a second in six."""
PAST = 1.02
"""A step ends so far beyond where the source's law bends, as a part of the way there: one across it is tried
in vain, again and again."""
LEAST_ESR = 1e-3
"""Resistance in series with every capacitance [ohm], that of its leads, at least."""


@dataclass(frozen=True, slots=True)
class Plant:
    """A network with its capacitances: `farads` and `esr` [ohm] are (companions, scenarios or 1).

    A capacitance of 0 is not there. `counted` are the numbers of those whose voltage must be right, none for
    all: the others are carried along. `absolute` [V] is the error allowed to a voltage however small.
    """

    network: Network
    values: Values
    farads: Floats
    esr: Floats
    counted: tuple[int, ...] = ()
    absolute: float = ABSOLUTE

    def take(self, columns: Ints) -> Plant:
        """The same for some scenarios."""
        return replace(self, values=self.values.take(columns), farads=columns_of(self.farads, columns),
                       esr=columns_of(self.esr, columns))


@dataclass(frozen=True, slots=True)
class Span:
    """One step of some scenarios, `columns` their numbers: from `start` to `end` [s], (columns,).

    `volts` [V] between the pads, red minus black, at the start, at GAMMA of the way and at the end,
    (3, columns); `held` [V] what the capacitances hold then, without their series resistance, (3,
    companions, columns).
    """

    columns: Ints
    start: Floats
    end: Floats
    volts: Floats
    held: Floats

    def at(self, times: Floats) -> Floats:
        """Pad voltage [V] at times within the step, (columns,) or (columns, times)."""
        flat = times.ndim == 1
        grid = times[:, None] if flat else times
        found = quadratic(self.volts[:, :, None], _part(self.start, self.end, grid))
        return np.asarray(found[:, 0] if flat else found)


@dataclass(frozen=True, slots=True)
class Order:
    """What the watcher of a step wants, for its columns: to end it at `at` [s] (infinite: as it is) and go
    on with the source `drive`, or to stop a scenario where `done`."""

    at: Floats
    drive: Drive
    done: Bools


Watch = Callable[[Span, Drive], Order | None]


@dataclass(frozen=True, slots=True)
class _State:
    time: Floats
    stride: Floats
    volts: Floats  # across each capacitance, (companions, scenarios)
    slope: Floats  # dv/dt
    pad: Floats
    guess: Guess

    def take(self, c: Ints) -> _State:
        return _State(self.time[c], self.stride[c], self.volts[:, c], self.slope[:, c], self.pad[c],
                      self.guess.take(c))

    def put(self, c: Ints, other: _State) -> None:
        for mine, new in zip((self.time, self.stride, self.pad), (other.time, other.stride, other.pad),
                             strict=True):
            mine[c] = new
        self.volts[:, c], self.slope[:, c] = other.volts, other.slope
        for mine, new in zip(self.guess.arrays(), other.guess.arrays(), strict=True):
            mine[:, c] = new


def quadratic(three: Floats, part: Floats) -> Floats:
    """Through values at 0, GAMMA and 1 of a step, at a `part` of it; broadcasts."""
    first, middle, last = three
    a = (part - GAMMA) * (part - 1.0) / GAMMA
    b = part * (part - 1.0) / (GAMMA * (GAMMA - 1.0))
    c = part * (part - GAMMA) / (1.0 - GAMMA)
    return np.asarray(first * a + middle * b + last * c)


def _part(start: Floats, end: Floats, grid: Floats) -> Floats:
    return np.clip((grid - start[:, None]) / np.maximum(end - start, 1e-300)[:, None], 0.0, 1.0)


def march(plant: Plant, drive: Drive, volts: Floats, horizon: Floats, watch: Watch,
          slack: float = 1.0) -> Bools:
    """Let the source charge the capacitances from `volts` (companions, scenarios) until `horizon` [s].

    `watch` sees every step and may end it early, change the source, or stop a scenario; `slack` times the
    usual error is allowed. Returns which
    scenarios were seen to their end (boolean): the others needed too short or too many steps.
    """
    count = len(drive.sign)
    proven = np.zeros(count, dtype=bool)
    active = np.arange(count)
    plant = replace(plant, values=plant.values.take(active))
    state = _begin(plant, drive, np.zeros(count), volts, None)
    ports = _shared(plant)
    order = watch(_flat(active, state), drive)
    state, drive, done = _obeyed(plant, drive, state, order, np.arange(count), active, watch)
    for _ in range(MOST_STEPS):
        lost = state.stride < SHORTEST
        over = done | (state.time >= horizon[active] - FIRST)
        proven[active[over & ~lost]] = True
        if np.any(over | lost):
            left = np.flatnonzero(~(over | lost))
            active, plant, drive, state = active[left], plant.take(left), drive.take(left), state.take(left)
            if not len(active):
                break
        stride = np.minimum(state.stride, horizon[active] - state.time)
        trial, error = _step(plant, drive, state, stride, ports)
        error = error / slack
        good = np.flatnonzero(error <= 1.0)
        # a step that fails has met a bend as a rule, where the error falls with the step, not with its cube
        growth = 0.9 * np.maximum(error, 1e-6) ** np.where(error > 1.0, -1.0, -1.0 / 3.0)
        state.stride[:] = stride * np.clip(np.nan_to_num(growth, nan=0.2), 0.2, GROWTH)
        done = np.zeros(len(active), dtype=bool)
        if not len(good):
            continue
        span = Span(active[good], state.time[good], state.time[good] + stride[good],
                    np.stack([state.pad, trial.middle_pad, trial.end_pad])[:, good],
                    np.stack([state.volts, trial.middle, trial.end])[:, :, good])
        order = watch(span, drive.take(good))
        bend = np.maximum(PAST * _until_bend(span, drive.take(good)), FIRST)
        state.stride[good] = np.minimum(state.stride[good], bend)
        after = _after(state, trial, good, order, span)
        state.put(good, after)
        if order is not None:
            changed = good[np.isfinite(order.at)]
            state, drive, late = _obeyed(plant, drive, state, order, good, active, watch)
            done[good] = order.done
            done[changed] |= late[changed]
    return proven


def _until_bend(span: Span, drive: Drive) -> Floats:
    """Time [s] from the end of a step until the source comes to its compliance, or leaves it, if the pad goes
    on as it did; infinite for never."""
    _, middle, end = drive.sign * span.volts
    rate = (end - middle) / ((1.0 - GAMMA) * (span.end - span.start))
    with np.errstate(divide="ignore", invalid="ignore"):
        left = (drive.knee - end) / rate
    return np.where(left > 0.0, left, np.inf)


@dataclass(frozen=True, slots=True)
class _Trial:
    middle: Floats
    end: Floats
    slope: Floats
    middle_pad: Floats
    end_pad: Floats
    guess: Guess


def _flat(columns: Ints, state: _State) -> Span:
    return Span(columns, state.time, state.time, np.stack([state.pad] * 3), np.stack([state.volts] * 3))


def _shared(plant: Plant) -> Ports | None:
    return reduce_linear(plant.network, plant.values.g) if plant.values.g.shape[1] == 1 else None


def _obeyed(plant: Plant, drive: Drive, state: _State, order: Order | None, at: Ints, active: Ints,
            watch: Watch) -> tuple[_State, Drive, Bools]:
    """Sources changed where the watcher wants it, until it wants no more; and who is done."""
    done = np.zeros(len(active), dtype=bool)
    for _ in range(64):
        if order is None:
            break
        done[at] |= order.done
        some = np.isfinite(order.at) & ~order.done
        if not np.any(some):
            break
        at, new = at[some], order.drive.take(np.flatnonzero(some))
        drive = _with(drive, at, new)
        fresh = state.take(at)
        begun = _begin(plant.take(at), new, fresh.time, fresh.volts, fresh.guess)
        state.put(at, begun)
        order = watch(_flat(active[at], begun), new)
    return state, drive, done


def _with(drive: Drive, at: Ints, new: Drive) -> Drive:
    found = Drive(*(np.array(a) for a in (drive.current, drive.open_circuit, drive.resistance, drive.sign)))
    found.current[at], found.open_circuit[at] = new.current, new.open_circuit
    found.resistance[at], found.sign[at] = new.resistance, new.sign
    return found


def _after(state: _State, trial: _Trial, good: Ints, order: Order | None, span: Span) -> _State:
    """Where the accepted steps end: at their end, or where the watcher wants it."""
    volts, pad, time = trial.end[:, good], trial.end_pad[good], span.end
    if order is not None and np.any(np.isfinite(order.at)):
        cut = np.minimum(order.at, span.end)
        part = (cut - span.start) / np.maximum(span.end - span.start, 1e-300)
        volts = quadratic(np.stack([state.volts[:, good], trial.middle[:, good], volts]), part[None, :])
        pad, time = span.at(cut), cut
    return _State(time, state.stride[good], volts, trial.slope[:, good], pad, trial.guess.take(good))


def _begin(plant: Plant, drive: Drive, time: Floats, volts: Floats, guess: Guess | None) -> _State:
    """Just after a source is put on or changed."""
    step = np.full(len(time), FIRST)
    start = guess or cold_guess(plant.network, plant.values)
    amps, pad, found = _stage(plant, drive, volts, step, start, None)
    slope = _per_farad(amps, plant.farads)
    stride = np.where(np.isfinite(pad), FIRST, 0.0)
    return _State(time + FIRST, stride, volts + FIRST * slope, slope, pad, found)


def _step(plant: Plant, drive: Drive, state: _State, stride: Floats,
          ports: Ports | None) -> tuple[_Trial, Floats]:
    """One TR-BDF2 step of every scenario, and its error as a part of what is allowed."""
    one = state.slope
    hist = state.volts + stride * _D * one
    amps, middle_pad, guess = _stage(plant, drive, hist, stride * _D, state.guess, ports)
    two = _per_farad(amps, plant.farads)
    middle = hist + stride * _D * two
    hist = state.volts + stride * _W * (one + two)
    amps, end_pad, guess = _stage(plant, drive, hist, stride * _D, guess, ports)
    three = _per_farad(amps, plant.farads)
    end = hist + stride * _D * three
    off = np.abs(stride * (_ERROR[0] * one + _ERROR[1] * two + _ERROR[2] * three))
    error = off / (plant.absolute + RELATIVE * np.abs(end))
    error = (error[list(plant.counted)] if plant.counted else error).max(axis=0, initial=0.0)
    error = np.where(np.isfinite(end_pad) & np.isfinite(middle_pad), error, np.inf)
    return _Trial(middle, end, three, middle_pad, end_pad, guess), np.asarray(error)


def _per_farad(amps: Floats, farads: Floats) -> Floats:
    return np.asarray(np.divide(amps, farads, out=np.zeros_like(amps), where=farads > 0.0))


def _stage(plant: Plant, drive: Drive, hist: Floats, seconds: Floats, start: Guess,
           ports: Ports | None) -> tuple[Floats, Floats, Guess]:
    """Currents [A] of the capacitances, pad voltage [V] and the guess, where each capacitance ends a stage
    of `seconds` that would leave it at `hist` without current."""
    with np.errstate(divide="ignore"):
        behind = seconds / plant.farads + np.maximum(plant.esr, LEAST_ESR)
    gc = np.where(plant.farads > 0.0, 1.0 / behind, 0.0)
    values = replace(plant.values, gc=gc, ec=hist)
    found = _solved(plant.network, values, drive, start, ports)
    ends = plant.network.ends
    return np.asarray(gc * (found.v[ends.xa] - found.v[ends.xb] - hist)), found.pad, found.guess


@dataclass(frozen=True, slots=True)
class _Found:
    v: Floats
    pad: Floats
    guess: Guess


def _solved(network: Network, values: Values, drive: Drive, start: Guess, ports: Ports | None) -> _Found:
    """Operating points; NaN where none can be proven."""
    count = len(drive.sign)
    try:
        solution = solve(network, values, drive, start, ports)
        return _Found(solution.v, solution.pad_voltage, guess_of(solution))
    except SolveError:
        if count == 1:
            return _Found(np.full((network.size + 1, 1), np.nan), np.full(1, np.nan), start)
    halves = []
    for part in (np.arange(count // 2), np.arange(count // 2, count)):
        halves.append(_solved(network, values.take(part), drive.take(part), start.take(part), ports))
    arrays = zip(*(h.guess.spread_over(h.v.shape[1]).arrays() for h in halves), strict=True)
    return _Found(np.concatenate([h.v for h in halves], axis=1), np.concatenate([h.pad for h in halves]),
                  Guess(*(np.concatenate(pair, axis=1) for pair in arrays)))
