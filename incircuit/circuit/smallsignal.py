"""Small signals at one frequency: the impedance of a network at the point where it rests.

The network is linearised at its resting point, capacitances become 1/(1/jωC + esr), windings R + jωL; the
nodal equations are solved as they stand (complex LAPACK on dense batches: a meter's block has some dozen
nodes). Windings of one core are coupled, M = cosine·(1 − leakage)·√(L₁·L₂), the cosine that of the angle
between their axes; where turns of one are shorted, each L and M of the core loses what a short on the core
takes: L·(1 − k²).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from incircuit.circuit.devices import linearise
from incircuit.circuit.elimination import Floats
from incircuit.circuit.network import Network
from incircuit.circuit.solve import guess_of, solve
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values

Complex: TypeAlias = NDArray[np.complex128]
LEAK = 1e-10
"""From every node to the black pad [S]: an isolated winding needs a hold, and a reading of 100 ohms minds a
part in 10^8."""
OPEN = 1e12
"""A winding that a fault has opened [ohm]."""
_NUMBERS = 4_000_000
"""Complex numbers in one batch of matrices."""


@dataclass(frozen=True, slots=True)
class Reactive:
    """Capacitances `farads` [F] with `esr` [ohm], (companions, scenarios or 1); windings' `henries` [H] and
    `leakage`, (resistances, scenarios or 1)."""

    farads: Floats
    esr: Floats
    henries: Floats
    leakage: Floats

    def part(self, first: int, last: int) -> Reactive:
        """The same for some scenarios."""
        return Reactive(*(a if a.shape[1] == 1 else a[:, first:last]
                          for a in (self.farads, self.esr, self.henries, self.leakage)))


def impedance(network: Network, values: Values, reactive: Reactive, hertz: float) -> Complex:
    """Impedance [ohm] between the pads, (scenarios,).

    `network` holds its capacitances as companions. Raises SolveError where the resting point cannot be
    proven.
    """
    farads = reactive.farads
    count = max(values.scenarios, farads.shape[1] if farads.size else 1)
    if network.shorted:
        return np.zeros(count, dtype=np.complex128)
    devices = _resting(network, values, count)
    blocks = max(1, _NUMBERS // max(1, network.size**2))
    found = [_solved(network, values.take(np.arange(i, min(i + blocks, count))), reactive.part(i, i + blocks),
                     devices[:, i:i + blocks], hertz) for i in range(0, count, blocks)]
    return np.concatenate(found)


def _resting(network: Network, values: Values, count: int) -> Floats:
    """Conductances of junctions, couplings and channels at rest, in the order of the layout's stack."""
    columns = np.ones(count)
    none = Drive(0.0 * columns, columns, columns, columns)
    rest = solve(network, values, none)
    guess = guess_of(rest)
    found = linearise(network, values, guess.vd, guess.vgs, guess.vds, 0.0 * columns).conductance
    return np.concatenate([np.broadcast_to(rows, (rows.shape[0], count)) for rows in found])


def _solved(network: Network, values: Values, reactive: Reactive, devices: Floats, hertz: float) -> Complex:
    size, count, ends = network.size, devices.shape[1], network.ends
    farads, esr = reactive.farads, reactive.esr
    omega = 2.0 * np.pi * hertz
    y = np.zeros((count, size + 1, size + 1), dtype=np.complex128)
    cores = _cores(network)
    wound = {k for core in cores for k in core}
    plain = np.array([k for k in range(len(network.resistances)) if k not in wound], dtype=np.intp)
    _branch(y, ends.ra[plain], ends.rb[plain],
            values.g[plain] / (1.0 + 1j * omega * reactive.henries[plain] * values.g[plain]))
    for core in cores:
        _wound(y, network, core, values.g, reactive, omega)
    at = len(network.junctions)
    _branch(y, ends.ja, ends.jk, devices[:at])
    couplings, channels = len(network.couplings), len(network.channels)
    for k in range(couplings):
        j = int(ends.cj[k])
        _controlled(y, int(ends.cs[k]), int(ends.ck[k]), int(ends.ja[j]), int(ends.jk[j]), devices[at + k])
    at += couplings
    for k in range(channels):
        d, g_, s = int(ends.md[k]), int(ends.mg[k]), int(ends.ms[k])
        _controlled(y, d, s, g_, s, devices[at + k])
    _branch(y, ends.md, ends.ms, devices[at + channels:at + 2 * channels])
    _branch(y, ends.mg, ends.ms, devices[at + 2 * channels:at + 3 * channels])
    with np.errstate(divide="ignore"):
        ohms = np.where(farads > 0.0, 1.0 / (1j * omega * np.where(farads > 0.0, farads, 1.0)), np.inf)
    _branch(y, ends.xa, ends.xb, np.where(farads > 0.0, 1.0 / (np.where(farads > 0.0, ohms, 1.0)
                                                               + np.maximum(esr, 1e-6)), 0.0))
    rhs = np.zeros((count, size, 1), dtype=np.complex128)
    rhs[:, network.red, 0] = 1.0
    inner = y[:, :-1, :-1] + LEAK * np.eye(size)
    return np.asarray(np.linalg.solve(inner, rhs)[:, network.red, 0])


def _cores(network: Network) -> list[list[int]]:
    """Numbers of the windings on each core."""
    found: dict[str, list[int]] = {}
    for k, r in enumerate(network.resistances):
        if r.coil is not None and r.henries > 0.0:
            found.setdefault(r.coil.core, []).append(k)
    return list(found.values())


def _wound(y: Complex, network: Network, core: list[int], g: Floats, reactive: Reactive,
           omega: float) -> None:
    """Add the windings of one core: the admittances between them are the inverse of R + jωL."""
    count, many = y.shape[0], len(core)
    here: Floats = np.broadcast_to(g[core], (many, count))
    there = here > 0.0
    henries: Floats = np.broadcast_to(reactive.henries[core], (many, count))
    k: Floats = 1.0 - np.broadcast_to(reactive.leakage[core], (many, count))
    root: Floats = np.sqrt(henries)
    coils = [coil for number in core if (coil := network.resistances[number].coil)]
    cosine = coils[0].cosine
    each = cosine * np.sqrt(k[:, None] * k[None, :]) * root[:, None] * root[None, :]
    # shorted turns of whatever number: M·M/L of them, and they couple as any other winding does
    closed = any(r.coil and r.coil.core == coils[0].core for r in network.closed)
    reach: Floats = cosine * k * root
    taken = reach[:, None] * reach[None, :] * float(closed)
    for n, coil in enumerate(coils):
        if coil.turns_shorted and not closed:
            mine = reach.copy()
            mine[n] = k[n] * root[n]
            taken = np.where(there[n], mine[:, None] * mine[None, :], taken)
    for n in range(many):
        each[n, n] = henries[n]
    z = 1j * omega * np.moveaxis(each - taken, 2, 0)
    ohms = np.where(there, 1.0 / np.where(there, here, 1.0), OPEN)
    for n in range(many):
        z[:, n, n] += ohms[n]
        z[~there[n], n, :n] = z[~there[n], n, n + 1:] = z[~there[n], :n, n] = z[~there[n], n + 1:, n] = 0.0
    admittance = np.asarray(np.linalg.inv(z), dtype=np.complex128)
    ends = [(int(network.ends.ra[n]), int(network.ends.rb[n])) for n in core]
    for i, (out, into) in enumerate(ends):
        for j, (plus, minus) in enumerate(ends):
            _controlled(y, out, into, plus, minus, admittance[:, i, j])


def _branch(y: Complex, a: NDArray[np.intp], b: NDArray[np.intp], admittance: Floats | Complex) -> None:
    """Add admittances (branches, scenarios or 1) between nodes a and b."""
    for k, (i, j) in enumerate(zip(a.tolist(), b.tolist(), strict=True)):
        y[:, i, i] += admittance[k]
        y[:, j, j] += admittance[k]
        y[:, i, j] -= admittance[k]
        y[:, j, i] -= admittance[k]


def _controlled(y: Complex, out: int, into: int, plus: int, minus: int, g: Floats | Complex) -> None:
    """Add a current g·(v_plus − v_minus) from node `out` to node `into`."""
    y[:, out, plus] += g
    y[:, out, minus] -= g
    y[:, into, plus] -= g
    y[:, into, minus] += g
