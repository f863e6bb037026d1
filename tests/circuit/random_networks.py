"""Networks made at random, of every element, by a seed: what the solver must never fail on."""

from __future__ import annotations

import numpy as np

from incircuit.circuit.network import Network, compile_network
from incircuit.circuit.solve import Solution, solve
from incircuit.circuit.source import drive
from incircuit.circuit.values import nominal_values
from incircuit.parts.elements import INFINITE, Channel, Element, Junction, Resistance
from tests.circuit.test_junctions import bipolar

SOURCES = ((1e-3, 3.0, 0.3), (7e-4, 1.0, 0.143), (1e-8, 1.0, 1e4), (float("inf"), 3.0, 2000.0))
"""Diode test, ohms, megohms, a moving-coil meter: current [A], open circuit [V], resistance [ohm]."""


class _Maker:
    """Puts elements between random nodes of `n`."""

    def __init__(self, rng: np.random.Generator, n: int) -> None:
        self.rng, self.n = rng, n
        self.elements: list[Element] = []

    def node(self) -> str:
        return str(int(self.rng.integers(self.n)))

    def decade(self, low: float, high: float) -> float:
        return float(10.0 ** self.rng.uniform(low, high))

    def resistors(self, count: int) -> None:
        """Over twelve decades, a link now and then."""
        for k in range(count):
            ohms = 0.0 if self.rng.random() < 0.05 else self.decade(-3, 9)
            self.elements.append(Resistance(f"R{k}", f"R{k}", self.node(), self.node(), ohms))

    def junctions(self, count: int) -> None:
        """With and without breakdown and series resistance."""
        for k in range(count):
            bv = self.rng.uniform(2.0, 30.0) if self.rng.random() < 0.3 else INFINITE
            rs = self.decade(-3, 1) if self.rng.random() < 0.5 else 0.0
            a, cathode = self.node(), self.node()
            self.elements.append(Junction(f"D{k}", f"D{k}", a, cathode, self.decade(-16, -6),
                                          self.rng.uniform(1.0, 2.2), rs, bv, 5e-3))

    def bipolars(self, count: int) -> None:
        for k in range(count):
            c, b, e = self.node(), self.node(), self.node()
            self.elements += bipolar(f"Q{k}", c, b, e, is_=self.decade(-16, -12),
                                     bf=self.rng.uniform(20, 500), br=self.decade(-1, 1),
                                     pnp=self.rng.random() < 0.5)

    def channels(self, count: int) -> None:
        """Gates anywhere, floating ones included; each with its body diode."""
        for k in range(count):
            d, g, s, sign = self.node(), self.node(), self.node(), 1 if self.rng.random() < 0.5 else -1
            self.elements.append(Channel(f"M{k}", f"M{k}", d, g, s, sign * self.rng.uniform(0.5, 5.0),
                                         self.decade(-3, 1.5), sign))
            body = (s, d) if sign > 0 else (d, s)
            self.elements.append(Junction(f"M{k} body", f"M{k}", *body, self.decade(-13, -9), 1.2, 0.01))


def random_elements(rng: np.random.Generator) -> list[Element]:
    """2 to 60 nodes. One in four is crowded: up to 200 junctions, or transistors all over."""
    n = int(rng.integers(2, int(rng.choice([6, 12, 30, 61]))))
    make = _Maker(rng, n)
    make.resistors(int(rng.integers(0, 3 * n)))
    crowd = rng.random()
    make.junctions(int(rng.integers(0, 201 if crowd < 0.1 else 2 * n + 2)))
    make.bipolars(int(rng.integers(0, max(1, n if 0.1 <= crowd < 0.17 else n // 3))))
    make.channels(int(rng.integers(0, max(1, n if 0.17 <= crowd < 0.25 else n // 4))))
    return make.elements


def random_network(seed: int) -> tuple[Network, int]:
    """The network of a seed between nodes 0 and 1, and the direction of the source."""
    rng = np.random.default_rng(seed)
    network = compile_network(random_elements(rng), "0", "1")
    return network, 1 if rng.random() < 0.5 else -1


def solved(seed: int) -> Solution:
    """The network of a seed, solved; raises SolveError where nothing could be proven."""
    network, sign = random_network(seed)
    return solve(network, nominal_values(network), drive(*SOURCES[seed % len(SOURCES)], sign=sign))


def proven(solution: Solution) -> bool:
    """Whether Kirchhoff's residual keeps to 1e-12 A + 1e-9 of the source's current."""
    allowed = 1e-12 + 1e-9 * abs(float(solution.current[0])) * 1.001
    return bool(solution.residual.max() <= allowed and np.isfinite(solution.v).all())
