"""Networks made at random, of every element, by a seed: what the solver must never fail on.

A seed is a topology: who stands between which nodes. Each `draw` of it gives every element other values
and the pads another source: a network of its own, solved beside the others in one batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.circuit.laws import breakdown_knee, thermal_voltage
from incircuit.circuit.network import Network, compile_network
from incircuit.circuit.solve import Solution, solve
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values, nominal_values
from incircuit.parts.elements import INFINITE, Channel, Element, Junction, Resistance
from tests.circuit.test_junctions import bipolar

SOURCES = ((1e-3, 3.0, 0.3), (7e-4, 1.0, 0.143), (1e-8, 1.0, 1e4), (float("inf"), 3.0, 2000.0))
"""Diode test, ohms, megohms, a moving-coil meter: current [A], open circuit [V], resistance [ohm]."""


DRAWS = 8
"""Draws of a topology; any of them may be left out without changing the others."""


class _Maker:
    """Puts elements between random nodes of `n`; values are those of no draw, but links are links."""

    def __init__(self, rng: np.random.Generator, n: int) -> None:
        self.rng, self.n = rng, n
        self.elements: list[Element] = []

    def nodes(self, count: int) -> list[str]:
        return [str(k) for k in self.rng.integers(self.n, size=count).tolist()]

    def chance(self) -> float:
        return float(self.rng.random())

    def resistors(self, count: int) -> None:
        """A link now and then."""
        for k in range(count):
            ohms = 0.0 if self.chance() < 0.05 else 1e3
            a, b = self.nodes(2)
            self.elements.append(Resistance(f"R{k}", f"R{k}", a, b, ohms))

    def junctions(self, count: int) -> None:
        for k in range(count):
            a, cathode = self.nodes(2)
            self.elements.append(Junction(f"D{k}", f"D{k}", a, cathode, 1e-9))

    def bipolars(self, count: int) -> None:
        for k in range(count):
            self.elements += bipolar(f"Q{k}", *self.nodes(3), pnp=self.chance() < 0.5)

    def channels(self, count: int) -> None:
        """Gates anywhere, floating ones included; each with its body diode."""
        for k in range(count):
            (d, g, s), sign = self.nodes(3), 1 if self.chance() < 0.5 else -1
            self.elements.append(Channel(f"M{k}", f"M{k}", d, g, s, sign * 2.0, 1.0, sign))
            body = (s, d) if sign > 0 else (d, s)
            self.elements.append(Junction(f"M{k} body", f"M{k}", *body, 1e-12, 1.2, 0.01))


def random_elements(seed: int) -> list[Element]:
    """2 to 60 nodes. One in four is crowded: up to 200 junctions, or transistors all over."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, int(rng.choice([6, 12, 30, 61]))))
    make = _Maker(rng, n)
    make.resistors(int(rng.integers(0, 3 * n)))
    crowd = rng.random()
    make.junctions(int(rng.integers(0, 201 if crowd < 0.1 else 2 * n + 2)))
    make.bipolars(int(rng.integers(0, max(1, n if 0.1 <= crowd < 0.17 else n // 3))))
    make.channels(int(rng.integers(0, max(1, n if 0.17 <= crowd < 0.25 else n // 4))))
    return make.elements


def random_network(seed: int) -> Network:
    """The topology of a seed between nodes 0 and 1."""
    return compile_network(random_elements(seed), "0", "1")


def random_values(network: Network, seed: int) -> tuple[Values, Drive]:
    """Values and sources of all draws, a column each, independent of one another.

    Resistances over twelve decades; junctions over ten, with and without breakdown and series resistance;
    transistors of every gain; thresholds of 0.5 to 5 V over four and a half decades of strength.
    """
    rng = np.random.default_rng((seed, 1))
    values = nominal_values(network)
    current, volts, ohms = np.array(SOURCES)[rng.integers(len(SOURCES), size=DRAWS)].T
    drive = Drive(current, volts, ohms, rng.choice([-1.0, 1.0], DRAWS))
    channels = (len(network.channels), DRAWS)
    values = replace(values, g=1.0 / _decades(rng, -3.0, 9.0, len(network.resistances)),
                     vto=rng.uniform(0.5, 5.0, channels), kp=_decades(rng, -3.0, 1.5, channels[0]))
    return _drawn_junctions(network, values, rng), drive


def _decades(rng: np.random.Generator, low: float, high: float, rows: int) -> Floats:
    return np.asarray(10.0 ** rng.uniform(low, high, (rows, DRAWS)))


def _drawn_junctions(network: Network, values: Values, rng: np.random.Generator) -> Values:
    """Diodes, body diodes and bipolar transistors by the names of their junctions."""
    names = [j.name for j in network.junctions]
    rows, vt = len(names), thermal_voltage()
    is_, n = _decades(rng, -16.0, -6.0, rows), rng.uniform(1.0, 2.2, (rows, DRAWS))
    rs = _decades(rng, -3.0, 1.0, rows) * (rng.random((rows, DRAWS)) < 0.5)
    bv = np.where(rng.random((rows, DRAWS)) < 0.3, rng.uniform(2.0, 30.0, (rows, DRAWS)), INFINITE)
    gain = np.array(np.broadcast_to(values.gain, (len(network.couplings), DRAWS)))
    parts = sorted({c.part for c in network.couplings})
    strength = dict(zip(parts, _decades(rng, -16.0, -12.0, len(parts)), strict=True))
    for k, coupling in enumerate(network.couplings):
        forward = coupling.name.endswith(" f")
        gain[k] = rng.uniform(20.0, 500.0, DRAWS) if forward else _decades(rng, -1.0, 1.0, 1)[0]
        is_[names.index(coupling.junction)] = strength[coupling.part] / gain[k]
    for k, name in enumerate(names):
        if not name.startswith("D"):
            n[k], rs[k], bv[k] = (1.2, 0.01, INFINITE) if name.endswith("body") else (1.0, 0.0, INFINITE)
            is_[k] *= 1e-3 if name.endswith("body") else 1.0
    return replace(values, is_=is_, nvt=n * vt, rs=rs, knee=breakdown_knee(bv, 5e-3, is_, n, vt), gain=gain)


def solved(seed: int, draws: Sequence[int] = (0,)) -> Solution:
    """Some draws of a seed, solved together; raises SolveError where nothing could be proven."""
    network = random_network(seed)
    values, drive = random_values(network, seed)
    some = np.array(draws, dtype=np.intp)
    return solve(network, values.take(some), drive.take(some))


def proven(solution: Solution) -> bool:
    """Whether Kirchhoff's residual keeps to 1e-12 A + 1e-9 of the source's current in every column."""
    allowed = 1e-12 + 1e-9 * np.abs(solution.current) * 1.001
    return bool((solution.residual <= allowed).all() and np.isfinite(solution.v).all())
