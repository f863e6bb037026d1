"""The proof: currents of every element by its own law, and what does not add up at the nodes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.laws import channel_law, junction_law
from incircuit.circuit.network import Network
from incircuit.circuit.values import GATE_LEAK, NODE_LEAK, Values, channel_gmin, channel_sign
from incircuit.parts.elements import Element


@dataclass(frozen=True, slots=True)
class Branches:
    """Current [A] through every element, from its first node to its second; (elements, scenarios)."""

    resistances: Floats
    junctions: Floats
    couplings: Floats
    channels: Floats
    gates: Floats
    companions: Floats


@dataclass(frozen=True, slots=True)
class Proof:
    """What does not add up: `residual` [A] (scenarios,) the largest of all nodes and gaps, `net` [A] at each
    node, `gaps` [A] of each junction, whose inner voltage and series resistance do not make its outer one."""

    residual: Floats
    net: Floats
    gaps: Floats

    def closed(self, network: Network) -> Floats:
        """What does not add up at each node [A] once the gaps are closed."""
        if not len(self.gaps):
            return self.net
        ends, net = network.ends, np.concatenate([self.net, np.zeros((1, self.net.shape[1]))])
        np.add.at(net, ends.ja, self.gaps)
        np.subtract.at(net, ends.jk, self.gaps)
        return net[:-1]


def across(v: Floats, low: Floats | None, a: Ints, b: Ints) -> Floats:
    """Voltage [V] from nodes a to nodes b. `low` holds the digits of the nodes that `v` has no room for."""
    wide: Floats = v[a] - v[b]
    return wide if low is None else wide + (low[a] - low[b])


def proof(network: Network, values: Values, v: Floats, vd: Floats, current: Floats,
          low: Floats | None = None, pairs: Floats | None = None) -> Proof:
    """Kirchhoff's current law at all nodes, branch currents by the devices' own laws at `v` and `vd`.

    At 3 V a milliohm turns the last bit of a voltage into more current than is allowed: with `low`,
    shaped like `v`, node voltages are v + low, taken apart so that differences are exact. `pairs` are the
    conductances of resistances summed up between the same two nodes, where they are known.
    """
    helper, ends = network.layout.tables, network.ends
    pure, slope = junction_law(vd, values.is_, values.nvt, values.knee)
    junctions = pure + values.gmin * vd
    gd = slope + values.gmin
    missing = across(v, low, ends.ja, ends.jk) - vd - values.rs * junctions
    gaps = missing * gd / (1.0 + gd * values.rs)
    pairs = helper.merge @ values.g if pairs is None else pairs
    net = NODE_LEAK * v[:-1]
    net[network.red] -= current
    helper.meeting.add_to(net, [pairs * across(v, low, helper.first, helper.second), junctions,
                                *_controlled(network, values, v, pure, low)])
    residual = np.abs(net).max(axis=0)
    if len(gaps):
        residual = np.maximum(residual, np.abs(gaps).max(axis=0))
    return Proof(residual, net, gaps)


def _controlled(network: Network, values: Values, v: Floats, pure: Floats,
                low: Floats | None) -> tuple[Floats, Floats, Floats, Floats]:
    """Currents [A] of couplings, channels, gates, companions; `pure` [A] of the junctions, without gmin."""
    ends, none = network.ends, v[:0]
    couplings = values.gain * pure[ends.cj] if len(ends.cj) else none
    channels = gates = none
    if len(ends.md):
        sign = channel_sign(network)
        vgs, vds = across(v, low, ends.mg, ends.ms), across(v, low, ends.md, ends.ms)
        channel, _, _ = channel_law(sign * vgs, sign * vds, values.vto, values.kp)
        channels = sign * channel + channel_gmin(values) * vds
        gates = GATE_LEAK * (vgs - values.charge)
    companions = none
    if len(ends.xa):
        wide = v[ends.xa] - v[ends.xb] - values.ec  # the voltage behind goes first: the rest keeps its digits
        companions = values.gc * (wide if low is None else wide + (low[ends.xa] - low[ends.xb]))
    return couplings, channels, gates, companions


def branch_currents(network: Network, values: Values, v: Floats, vd: Floats,
                    low: Floats | None = None) -> Branches:
    """Current [A] through every element at node voltages `v` (+ `low`) and inner junction voltages `vd`."""
    pure, _ = junction_law(vd, values.is_, values.nvt, values.knee)
    return Branches(
        np.asarray(values.g * across(v, low, network.ends.ra, network.ends.rb)),
        pure + values.gmin * vd,
        *_controlled(network, values, v, pure, low),
    )


def sizes_by_name(network: Network, found: Branches) -> dict[str, Floats]:
    """Sizes of the currents [A] of `branch_currents`, (scenarios,) each, by the names of the elements."""
    listed: tuple[tuple[Sequence[Element], Floats], ...] = (
        (network.resistances, found.resistances), (network.junctions, found.junctions),
        (network.couplings, found.couplings), (network.channels, found.channels))
    return {element.name: np.abs(row) for elements, rows in listed
            for element, row in zip(elements, rows, strict=True)}


def inner_voltages(network: Network, values: Values, v: Floats) -> Floats:
    """Voltage of each junction inside its series resistance: v = vd + rs·i(vd).

    The left side rises with vd, so the root lies between 0 and v, and no further out than where the junction
    alone carries v/rs; from there Newton's steps only come nearer. Halving serves where one would not.
    """
    outer = across(v, None, network.ends.ja, network.ends.jk)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        far = values.nvt * np.log1p(np.abs(outer) / (values.rs * values.is_))
        low = np.minimum(np.fmax(outer, -(values.knee + far)), 0.0)
        high = np.maximum(np.fmin(outer, far), 0.0)
    at = np.where(outer < 0.0, low, high)
    for _ in range(60):
        pure, slope = junction_law(at, values.is_, values.nvt, values.knee)
        over = at + values.rs * (pure + values.gmin * at) - outer
        low, high = np.where(over > 0.0, low, at), np.where(over > 0.0, at, high)
        next_ = at - over / (1.0 + values.rs * (slope + values.gmin))
        next_ = np.where((next_ >= low) & (next_ <= high), next_, 0.5 * (low + high))
        moved, at = np.abs(next_ - at), next_
        if not (moved > 1e-15 * (1.0 + np.abs(at))).any():
            break
    return np.asarray(at)
