"""Newton's method on the ports of a network, many scenarios at once.

Linear nodes have been eliminated before; the iteration works on the nodes that junctions and channels
touch, and starts at rest unless a better guess is at hand.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.dense import DensePlan, dense_plan
from incircuit.circuit.devices import Linearised, limit, linearise
from incircuit.circuit.elimination import Bools, Floats, Ints, backward, eliminate, forward
from incircuit.circuit.network import Network
from incircuit.circuit.source import Branches, Drive
from incircuit.circuit.values import NODE_LEAK, Values, channel_sign, columns_of

STEPS = 80
"""Steps of a search before a scenario is left to the rescues."""
STEP_TOLERANCE = 1e-6
"""An iteration that moves no voltage by more than this [V] ends the search: what is left to move is the
square of it over n·Vt, picovolts. The proof by Kirchhoff's law comes after."""
STILL_CURRENT = 1e-14
"""A device whose current would change by less than this [A] rests, whatever a floating node does."""
ROUNDING = 1e-15
"""… or by less than this part of what the largest conductance would carry at the highest voltage: so much is
lost in rounding, and would move a side that only reverse currents hold by volts, for ever."""
HIGH = 10.0
"""A pad may still move by more where a node stands above this [V], in proportion: at 390 V a microvolt is
within what rounding leaves of a side that only reverse currents hold, and the iteration would not end."""
MARGIN = 0.5
"""A settling network may leave the range of the source by this [V]."""
CALM = 0.1
"""Settling goes on in longer strides while no node moves by more than this [V]."""
TYPICAL_CURRENT = 1e-3
"""What a meter drives [A]: the scale of what counts as still."""
MOST_DENSE = 100
"""A network of more ports is never eliminated on full rows."""
DENSE_WORK = 40_000
"""Full rows serve where scenarios times ports squared is less than this: there calls cost, not arithmetic."""


@dataclass(frozen=True, slots=True)
class Guess:
    """Where the search stands: port voltages and the controlling voltages of the devices."""

    v: Floats  # (ports, scenarios)
    vd: Floats  # (junctions, scenarios)
    vgs: Floats  # (channels, scenarios), sign folded
    vds: Floats

    def take(self, columns: Ints | slice) -> Guess:
        """The same for some scenarios."""
        return Guess(*(columns_of(a, columns) for a in self.arrays()))

    def arrays(self) -> tuple[Floats, Floats, Floats, Floats]:
        """The four arrays, in the order of the fields."""
        return self.v, self.vd, self.vgs, self.vds

    def spread_over(self, scenarios: int) -> Guess:
        """The same with one column per scenario, writable."""
        return Guess(*(np.array(np.broadcast_to(a, (a.shape[0], scenarios))) for a in self.arrays()))


@dataclass(frozen=True, slots=True)
class Before:
    """What a guess was found with: n·Vt and saturation current of its columns, and which column serves which
    scenario, (scenarios,)."""

    nvt: Floats
    is_: Floats
    of: Ints

    def carry(self, guess: Guess, values: Values, columns: slice) -> Guess:
        """The guess for some scenarios, junctions at the same currents: nearly where drawn boards rest.

        `values` are those of these scenarios.
        """
        which = self.of[columns]
        own, is_, nvt = guess.take(which), columns_of(self.is_, which), columns_of(self.nvt, which)
        with np.errstate(divide="ignore", invalid="ignore"):
            shifted = np.log(is_ / values.is_)
            shifted *= values.nvt
            shifted = shifted + own.vd * (values.nvt / nvt)
        stays = (own.vd <= 3.0 * nvt) | ~np.isfinite(shifted)
        return replace(own, vd=np.where(stays, own.vd, shifted))


def cold_guess(network: Network, values: Values) -> Guess:
    """Everything at rest: no voltage anywhere."""
    channels = len(network.channels)
    return Guess(np.zeros((len(network.layout.ports), 1)),
                 np.zeros((len(network.junctions), values.scenarios)),
                 np.zeros((channels, 1)), np.zeros((channels, 1)))


@dataclass(frozen=True, slots=True)
class Ports:
    """The reduced network of one set of resistances: what the iteration needs of the linear part."""

    pairs: Floats  # conductances of pairs of nodes [S], (pairs, scenarios or 1)
    base: Floats  # (port slots, scenarios or 1)
    linear: Floats  # factors of the linear plan
    inverse: Floats

    def take(self, columns: Ints) -> Ports:
        """The same for some scenarios."""
        arrays = (self.pairs, self.base, self.linear, self.inverse)
        return Ports(*(columns_of(a, columns) for a in arrays))


def reduce_linear(network: Network, g: Floats) -> Ports:
    """Eliminate the nodes that meet only resistances. `g` (resistances, scenarios) [S]."""
    layout, helper = network.layout, network.layout.tables
    pairs = helper.merge @ g
    w = helper.linear @ pairs
    w[layout.linear.excesses] += NODE_LEAK
    inverse = eliminate(layout.linear, w)
    base = np.zeros((layout.port.slots, w.shape[1]))
    base[layout.base_to] = w[layout.base_from]
    if len(helper.active):
        base[helper.diagonals] = helper.whole @ base
    return Ports(pairs, base, w, inverse)


@dataclass(frozen=True, slots=True)
class Outcome:
    """Result of a search; `done` marks the scenarios that settled."""

    guess: Guess
    limited: Bools  # the source is held by its compliance
    done: Bools
    iterations: int


@dataclass(frozen=True, slots=True)
class _Problem:
    """Some scenarios of a network as the iteration needs them; `full`: `base` holds full rows. `rounding`
    [S] times a voltage is a current lost in rounding, (scenarios or 1,)."""

    network: Network
    values: Values
    source: Branches
    base: Floats
    full: DensePlan | None
    rounding: Floats
    slots: Floats  # both used anew in every step
    injected: Floats


def _problem(network: Network, values: Values, source: Branches, slots: Floats) -> _Problem:
    count, ports = len(source.sign), len(network.layout.ports)
    rounding = ROUNDING * slots.max(axis=0, initial=0.0)
    if ports <= MOST_DENSE and count * ports**2 <= DENSE_WORK:
        dense = _full_rows(network)
        return _Problem(network, values, source, dense.base(slots), dense, rounding, slots, slots)
    return _Problem(network, values, source, slots, None, rounding, np.empty((len(slots), count)),
                    np.empty((len(network.layout.ports), count)))


def _full_rows(network: Network) -> DensePlan:
    helper = network.layout.tables
    if "dense" not in helper.kept:
        stamp, injection = helper.conductance, helper.injection
        helper.kept["dense"] = dense_plan(
            network.layout.port, (stamp.rows, stamp.columns, stamp.signs),
            (injection.rows, injection.columns, injection.signs), (stamp.shape[1], injection.shape[1]),
            helper.active.tolist())
    plan: DensePlan = helper.kept["dense"]
    return plan


def _light(values: Values) -> Values:
    """Without the resistances, which the iteration no longer needs."""
    return replace(values, g=values.g[:, :1])


def search(network: Network, values: Values, drive: Drive, ports: Ports, start: Guess,
           most: int = STEPS) -> Outcome:
    """Newton's iteration from `start` for all scenarios of `drive`, at most `most` steps.

    Scenarios that settle drop out, so that a few slow ones do not cost the others.
    """
    count = len(drive.sign)
    red = int(network.layout.tables.local[network.red])
    whole = start.spread_over(count)
    slots, source, values = ports.base, drive.branches(), _light(values)
    all_limited = source.limits(whole.v[red])
    done = np.zeros(count, dtype=bool)
    active = np.arange(count)
    problem = _problem(network, values, source, slots)
    guess, limited = whole, all_limited
    iteration = 0
    for iteration in range(1, most + 1):
        new, moved = _step(problem, guess, limited)
        now_limited = problem.source.limits(new.v[red])
        settled = (moved <= STEP_TOLERANCE) & (now_limited == limited)
        guess, limited = new, now_limited
        if iteration == most or np.count_nonzero(settled) > 0.3 * len(active):
            if len(active) == count:
                whole, all_limited = guess, limited
            else:
                for target, array in zip(whole.arrays(), guess.arrays(), strict=True):
                    target[:, active] = array
                all_limited[active] = limited
            done[active[settled]] = True
            left = np.flatnonzero(~settled)
            active = active[left]
            if not len(active):
                break
            guess, limited = guess.take(left), limited[left]
            slots = columns_of(slots, left)
            problem = _problem(network, problem.values.take(left), problem.source.take(left), slots)
    return Outcome(whole, all_limited, done, iteration)


def _ports(problem: _Problem, devices: Linearised, constant: Floats, old: Floats,
           pull: Floats | None) -> Floats:
    """Port voltages of the linearised network, the reference node's zero last, (ports + 1, scenarios)."""
    layout, helper = problem.network.layout, problem.network.layout.tables
    red = int(helper.local[problem.network.red])
    if problem.full is not None:
        return problem.full.voltages(problem.base, devices.conductance + devices.constant, (red, constant),
                                     None if pull is None else (pull, old))
    w, b = problem.slots, problem.injected
    w[:] = problem.base
    helper.conductance.add_to(w, devices.conductance)
    b[:] = 0.0
    helper.injection.add_to(b, devices.constant)
    b[red] += constant
    if pull is not None:
        w[layout.port.excesses] += pull
        w[helper.diagonals] += pull
        b += pull * old
    inverse = eliminate(layout.port, w)
    forward(layout.port, w, inverse, b)
    v = np.zeros((len(layout.ports) + 1, b.shape[1]))
    backward(layout.port, w, inverse, b, v)
    return v


def _step(problem: _Problem, guess: Guess, limited: Bools,
          pull: Floats | None = None) -> tuple[Guess, Floats]:
    """One Newton step: the new guess and the largest move [V] of each scenario.

    `pull` [S] holds every port to its present voltage with that conductance.
    """
    network, values, helper = problem.network, problem.values, problem.network.layout.tables
    red = int(helper.local[network.red])
    constant, source_g = problem.source.norton(limited)
    devices = linearise(network, values, guess.vd, guess.vgs, guess.vds, source_g)
    v = _ports(problem, devices, constant, guess.v, pull)
    vd = v[helper.anode] - v[helper.cathode]
    if values.rs.any():
        vd -= values.rs * (devices.ij + devices.gj * vd)
    held = limit(vd, guess.vd, values)
    highest = np.abs(v).max(axis=0)
    moved = np.abs(v[red] - guess.v[red]) / np.maximum(highest / HIGH, 1.0)
    still = STILL_CURRENT * (1.0 + np.abs(constant - source_g * v[red]) / TYPICAL_CURRENT)
    still += problem.rounding * highest
    moves = [(vd, guess.vd, devices.gj)] if len(vd) else []
    vgs = vds = guess.vgs
    if len(network.channels):
        sign = channel_sign(network)
        to_gs, to_ds = (sign * (v[a] - v[helper.origin]) for a in (helper.gate, helper.drain))
        moves += [(to_gs, guess.vgs, devices.gm), (to_ds, guess.vds, devices.gds)]
        vgs = guess.vgs + np.clip(to_gs - guess.vgs, -2.0, 2.0)
        vds = guess.vds + np.clip(to_ds - guess.vds, -2.0, 2.0)
    for wanted, old, slope in moves:
        step = np.abs(wanted - old)
        step *= step * slope > still
        moved = np.maximum(moved, step.max(axis=0))
    return Guess(v[:-1], held, vgs, vds), np.where(np.isfinite(moved), moved, np.inf)


def settle(network: Network, values: Values, drive: Drive, ports: Ports, start: Guess,
           most: int = 400, calm: float = CALM) -> Guess:
    """A guess near a stable state: the network let go as if every port had a capacitance to discharge.

    Backward Euler steps whose length doubles while no voltage moves by more than `calm` [V] (pseudo-transient
    continuation, Kelley and Keyes, SIAM J. Numer. Anal. 35 (1998) 508). Voltages are kept within the
    range of the source and of what capacitors hold: no node of an unpowered network of resistors,
    junctions and transistors leaves it at rest (no-gain property, A. N. Willson, IEEE Trans. Circuit
    Theory 22 (1975) 421).
    """
    count = len(drive.sign)
    red = int(network.layout.tables.local[network.red])
    guess = start.spread_over(count)
    held = np.abs(values.ec).max(axis=0, initial=0.0)
    reach = (np.minimum(0.0, drive.sign * drive.open_circuit) - held,
             np.maximum(0.0, drive.sign * drive.open_circuit) + held)
    pull = np.full(count, 0.1)
    problem = _problem(network, _light(values), drive.branches(), ports.base)
    for _ in range(most):
        new, _ = _step(problem, guess, problem.source.limits(guess.v[red]), pull)
        v = np.clip(np.nan_to_num(new.v), reach[0] - MARGIN, reach[1] + MARGIN)
        moved = np.abs(v - guess.v).max(axis=0)
        pull = np.where(moved < calm, pull * 0.7, np.minimum(pull * 2.0, 10.0))
        guess = Guess(v, *(np.clip(np.nan_to_num(a), -1e3, 1e3) for a in (new.vd, new.vgs, new.vds)))
        if np.all(pull < 1e-12):
            break
    return guess


def with_gmin(values: Values, gmin: float) -> Values:
    """The same with at least `gmin` [S] across every junction."""
    return replace(values, gmin=np.maximum(values.gmin, gmin))
