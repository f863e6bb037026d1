"""Newton's method on the ports of a network, many scenarios at once.

Each junction carries its own voltage, linearised there (its series resistance eliminated by hand)
and moved by at most a logarithmic step: the junction limiting of L. W. Nagel, "SPICE2: a computer
program to simulate semiconductor circuits", UCB/ERL M520 (1975). Linear nodes have been eliminated
before; the iteration works on the nodes that junctions and channels touch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import csr_array

from incircuit.circuit.elimination import Floats, Ints, backward, eliminate, forward
from incircuit.circuit.laws import channel_law, junction_law
from incircuit.circuit.layout import Stamp
from incircuit.circuit.network import Network
from incircuit.circuit.source import Drive
from incircuit.circuit.values import GATE_LEAK, NODE_LEAK, Values, channel_gmin, channel_sign

STEP_TOLERANCE = 1e-9
"""An iteration that moves no voltage by more than this times (1 V + |v|) ends the search."""
STILL_CURRENT = 1e-14
"""A device whose current would change by less than this [A] rests, whatever a floating node does."""
MARGIN = 0.5
"""A settling network may leave the range of the source by this [V]."""
CALM = 0.1
"""Settling goes on in longer strides while no node moves by more than this [V]."""
TYPICAL_CURRENT = 1e-3
"""What a meter drives [A]: the scale of what counts as still."""


@dataclass(frozen=True, slots=True)
class Guess:
    """Where the search stands: port voltages and the controlling voltages of the devices."""

    v: Floats  # (ports, scenarios)
    vd: Floats  # (junctions, scenarios)
    vgs: Floats  # (channels, scenarios), sign folded
    vds: Floats

    def take(self, columns: Ints | slice) -> Guess:
        """The same for some scenarios."""
        return Guess(*(a if a.shape[1] == 1 else a[:, columns] for a in self.arrays()))

    def arrays(self) -> tuple[Floats, Floats, Floats, Floats]:
        """The four arrays, in the order of the fields."""
        return self.v, self.vd, self.vgs, self.vds

    def spread_over(self, scenarios: int) -> Guess:
        """The same with one column per scenario, writable."""
        return Guess(*(np.array(np.broadcast_to(a, (a.shape[0], scenarios))) for a in self.arrays()))


def cold_guess(network: Network, values: Values) -> Guess:
    """Everything at rest: no voltage anywhere."""
    channels = len(network.channels)
    return Guess(np.zeros((len(network.layout.ports), 1)),
                 np.zeros((len(network.junctions), values.scenarios)),
                 np.zeros((channels, 1)), np.zeros((channels, 1)))


def matrix(stamp: Stamp, rows: int, columns: int) -> csr_array:
    """The stamp as a sparse matrix from the stack of conductances to slots."""
    return csr_array((stamp.sign.astype(np.float64), (stamp.slot, stamp.source)), shape=(rows, columns))


@dataclass(frozen=True, slots=True)
class Ports:
    """The reduced network of one set of resistances: what the iteration needs of the linear part."""

    base: Floats  # (port slots, scenarios or 1)
    linear: Floats  # factors of the linear plan
    inverse: Floats

    def take(self, columns: Ints) -> Ports:
        """The same for some scenarios."""
        arrays = (self.base, self.linear, self.inverse)
        return Ports(*(a if a.shape[1] == 1 else a[:, columns] for a in arrays))


def reduce_linear(network: Network, g: Floats) -> Ports:
    """Eliminate the nodes that meet only resistances. `g` (resistances, scenarios) [S]."""
    stamp = matrix(network.layout.linear_stamp, network.layout.linear.slots, len(network.resistances))
    w = np.asarray(stamp @ g)
    w[list(network.layout.linear.excess_of)] += NODE_LEAK
    inverse = eliminate(network.layout.linear, w)
    base = np.zeros((network.layout.port.slots, w.shape[1]))
    base[network.layout.base_to] = w[network.layout.base_from]
    for (i, _), slot in network.layout.port.slot_of.items() if network.couplings or network.channels else ():
        base[network.layout.port.diagonal_of[i]] += base[slot]
    base[list(network.layout.port.diagonal_of)] += base[list(network.layout.port.excess_of)]
    return Ports(base, w, inverse)


@dataclass(frozen=True, slots=True)
class Tables:
    """Sparse helpers of one network, built once per solve."""

    conductance: csr_array  # stack of conductances → port slots
    injection: csr_array  # stack of device constants → ports
    local: Ints  # node number → port (reference node → number of ports)


def tables(network: Network) -> Tables:
    """The sparse helpers of a network."""
    ports = len(network.layout.ports)
    local = np.full(network.size + 1, ports, dtype=np.intp)
    local[network.layout.ports] = np.arange(ports)
    channels = len(network.channels)
    stack = len(network.junctions) + len(network.couplings) + 3 * channels + len(network.companions) + 1
    ends = network.ends
    out = np.concatenate([ends.ja, ends.cs, ends.md, ends.mg, ends.xa])
    into = np.concatenate([ends.jk, ends.ck, ends.ms, ends.ms, ends.xb])
    count = len(out)
    rows = np.concatenate([local[out], local[into]])
    columns = np.concatenate([np.arange(count), np.arange(count)])
    signs = np.concatenate([-np.ones(count), np.ones(count)])
    inside = rows < ports
    injection = csr_array((signs[inside], (rows[inside], columns[inside])), shape=(ports, count))
    return Tables(matrix(network.layout.port_stamp, network.layout.port.slots, stack), injection, local)


@dataclass(frozen=True, slots=True)
class Linearised:
    """Devices at a guess: conductances and constants, in the order of the stacks."""

    conductance: Floats
    constant: Floats
    gj: Floats  # junction with its series resistance [S]
    ij: Floats  # its constant [A]
    gm: Floats  # channels [S]
    gds: Floats


def linearise(network: Network, values: Values, guess: Guess, source_g: Floats) -> Linearised:
    """Conductances and constants of all devices at a guess; `source_g` [S] of the meter, (scenarios,)."""
    pure, slope = junction_law(guess.vd, values.is_, values.nvt, values.knee)
    gd = slope + values.gmin
    split = 1.0 + gd * values.rs
    gj = gd / split
    ij = (pure - slope * guess.vd) / split
    cj = network.ends.cj
    keep = slope * (1.0 - values.rs * gj)
    gt = values.gain * keep[cj]
    it = values.gain * (pure - slope * (guess.vd + values.rs * ij))[cj]
    lanes = len(source_g)
    sign = channel_sign(network)
    current, gm, gds = channel_law(guess.vgs, guess.vds, values.vto, values.kp)
    gmin = np.broadcast_to(channel_gmin(values), gds.shape)
    im = sign * (current - gm * guess.vgs - gds * guess.vds)
    leak = np.full((len(sign), lanes), GATE_LEAK)
    ig = np.broadcast_to(-GATE_LEAK * values.charge, leak.shape)
    shape = (len(network.companions), lanes)
    gc = np.broadcast_to(values.gc, shape)
    conductance = np.concatenate([gj, gt, gm, gds + gmin, leak, gc, source_g[None, :]])
    constant = np.concatenate([ij, it, im, ig, -gc * values.ec])
    return Linearised(conductance, constant, gj, ij, np.abs(gm), gds)


def limit_junction(new: Floats, old: Floats, nvt: Floats, is_: Floats) -> Floats:
    """Junction voltages moved from `old` towards `new` by at most a logarithmic step (forward only).

    Downwards a step that takes away nearly all of the current takes the voltage that goes with what is
    left: Newton's own step would be n·Vt, over and over.
    """
    nvt, is_ = np.broadcast_to(nvt, new.shape), np.broadcast_to(is_, new.shape)
    rise = new - old
    far = (rise > 2.0 * nvt) & (new > 0.0)
    idle = (rise < -0.5 * nvt) & (rise > -1.1 * nvt) & (old > 3.0 * nvt)
    if not (far.any() or idle.any()):
        return new
    moved = new.copy()
    if idle.any():
        to, at, n = new[idle], old[idle], nvt[idle]
        left = np.maximum(1.0 + (to - at) / n, 1e-12)
        moved[idle] = np.maximum(at + n * np.log(left), np.minimum(to, 0.0))
    if far.any():
        to, at, n, i = new[far], old[far], nvt[far], is_[far]
        with np.errstate(divide="ignore", invalid="ignore"):
            critical = np.where(i > 0.0, n * np.log(n / (np.sqrt(2.0) * i)), np.inf)
        stepped = np.where(at > 0.0, at + n * np.log1p((to - at) / n), n * np.log(np.maximum(to / n, 1.0)))
        moved[far] = np.where(to > critical, stepped, to)
    return moved


def _limit(new: Floats, old: Floats, values: Values) -> Floats:
    moved = limit_junction(new, old, values.nvt, values.is_)
    if np.any(np.isfinite(values.knee)):
        finite = np.where(np.isfinite(values.knee), values.knee, 0.0)
        mirrored = limit_junction(-(moved + finite), -(old + finite), values.nvt, values.is_)
        broken = np.isfinite(values.knee) & (moved < -finite)
        moved = np.where(broken, -mirrored - finite, moved)
    return moved


@dataclass(frozen=True, slots=True)
class Outcome:
    """Result of a search; `done` marks the scenarios that settled."""

    guess: Guess
    limited: Floats  # boolean: the source is held by its compliance
    done: Floats  # boolean
    iterations: int


def search(network: Network, values: Values, drive: Drive, ports: Ports, start: Guess,
           most: int = 80) -> Outcome:
    """Newton's iteration from `start` for all scenarios of `drive`, at most `most` steps.

    Scenarios that settle drop out, so that a few slow ones do not cost the others.
    """
    count = len(drive.sign)
    helper = tables(network)
    red = int(helper.local[network.red])
    all_v, all_vd, all_vgs, all_vds = start.spread_over(count).arrays()
    all_limited = drive.sign * all_v[red] > drive.knee
    done = np.zeros(count, dtype=bool)
    active = np.arange(count)
    part_values, part_drive, base = values, drive, ports.base
    guess = Guess(all_v, all_vd, all_vgs, all_vds)
    limited = all_limited
    iteration = 0
    for iteration in range(1, most + 1):
        new, moved = _step(network, part_values, part_drive, base, helper, guess, limited)
        now_limited = part_drive.sign * new.v[red] > part_drive.knee
        settled = (moved <= STEP_TOLERANCE) & (now_limited == limited)
        guess, limited = new, now_limited
        if iteration == most or settled.sum() > 0.3 * len(active):
            for target, array in zip((all_v, all_vd, all_vgs, all_vds), guess.arrays(), strict=True):
                target[:, active] = array
            all_limited[active] = limited
            done[active[settled]] = True
            left = np.flatnonzero(~settled)
            active = active[left]
            if not len(active):
                break
            guess, limited = guess.take(left), limited[left]
            part_values, part_drive = part_values.take(left), part_drive.take(left)
            base = base if base.shape[1] == 1 else base[:, left]
    return Outcome(Guess(all_v, all_vd, all_vgs, all_vds), all_limited, done, iteration)


def _step(network: Network, values: Values, drive: Drive, base: Floats, helper: Tables, guess: Guess,
          limited: Floats, pull: Floats | None = None) -> tuple[Guess, Floats]:
    """One Newton step: the new guess and the largest relative move of each scenario.

    `pull` [S] holds every port to its present voltage with that conductance.
    """
    red = int(helper.local[network.red])
    constant, source_g = drive.norton(limited)
    devices = linearise(network, values, guess, source_g)
    w = base + helper.conductance @ devices.conductance
    b = np.asarray(helper.injection @ devices.constant)
    b[red] += constant
    if pull is not None:
        w[list(network.layout.port.excess_of)] += pull
        w[list(network.layout.port.diagonal_of)] += pull
        b += pull * guess.v
    inverse = eliminate(network.layout.port, w)
    forward(network.layout.port, w, inverse, b)
    v = np.zeros((len(network.layout.ports) + 1, b.shape[1]))
    backward(network.layout.port, w, inverse, b, v)
    local = helper.local
    across = v[local[network.ends.ja]] - v[local[network.ends.jk]]
    vd = across - values.rs * (devices.ij + devices.gj * across)
    held = _limit(vd, guess.vd, values)
    sign = channel_sign(network)
    vgs = sign * (v[local[network.ends.mg]] - v[local[network.ends.ms]])
    vds = sign * (v[local[network.ends.md]] - v[local[network.ends.ms]])
    new_vgs = guess.vgs + np.clip(vgs - guess.vgs, -2.0, 2.0)
    new_vds = guess.vds + np.clip(vds - guess.vds, -2.0, 2.0)
    moved = np.abs(v[red] - guess.v[red]) / (1.0 + np.abs(v[red]))
    still = STILL_CURRENT * (1.0 + np.abs(constant - source_g * v[red]) / TYPICAL_CURRENT)
    for wanted, old, slope in ((vd, guess.vd, devices.gj), (vgs, guess.vgs, devices.gm),
                               (vds, guess.vds, devices.gds)):
        if len(wanted):
            step = np.abs(wanted - old)
            step = np.where(step * slope > still, step / (1.0 + np.abs(wanted)), 0.0)
            moved = np.maximum(moved, step.max(axis=0))
    return Guess(v[:-1], held, new_vgs, new_vds), np.where(np.isfinite(moved), moved, np.inf)


def settle(network: Network, values: Values, drive: Drive, ports: Ports, start: Guess,
           most: int = 400) -> Guess:
    """A guess near a stable state: the network let go as if every port had a capacitance to discharge.

    Backward Euler steps whose length doubles while the voltages are calm (pseudo-transient
    continuation, Kelley and Keyes, SIAM J. Numer. Anal. 35 (1998) 508). Voltages are kept within the
    range of the source and of what capacitors hold: no node of an unpowered network of resistors,
    junctions and transistors leaves it at rest (no-gain property, A. N. Willson, IEEE Trans. Circuit
    Theory 22 (1975) 421).
    """
    count = len(drive.sign)
    helper = tables(network)
    red = int(helper.local[network.red])
    guess = start.spread_over(count)
    held = np.abs(values.ec).max(axis=0, initial=0.0)
    reach = (np.minimum(0.0, drive.sign * drive.open_circuit) - held,
             np.maximum(0.0, drive.sign * drive.open_circuit) + held)
    pull = np.full(count, 0.1)
    for _ in range(most):
        limited = drive.sign * guess.v[red] > drive.knee
        new, _ = _step(network, values, drive, ports.base, helper, guess, limited, pull)
        v = np.clip(np.nan_to_num(new.v), reach[0] - MARGIN, reach[1] + MARGIN)
        moved = np.abs(v - guess.v).max(axis=0)
        pull = np.where(moved < CALM, pull * 0.7, np.minimum(pull * 2.0, 10.0))
        guess = Guess(v, *(np.clip(np.nan_to_num(a), -1e3, 1e3) for a in (new.vd, new.vgs, new.vds)))
        if np.all(pull < 1e-12):
            break
    return guess


def with_gmin(values: Values, gmin: float) -> Values:
    """The same with at least `gmin` [S] across every junction."""
    return replace(values, gmin=np.maximum(values.gmin, gmin))
