"""Resistor networks with published or provable answers."""

from __future__ import annotations

import math
from fractions import Fraction

import networkx as nx
import pytest

from tests.circuit.helpers import Triple, ohms, point, resistances

BRIDGE: list[Triple] = [("1", "2", 150), ("1", "3", 50), ("2", "3", 100), ("2", "0", 300), ("3", "0", 250)]


def close(value: float, exact: float | Fraction, relative: float = 1e-9) -> bool:
    return math.isclose(value, float(exact), rel_tol=relative)


@pytest.mark.published
@pytest.mark.parametrize(("source", "triples", "pads", "answer"), [
    ("LIEC DC ch. 5: 10k, 2k and 1k in parallel",
     [("a", "b", 10e3), ("a", "b", 2e3), ("a", "b", 1e3)], ("a", "b"), 625),
    ("LIEC DC ch. 7: (100 || 250) + (350 || 200)",
     [("a", "m", 100), ("a", "m", 250), ("m", "b", 350), ("m", "b", 200)], ("a", "b"), Fraction(15300, 77)),
    ("LIEC DC ch. 10: unbalanced bridge", BRIDGE, ("1", "0"), Fraction(6525, 37)),
    ("University Physics 2, series and parallel: 7 + (10 || (6 + 4))",
     [("a", "m", 7), ("m", "b", 10), ("m", "n", 6), ("n", "b", 4)], ("a", "b"), 12),
    ("LIEC DC ch. 8: 250 M beside a 10 M meter",
     [("a", "b", 250e6), ("a", "b", 10e6)], ("a", "b"), Fraction(125_000_000, 13)),
])
def test_published_value(source: str, triples: list[Triple], pads: tuple[str, str], answer: float) -> None:
    # nodes leak 1e-18 S to the black pad
    assert close(ohms(triples, *pads), answer), source


@pytest.mark.published
def test_bridge_current() -> None:
    """24 V on the unbalanced bridge drives 0.136092 A (LIEC DC ch. 10)."""
    solution = point(resistances(BRIDGE), "1", "0", current=math.inf, volts=24.0, resistance=1e-3)
    assert float(solution.current[0]) == pytest.approx(0.136092, abs=2e-6)


@pytest.mark.parametrize(("pads", "answer"), [
    (("1", "2"), Fraction(2625, 37)), (("1", "3"), Fraction(1525, 37)), (("2", "3"), Fraction(2200, 37)),
    (("2", "0"), Fraction(5700, 37)), (("3", "0"), Fraction(5500, 37)),
])
def test_each_resistor_of_the_bridge_in_place(pads: tuple[str, str], answer: Fraction) -> None:
    """150, 50, 100, 300, 250 read in place; exact by computation."""
    assert close(ohms(BRIDGE, *pads), answer)


@pytest.mark.published
def test_megohm_divider() -> None:
    """24 V, 250 M and a 10 M meter beside 250 M: the meter shows 0.8889 V (LIEC DC ch. 8)."""
    triples = [("src", "x", 250e6), ("x", "g", 250e6), ("x", "g", 10e6)]
    solution = point(resistances(triples), "src", "g", current=math.inf, volts=24.0, resistance=1.0)
    assert float(solution.voltage("x")[0]) == pytest.approx(0.8889, abs=5e-5)


@pytest.mark.published
def test_balanced_bridge_has_no_voltage_across() -> None:
    """R2/R1 = 0.625 and R3 = 2500 balance with Rx = 1562.5 (College Physics, null measurements)."""
    triples = [("t", "l", 1000), ("l", "g", 625), ("t", "r", 2500), ("r", "g", 1562.5)]
    solution = point(resistances(triples), "t", "g", current=math.inf, volts=3.0, resistance=1.0)
    assert abs(float(solution.voltage("l")[0] - solution.voltage("r")[0])) < 1e-12


def grid(side: int) -> list[Triple]:
    found: list[Triple] = []
    for x in range(side):
        for y in range(side):
            if x + 1 < side:
                found.append((f"{x} {y}", f"{x + 1} {y}", 1.0))
            if y + 1 < side:
                found.append((f"{x} {y}", f"{x} {y + 1}", 1.0))
    return found


@pytest.mark.published
def test_ten_by_ten_grid() -> None:
    """Rosetta Code, "Resistor mesh": two nodes of a 10 by 10 grid of 1 ohm, an exact fraction."""
    exact = Fraction(455859137025721, 283319837425200)
    assert close(ohms(grid(10), "1 1", "7 6"), exact, 1e-11)


@pytest.mark.published
@pytest.mark.parametrize(("dx", "dy", "limit"), [
    (1, 0, 0.5), (1, 1, 2 / math.pi), (2, 1, 4 / math.pi - 0.5)])
def test_large_grid_nears_the_infinite_one(dx: int, dy: int, limit: float) -> None:
    """Atkinson and van Steenwijk, Am. J. Phys. 67 (1999) 486; the finite grid is a little above."""
    side = 41
    value = ohms(grid(side), f"{side // 2} {side // 2}", f"{side // 2 + dx} {side // 2 + dy}")
    assert limit < value < limit * 1.005


@pytest.mark.parametrize(("other", "answer"), [
    ((0, 0, 1), Fraction(7, 12)), ((0, 1, 1), Fraction(3, 4)), ((1, 1, 1), Fraction(5, 6))])
def test_cube(other: tuple[int, int, int], answer: Fraction) -> None:
    """Twelve equal resistors on the edges of a cube: edge, face and body diagonal; exact."""
    graph = nx.hypercube_graph(3)
    triples = [(str(a), str(b), 1.0) for a, b in graph.edges]
    assert close(ohms(triples, str((0, 0, 0)), str(other)), answer)


@pytest.mark.parametrize("n", [2, 3, 7, 20])
def test_complete_graph(n: int) -> None:
    """Any pair of n nodes joined each to each by R: 2R/n; exact."""
    triples = [(str(a), str(b), 47.0) for a in range(n) for b in range(a)]
    assert close(ohms(triples, "0", "1"), Fraction(94, n))


@pytest.mark.parametrize("sections", [1, 2, 3, 8])
def test_r_2r_ladder(sections: int) -> None:
    """A terminated R–2R ladder shows R at its output, whatever its length; exact."""
    triples: list[Triple] = [("0", "g", 20e3)]
    for k in range(sections):
        triples += [(str(k), "g", 20e3)] if k else [("0", "g", 20e3)]
        triples += [(str(k), str(k + 1), 10e3)]
    # at the last node the ladder looks like R + R; with its own 2R beside it R remains
    triples.append((str(sections), "g", 20e3))
    assert close(ohms(triples, str(sections), "g"), 10e3)


def test_unit_ladder_walks_through_fibonacci() -> None:
    """k sections of 1 ohm in series and 1 ohm across: 2, 5/3, 13/8, 34/21 …; exact."""
    expected = [Fraction(2), Fraction(5, 3), Fraction(13, 8), Fraction(34, 21)]
    for k, answer in enumerate(expected, start=1):
        triples: list[Triple] = []
        for j in range(k):
            triples += [(str(j), str(j + 1), 1.0), (str(j + 1), "g", 1.0)]
        assert close(ohms(triples, "0", "g"), answer)
