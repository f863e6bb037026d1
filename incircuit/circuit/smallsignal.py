"""Small signals at one frequency: the impedance of a network at the point where it rests.

The network is linearised at its resting point, capacitances become 1/(1/jωC + esr), windings R + jωL; the
nodal equations are solved as they stand (complex LAPACK on dense batches: a meter's block has some dozen
nodes). Windings of one core are taken as not coupled.
"""

from __future__ import annotations

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
_NUMBERS = 4_000_000
"""Complex numbers in one batch of matrices."""


def impedance(network: Network, values: Values, farads: Floats, esr: Floats, hertz: float) -> Complex:
    """Impedance [ohm] between the pads, (scenarios,).

    `network` holds its capacitances as companions; `farads` and `esr` [ohm] are (companions, scenarios or
    1). Raises SolveError where the resting point cannot be proven.
    """
    count = max(values.scenarios, farads.shape[1] if farads.size else 1)
    if network.shorted:
        return np.zeros(count, dtype=np.complex128)
    devices = _resting(network, values, count)
    blocks = max(1, _NUMBERS // max(1, network.size**2))
    found = [_solved(network, values.take(np.arange(i, min(i + blocks, count))),
                     _part(farads, i, i + blocks), _part(esr, i, i + blocks),
                     devices[:, i:i + blocks], hertz) for i in range(0, count, blocks)]
    return np.concatenate(found)


def _part(array: Floats, first: int, last: int) -> Floats:
    return array if array.shape[1] == 1 else array[:, first:last]


def _resting(network: Network, values: Values, count: int) -> Floats:
    """Conductances of junctions, couplings and channels at rest, in the order of the layout's stack."""
    columns = np.ones(count)
    none = Drive(0.0 * columns, columns, columns, columns)
    rest = solve(network, values, none)
    guess = guess_of(rest)
    found = linearise(network, values, guess.vd, guess.vgs, guess.vds, 0.0 * columns).conductance
    return np.concatenate([np.broadcast_to(rows, (rows.shape[0], count)) for rows in found])


def _solved(network: Network, values: Values, farads: Floats, esr: Floats, devices: Floats,
            hertz: float) -> Complex:
    size, count, ends = network.size, devices.shape[1], network.ends
    omega = 2.0 * np.pi * hertz
    y = np.zeros((count, size + 1, size + 1), dtype=np.complex128)
    henries = np.array([r.henries for r in network.resistances])[:, None]
    g = values.g
    _branch(y, ends.ra, ends.rb, g / (1.0 + 1j * omega * henries * g))
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
        reactive = np.where(farads > 0.0, 1.0 / (1j * omega * np.where(farads > 0.0, farads, 1.0)), np.inf)
    _branch(y, ends.xa, ends.xb, np.where(farads > 0.0, 1.0 / (np.where(farads > 0.0, reactive, 1.0)
                                                               + np.maximum(esr, 1e-6)), 0.0))
    rhs = np.zeros((count, size, 1), dtype=np.complex128)
    rhs[:, network.red, 0] = 1.0
    inner = y[:, :-1, :-1] + 1e-15 * np.eye(size)
    return np.asarray(np.linalg.solve(inner, rhs)[:, network.red, 0])


def _branch(y: Complex, a: NDArray[np.intp], b: NDArray[np.intp], admittance: Floats | Complex) -> None:
    """Add admittances (branches, scenarios or 1) between nodes a and b."""
    for k, (i, j) in enumerate(zip(a.tolist(), b.tolist(), strict=True)):
        y[:, i, i] += admittance[k]
        y[:, j, j] += admittance[k]
        y[:, i, j] -= admittance[k]
        y[:, j, i] -= admittance[k]


def _controlled(y: Complex, out: int, into: int, plus: int, minus: int, g: Floats) -> None:
    """Add a current g·(v_plus − v_minus) from node `out` to node `into`."""
    y[:, out, plus] += g
    y[:, out, minus] -= g
    y[:, into, plus] -= g
    y[:, into, minus] += g
