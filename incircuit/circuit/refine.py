"""The last digits: Newton steps on the residual of the full network, from a point that is nearly right.

Where transistors stand beside milliohms, one elimination leaves more of Kirchhoff's residual than is
allowed. Solving again for the residual itself (iterative refinement, Wilkinson 1963) mends that: the
correction is small, so its own rounding is too.
"""

from __future__ import annotations

import numpy as np

from incircuit.circuit.devices import linearise
from incircuit.circuit.elimination import Bools, Floats, backward, eliminate, forward
from incircuit.circuit.kirchhoff import across
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Ports
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values, channel_sign


def correct(network: Network, values: Values, drive: Drive, ports: Ports, v: Floats, vd: Floats,
            limited: Bools, net: Floats, low: Floats) -> tuple[Floats, Floats]:
    """New `low` and `vd` after one step against the currents `net` (nodes, scenarios) that do not add up.

    `v` + `low` (size + 1, scenarios) and `vd` (junctions, scenarios) are the point, `limited` the
    source's branch. `net` must already count the gap of each junction, see `incircuit.circuit.kirchhoff`.
    """
    helper = network.layout.tables
    sign = channel_sign(network)
    vgs = sign * (v[network.ends.mg] - v[network.ends.ms])
    vds = sign * (v[network.ends.md] - v[network.ends.ms])
    _, source_g = drive.norton(limited)
    devices = linearise(network, values, vd, vgs, vds, source_g)
    w = np.array(np.broadcast_to(ports.base, (len(ports.base), len(source_g))))
    helper.conductance.add_to(w, devices.conductance)
    inverse = eliminate(network.layout.port, w)
    b = -net
    forward(network.layout.linear, ports.linear, ports.inverse, b)
    reduced = b[network.layout.ports]
    forward(network.layout.port, w, inverse, reduced)
    step = np.zeros((len(network.layout.ports), b.shape[1]))
    backward(network.layout.port, w, inverse, reduced, step)
    change = np.zeros_like(v)
    change[network.layout.ports] = step
    backward(network.layout.linear, ports.linear, ports.inverse, b, change)
    fine = low + change
    outer = across(v, fine, network.ends.ja, network.ends.jk)
    return fine, np.asarray(outer - values.rs * (devices.ij + devices.gj * outer))
