"""The descent safeguard: Newton's direction, shortened until the residual falls.

Newton's direction always leads downhill in the sum of squared residuals; halving the step until it
really falls cannot cycle (J. E. Dennis, R. B. Schnabel, "Numerical Methods for Unconstrained
Optimization and Nonlinear Equations", 1983, ch. 6). Slow, for the few scenarios nothing else settles.
"""

from __future__ import annotations

import numpy as np

from incircuit.circuit.elimination import Bools, Floats, backward
from incircuit.circuit.kirchhoff import inner_voltages, proof
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Guess, Ports
from incircuit.circuit.refine import correct
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values, channel_sign

HALVINGS = 14


def descend(network: Network, values: Values, drive: Drive, ports: Ports, start: Guess,
            most: int = 150) -> Guess:
    """A guess from `start` down the residual, at most `most` steps; junctions follow the node voltages."""
    count = len(drive.sign)
    v = np.zeros((network.size + 1, count))
    v[network.layout.ports] = np.broadcast_to(start.v, (len(network.layout.ports), count))
    backward(network.layout.linear, ports.linear, ports.inverse, np.zeros((network.size, 1)), v)
    none = np.zeros_like(v)
    vd, net, merit, limited = _merit(network, values, drive, v)
    for _ in range(most):
        change, _ = correct(network, values, drive, ports, v, vd, limited, net, none)
        change = np.nan_to_num(change)
        stride = np.minimum(1.0, drive.open_circuit / np.maximum(np.abs(change).max(axis=0), 1e-300))
        moved = np.zeros(count, dtype=bool)
        for _ in range(HALVINGS):
            trial = v + stride * change
            found = _merit(network, values, drive, trial)
            better = (found[2] < merit) & ~moved
            v = np.where(better, trial, v)
            vd, net = np.where(better, found[0], vd), np.where(better, found[1], net)
            merit, limited = np.where(better, found[2], merit), np.where(better, found[3], limited)
            moved |= better
            if moved.all():
                break
            stride = np.where(moved, stride, 0.5 * stride)
        if not moved.any():
            break
    sign, ends = channel_sign(network), network.ends
    vgs, vds = sign * (v[ends.mg] - v[ends.ms]), sign * (v[ends.md] - v[ends.ms])
    return Guess(v[network.layout.ports], vd, vgs, vds)


def _merit(network: Network, values: Values, drive: Drive,
           v: Floats) -> tuple[Floats, Floats, Floats, Bools]:
    """Inner junction voltages, what does not add up at the nodes, its sum of squares, the source's branch."""
    vd = inner_voltages(network, values, v)
    limited = drive.sign * v[network.red] > drive.knee
    current, _ = drive.law(v[network.red], limited)
    net = proof(network, values, v, vd, current).closed(network)
    return vd, net, np.asarray((net * net).sum(axis=0)), np.asarray(limited)
