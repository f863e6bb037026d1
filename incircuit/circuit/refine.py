"""The last digits: Newton steps on the residual of the full network, from a point that is nearly right.

Where transistors stand beside milliohms, one elimination leaves more of Kirchhoff's residual than is
allowed. Solving again for the residual itself (iterative refinement, Wilkinson 1963) mends that: the
correction is small, so its own rounding is too.
"""

from __future__ import annotations

import numpy as np

from incircuit.circuit.elimination import Floats, backward, eliminate, forward
from incircuit.circuit.laws import junction_law
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Guess, Ports, linearise, tables
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values, channel_sign


def correct(network: Network, values: Values, drive: Drive, ports: Ports, v: Floats, vd: Floats,
            limited: Floats, net: Floats) -> tuple[Floats, Floats]:
    """Voltages after one step against the currents `net` (nodes, scenarios) that do not add up.

    `v` (size + 1, scenarios) and `vd` (junctions, scenarios) are the point, `limited` the source's
    branch. `net` must already count the gap of each junction, see `gap_current`.
    """
    helper = tables(network)
    sign = channel_sign(network)
    vgs = sign * (v[network.mg] - v[network.ms])
    vds = sign * (v[network.md] - v[network.ms])
    _, source_g = drive.norton(limited)
    devices = linearise(network, values, Guess(v[network.ports], vd, vgs, vds), source_g)
    w = ports.base + helper.conductance @ devices.conductance
    inverse = eliminate(network.port, w)
    b = -net
    forward(network.linear, ports.linear, ports.inverse, b)
    reduced = b[network.ports]
    forward(network.port, w, inverse, reduced)
    step = np.zeros((len(network.ports), b.shape[1]))
    backward(network.port, w, inverse, reduced, step)
    change = np.zeros_like(v)
    change[network.ports] = step
    backward(network.linear, ports.linear, ports.inverse, b, change)
    moved = v + change
    across = moved[network.ja] - moved[network.jk]
    return moved, np.asarray(across - values.rs * (devices.ij + devices.gj * across))


def gap_current(network: Network, values: Values, v: Floats, vd: Floats, current: Floats) -> Floats:
    """What is missing in each junction [A] because vd + rs·i is not the voltage across it."""
    _, slope = junction_law(vd, values.is_, values.nvt, values.knee)
    gd = slope + values.gmin
    across = v[network.ja] - v[network.jk]
    return np.asarray((across - vd - values.rs * current) * gd / (1.0 + gd * values.rs))
