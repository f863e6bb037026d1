"""Devices linearised at a guess, and how far a guess may move: what Newton's iteration needs of them.

Each junction carries its own voltage, linearised there (its series resistance eliminated by hand) and
moved by at most a logarithmic step: the junction limiting of L. W. Nagel, "SPICE2: a computer program to
simulate semiconductor circuits", UCB/ERL M520 (1975).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.circuit.laws import channel_law, junction_law
from incircuit.circuit.network import Network
from incircuit.circuit.values import GATE_LEAK, Values, channel_gmin, channel_sign


@dataclass(frozen=True, slots=True)
class Linearised:
    """Devices at a guess: conductances [S] and constants [A], the parts of the stacks in their order."""

    conductance: list[Floats]
    constant: list[Floats]
    gj: Floats  # junction with its series resistance [S]
    ij: Floats  # its constant [A]
    gm: Floats  # channels [S]
    gds: Floats


def linearise(network: Network, values: Values, vd: Floats, vgs: Floats, vds: Floats,
              source_g: Floats) -> Linearised:
    """Conductances and constants of all devices at a guess; `source_g` [S] of the meter, (scenarios,).

    `vd` are the inner voltages of junctions, `vgs` and `vds` of channels with the sign folded.
    """
    pure, slope = junction_law(vd, values.is_, values.nvt, values.knee)
    gj = slope + values.gmin
    ij = pure - slope * vd
    if values.rs.any():
        split = 1.0 / (1.0 + gj * values.rs)
        gj *= split
        ij *= split
    conductance, constant = [gj], [ij]
    if len(network.couplings):
        cj = network.ends.cj
        keep = slope[cj] * (1.0 - (values.rs * gj)[cj])
        conductance.append(values.gain * keep)
        constant.append(values.gain * (pure - slope * (vd + values.rs * ij))[cj])
    gm = gds = vgs
    if len(network.channels):
        sign = channel_sign(network)
        current, gm, gds = channel_law(vgs, vds, values.vto, values.kp)
        leak = np.full(np.shape(gds), GATE_LEAK)
        conductance += [gm, gds + channel_gmin(values), leak]
        constant += [sign * (current - gm * vgs - gds * vds), -leak * values.charge]
        gm = np.abs(gm)
    if len(network.companions):
        gc = np.broadcast_to(values.gc, (len(network.companions), len(source_g)))
        conductance.append(gc)
        constant.append(-gc * values.ec)
    conductance.append(source_g[None, :])
    return Linearised(conductance, constant, gj, ij, gm, gds)


def limit(new: Floats, old: Floats, values: Values) -> Floats:
    """Junction voltages moved from `old` towards `new`, forward and into breakdown by logarithmic steps."""
    if not (np.abs(new - old) > 0.5 * values.nvt).any():
        return new
    moved = _limit_forward(new, old, values.nvt, values.is_)
    broken = moved < -values.knee
    if broken.any():
        knee = np.where(np.isfinite(values.knee), values.knee, 0.0)
        mirrored = _limit_forward(-(moved + knee), -(old + knee), values.nvt, values.is_)
        moved = np.where(broken, -mirrored - knee, moved)
    return moved


def _limit_forward(new: Floats, old: Floats, nvt: Floats, is_: Floats) -> Floats:
    """Junction voltages moved from `old` towards `new` by at most a logarithmic step (forward only).

    Downwards a step that takes away nearly all of the current takes the voltage that goes with what is
    left: Newton's own step would be n·Vt, over and over.
    """
    rise = (new - old) / nvt
    far = (rise > 2.0) & (new > 0.0)
    idle = (rise < -0.5) & (rise > -1.1) & (old > 3.0 * nvt)
    moved = new.copy()
    if not (idle | far).any():
        return moved
    nvt, is_ = np.broadcast_to(nvt, new.shape), np.broadcast_to(is_, new.shape)
    if idle.any():
        to, at, n = new[idle], old[idle], nvt[idle]
        left = np.maximum(1.0 + rise[idle], 1e-12)
        moved[idle] = np.maximum(at + n * np.log(left), np.minimum(to, 0.0))
    if far.any():
        to, at, n, i = new[far], old[far], nvt[far], is_[far]
        with np.errstate(divide="ignore", invalid="ignore"):
            critical = np.where(i > 0.0, n * np.log(n / (np.sqrt(2.0) * i)), np.inf)
        stepped = np.where(at > 0.0, at + n * np.log1p(rise[far]), n * np.log(np.maximum(to / n, 1.0)))
        moved[far] = np.where(to > critical, stepped, to)
    return moved
