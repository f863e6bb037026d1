"""Networks made at random, of every element, by a seed: what the solver must never fail on.

A seed is a topology: who stands between which nodes. Each `draw` of it gives every element other values
and the pads another source: a network of its own, solved beside the others in one batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace

import numpy as np

from incircuit.circuit.network import Network, compile_network
from incircuit.circuit.solve import Solution, solve
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values, nominal_values
from incircuit.parts.elements import INFINITE, Channel, Coupling, Element, Junction, Resistance
from tests.circuit.test_junctions import bipolar

SOURCES = ((1e-3, 3.0, 0.3), (7e-4, 1.0, 0.143), (1e-8, 1.0, 1e4), (float("inf"), 3.0, 2000.0))
"""Diode test, ohms, megohms, a moving-coil meter: current [A], open circuit [V], resistance [ohm]."""


class _Maker:
    """Puts elements between random nodes of `n`, as `where` says, with values as `what` says."""

    def __init__(self, where: np.random.Generator, what: np.random.Generator, n: int) -> None:
        self.where, self.what, self.n = where, what, n
        self.elements: list[Element] = []

    def node(self) -> str:
        return str(int(self.where.integers(self.n)))

    def chance(self) -> float:
        return float(self.where.random())

    def decade(self, low: float, high: float) -> float:
        return float(10.0 ** self.what.uniform(low, high))

    def resistors(self, count: int) -> None:
        """Over twelve decades, a link now and then."""
        for k in range(count):
            ohms = 0.0 if self.chance() < 0.05 else self.decade(-3, 9)
            self.elements.append(Resistance(f"R{k}", f"R{k}", self.node(), self.node(), ohms))

    def junctions(self, count: int) -> None:
        """With and without breakdown and series resistance."""
        for k in range(count):
            bv = self.what.uniform(2.0, 30.0) if self.what.random() < 0.3 else INFINITE
            rs = self.decade(-3, 1) if self.what.random() < 0.5 else 0.0
            self.elements.append(Junction(f"D{k}", f"D{k}", self.node(), self.node(), self.decade(-16, -6),
                                          self.what.uniform(1.0, 2.2), rs, bv, 5e-3))

    def bipolars(self, count: int) -> None:
        for k in range(count):
            c, b, e = self.node(), self.node(), self.node()
            self.elements += bipolar(f"Q{k}", b, c, e, is_=self.decade(-16, -12),
                                     bf=self.what.uniform(20, 500), br=self.decade(-1, 1),
                                     pnp=self.chance() < 0.5)

    def channels(self, count: int) -> None:
        """Gates anywhere, floating ones included; each with its body diode."""
        for k in range(count):
            d, g, s, sign = self.node(), self.node(), self.node(), 1 if self.chance() < 0.5 else -1
            self.elements.append(Channel(f"M{k}", f"M{k}", d, g, s, sign * self.what.uniform(0.5, 5.0),
                                         self.decade(-3, 1.5), sign))
            body = (s, d) if sign > 0 else (d, s)
            self.elements.append(Junction(f"M{k} body", f"M{k}", *body, self.decade(-13, -9), 1.2, 0.01))


def random_elements(seed: int, draw: int = 0) -> list[Element]:
    """2 to 60 nodes. One in four is crowded: up to 200 junctions, or transistors all over."""
    where = np.random.default_rng(seed)
    n = int(where.integers(2, int(where.choice([6, 12, 30, 61]))))
    make = _Maker(where, np.random.default_rng((seed, draw)), n)
    make.resistors(int(where.integers(0, 3 * n)))
    crowd = where.random()
    make.junctions(int(where.integers(0, 201 if crowd < 0.1 else 2 * n + 2)))
    make.bipolars(int(where.integers(0, max(1, n if 0.1 <= crowd < 0.17 else n // 3))))
    make.channels(int(where.integers(0, max(1, n if 0.17 <= crowd < 0.25 else n // 4))))
    return make.elements


def random_network(seed: int) -> Network:
    """The topology of a seed between nodes 0 and 1, with the values of its first draw."""
    return compile_network(random_elements(seed), "0", "1")


def random_values(network: Network, seed: int, draws: Sequence[int]) -> tuple[Values, Drive]:
    """Values and sources of some draws, a column each."""
    drawn = [nominal_values(_with_values(network, seed, draw)) for draw in draws]
    stacked = {f.name: np.concatenate([getattr(v, f.name) for v in drawn], axis=1) for f in fields(Values)}
    picks = [np.random.default_rng((seed, draw, 1)) for draw in draws]
    current, volts, ohms = np.array([SOURCES[int(rng.integers(len(SOURCES)))] for rng in picks]).T
    signs = np.array([rng.choice([-1.0, 1.0]) for rng in picks])
    return Values(**stacked), Drive(current, volts, ohms, signs)


def _with_values(network: Network, seed: int, draw: int) -> Network:
    """The same topology with the elements of another draw, in the places of those of the same names."""
    found = random_elements(seed, draw)
    resistances = {e.name: e for e in found if isinstance(e, Resistance)}
    junctions = {e.name: e for e in found if isinstance(e, Junction)}
    couplings = {e.name: e for e in found if isinstance(e, Coupling)}
    channels = {e.name: e for e in found if isinstance(e, Channel)}
    return replace(network, resistances=tuple(resistances[e.name] for e in network.resistances),
                   junctions=tuple(junctions[e.name] for e in network.junctions),
                   couplings=tuple(couplings[e.name] for e in network.couplings),
                   channels=tuple(channels[e.name] for e in network.channels))


def solved(seed: int, draws: Sequence[int] = (0,)) -> Solution:
    """Some draws of a seed, solved together; raises SolveError where nothing could be proven."""
    network = random_network(seed)
    return solve(network, *random_values(network, seed, draws))


def proven(solution: Solution) -> bool:
    """Whether Kirchhoff's residual keeps to 1e-12 A + 1e-9 of the source's current in every column."""
    allowed = 1e-12 + 1e-9 * np.abs(solution.current) * 1.001
    return bool((solution.residual <= allowed).all() and np.isfinite(solution.v).all())
