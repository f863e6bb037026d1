"""Random networks of every element, values over twelve decades: all solved, all proven.

The seeded slice here runs in CI; ``python -m tests.circuit.test_stress FIRST COUNT`` runs any other.
"""

from __future__ import annotations

import sys

import numpy as np
import pytest

from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import Solution, solve
from incircuit.circuit.source import drive
from incircuit.circuit.values import nominal_values
from incircuit.parts.elements import INFINITE, Channel, Element, Junction, Resistance
from tests.circuit.test_junctions import bipolar

SOURCES = ((1e-3, 3.0, 0.3), (7e-4, 1.0, 0.143), (1e-8, 1.0, 1e4), (float("inf"), 3.0, 2000.0))


def random_network(rng: np.random.Generator) -> list[Element]:
    """2 to 60 nodes: resistors and links, junctions with and without breakdown, transistors, channels."""
    n = int(rng.integers(2, int(rng.choice([6, 12, 30, 61]))))
    elements: list[Element] = []

    def node() -> str:
        return str(int(rng.integers(n)))

    for k in range(int(rng.integers(0, 3 * n))):
        ohms = 0.0 if rng.random() < 0.05 else 10.0 ** rng.uniform(-3, 9)
        elements.append(Resistance(f"R{k}", f"R{k}", node(), node(), ohms))
    for k in range(int(rng.integers(0, 2 * n + 2))):
        bv = rng.uniform(2.0, 30.0) if rng.random() < 0.3 else INFINITE
        rs = 10.0 ** rng.uniform(-3, 1) if rng.random() < 0.5 else 0.0
        elements.append(Junction(f"D{k}", f"D{k}", node(), node(), 10.0 ** rng.uniform(-16, -6),
                                 rng.uniform(1.0, 2.2), rs, bv, 5e-3))
    for k in range(int(rng.integers(0, max(1, n // 3)))):
        elements += bipolar(f"Q{k}", node(), node(), node(), is_=10.0 ** rng.uniform(-16, -12),
                            bf=rng.uniform(20, 500), br=10.0 ** rng.uniform(-1, 1), pnp=rng.random() < 0.5)
    for k in range(int(rng.integers(0, max(1, n // 4)))):
        d, g, s, sign = node(), node(), node(), 1 if rng.random() < 0.5 else -1
        elements.append(Channel(f"M{k}", f"M{k}", d, g, s, sign * rng.uniform(0.5, 5.0),
                                10.0 ** rng.uniform(-3, 1.5), sign))
        body = (s, d) if sign > 0 else (d, s)
        elements.append(Junction(f"M{k} body", f"M{k}", *body, 10.0 ** rng.uniform(-13, -9), 1.2, 0.01))
    return elements


def solved(seed: int) -> Solution:
    """The network of a seed, solved; raises SolveError where nothing could be proven."""
    rng = np.random.default_rng(seed)
    network = compile_network(random_network(rng), "0", "1")
    sign = 1 if rng.random() < 0.5 else -1
    return solve(network, nominal_values(network), drive(*SOURCES[seed % len(SOURCES)], sign=sign))


@pytest.mark.parametrize("first", range(0, 1000, 250))
def test_all_solved_and_proven(first: int) -> None:
    for seed in range(first, first + 250):
        solution = solved(seed)
        assert solution.residual.max() <= 1e-12 + 1e-9 * abs(float(solution.current[0])) * 1.001, seed


if __name__ == "__main__":
    begin, count = (int(x) for x in sys.argv[1:3])
    rescued = 0
    for number in range(begin, begin + count):
        rescued += int(solved(number).steps.max() > 0)
    print(f"{count} networks solved and proven, {rescued} by a rescue")
