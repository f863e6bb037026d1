"""The proof: currents of every element by its own law, and what does not add up at the nodes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.laws import channel_law, junction_law
from incircuit.circuit.network import Network
from incircuit.circuit.values import GATE_LEAK, NODE_LEAK, Values, channel_gmin, channel_sign


@dataclass(frozen=True, slots=True)
class Branches:
    """Current [A] through every element, from its first node to its second; (elements, scenarios)."""

    resistances: Floats
    junctions: Floats
    couplings: Floats
    channels: Floats
    gates: Floats
    companions: Floats


def kirchhoff(network: Network, values: Values, v: Floats, vd: Floats, current: Floats) -> Floats:
    """Largest residual of Kirchhoff's current law over all nodes [A], (scenarios,).

    Branch currents by the devices' own laws at `v` and `vd`; where a junction's inner voltage and
    series resistance do not add up to its outer voltage, the current that gap stands for counts too.
    """
    return residuals(network, values, v, vd, current)[0]


def across(v: Floats, low: Floats | None, a: Ints, b: Ints) -> Floats:
    """Voltage [V] from nodes a to nodes b. `low` holds the digits of the nodes that `v` has no room for."""
    wide: Floats = v[a] - v[b]
    return wide if low is None else wide + (low[a] - low[b])


def residuals(network: Network, values: Values, v: Floats, vd: Floats, current: Floats,
              low: Floats | None = None) -> tuple[Floats, Floats]:
    """The largest residual [A] (scenarios,), and what does not add up at each node, gaps included.

    At 3 V a milliohm turns the last bit of a voltage into more current than is allowed: with `low`,
    shaped like `v`, node voltages are v + low, taken apart so that differences are exact.
    """
    branches = branch_currents(network, values, v, vd, low)
    gaps = gap_current(values, across(v, low, network.ends.ja, network.ends.jk), vd,
                       branches.junctions)
    into = network.layout.tables.incidence
    leak = NODE_LEAK * v[:-1]
    rest = (branches.couplings, branches.channels, branches.gates, branches.companions)
    exact = into @ np.concatenate([branches.resistances, branches.junctions, *rest]) + leak
    closed = into @ np.concatenate([branches.resistances, branches.junctions + gaps, *rest]) + leak
    exact[network.red] -= current
    closed[network.red] -= current
    residual = np.abs(exact).max(axis=0)
    if len(gaps):
        residual = np.maximum(residual, np.abs(gaps).max(axis=0))
    return np.asarray(residual), np.asarray(closed)


def gap_current(values: Values, outer: Floats, vd: Floats, current: Floats) -> Floats:
    """What is missing in each junction [A] because vd + rs·i is not the voltage `outer` across it."""
    _, slope = junction_law(vd, values.is_, values.nvt, values.knee)
    gd = slope + values.gmin
    return np.asarray((outer - vd - values.rs * current) * gd / (1.0 + gd * values.rs))


def branch_currents(network: Network, values: Values, v: Floats, vd: Floats,
                    low: Floats | None = None) -> Branches:
    """Current [A] through every element at node voltages `v` (+ `low`) and inner junction voltages `vd`."""
    pure, _ = junction_law(vd, values.is_, values.nvt, values.knee)
    ends, sign = network.ends, channel_sign(network)
    vgs = across(v, low, ends.mg, ends.ms)
    vds = across(v, low, ends.md, ends.ms)
    channel, _, _ = channel_law(sign * vgs, sign * vds, values.vto, values.kp)
    return Branches(
        resistances=np.asarray(values.g * across(v, low, ends.ra, ends.rb)),
        junctions=pure + values.gmin * vd,
        couplings=values.gain * pure[ends.cj],
        channels=np.asarray(sign * channel + channel_gmin(values) * vds),
        gates=np.asarray(GATE_LEAK * (vgs - values.charge)),
        companions=np.asarray(values.gc * (across(v, low, ends.xa, ends.xb) - values.ec)),
    )


def inner_voltages(network: Network, values: Values, v: Floats) -> Floats:
    """Voltage of each junction inside its series resistance: v = vd + rs·i(vd), by bisection.

    The left side rises with vd, so the root lies between 0 and v.
    """
    outer = across(v, None, network.ends.ja, network.ends.jk)
    low, high = np.minimum(outer, 0.0), np.maximum(outer, 0.0)
    for _ in range(60):
        middle = 0.5 * (low + high)
        pure, _ = junction_law(middle, values.is_, values.nvt, values.knee)
        above = middle + values.rs * (pure + values.gmin * middle) > outer
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return np.asarray(0.5 * (low + high))
