"""What must hold for every network, on random ones."""

from __future__ import annotations

import math

import networkx as nx
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.circuit.helpers import Triple, diode, ohms, point, resistances

VALUES = st.floats(-2.0, 7.0).map(lambda x: 10.0**x)


@st.composite
def connected(draw: st.DrawFn, most: int = 8) -> list[Triple]:
    """A connected network of resistors over nine decades."""
    n = draw(st.integers(2, most))
    triples = [(str(draw(st.integers(0, k - 1))), str(k), draw(VALUES)) for k in range(1, n)]
    for _ in range(draw(st.integers(0, 10))):
        a, b = draw(st.integers(0, n - 1)), draw(st.integers(0, n - 1))
        if a != b:
            triples.append((str(a), str(b), draw(VALUES)))
    return triples


def graph_of(triples: list[Triple]) -> nx.Graph:
    graph = nx.Graph()
    for a, b, r in triples:
        g = 1.0 / r + (1.0 / graph[a][b]["r"] if graph.has_edge(a, b) else 0.0)
        graph.add_edge(a, b, r=1.0 / g)
    return graph


@given(connected())
def test_foster(triples: list[Triple]) -> None:
    """Σ R(in place)/R(alone) = n − 1 (R. M. Foster, 1949)."""
    n = graph_of(triples).number_of_nodes()
    assert sum(ohms(triples, a, b) / r for a, b, r in triples) == pytest.approx(n - 1, rel=1e-6)


@pytest.mark.published
@given(connected(6))
def test_networkx_resistance_distance(triples: list[Triple]) -> None:
    """networkx `resistance_distance` on the same graph (reference library)."""
    graph = graph_of(triples)
    values = [r for _, _, r in triples]
    assume(max(values) / min(values) < 1e6)  # its pseudo-inverse loses digits beyond
    nodes = sorted(graph)
    expected = nx.resistance_distance(graph, nodes[0], nodes[-1], weight="r", invert_weight=True)
    assert ohms(triples, nodes[0], nodes[-1]) == pytest.approx(expected, rel=1e-5)


@given(connected(), VALUES, st.data())
def test_rayleigh(triples: list[Triple], extra: float, data: st.DataObject) -> None:
    """One more resistor never raises a resistance (Rayleigh's monotonicity law)."""
    nodes = sorted(graph_of(triples))
    pick = st.sampled_from(nodes)
    a, b, red, black = (data.draw(pick) for _ in range(4))
    assume(a != b and red != black)
    assert ohms([*triples, (a, b, extra)], red, black) <= ohms(triples, red, black) * (1 + 1e-7)


@given(connected(), st.randoms(use_true_random=False))
def test_order_and_names_do_not_matter(triples: list[Triple], random: object) -> None:
    nodes = sorted(graph_of(triples))
    red, black = nodes[0], nodes[-1]
    renamed = {n: f"net-{hash(n) % 97}-{n}" for n in nodes}
    shuffled = [(renamed[a], renamed[b], r) for a, b, r in triples]
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert ohms(shuffled, renamed[red], renamed[black]) == pytest.approx(ohms(triples, red, black), rel=1e-7)


@given(connected())
def test_probes_swapped(triples: list[Triple]) -> None:
    """A network without junctions reads the same both ways round."""
    nodes = sorted(graph_of(triples))
    assert ohms(triples, nodes[0], nodes[-1]) == pytest.approx(ohms(triples, nodes[-1], nodes[0]), rel=1e-7)


@given(connected(5), st.data())
def test_reciprocity(triples: list[Triple], data: st.DataObject) -> None:
    """A current driven into one pair and the voltage on another pair may change places."""
    nodes = sorted(graph_of(triples))
    pick = st.sampled_from(nodes)
    a, b, c, d = (data.draw(pick) for _ in range(4))
    assume(a != b and c != d)
    here = point(resistances(triples), a, b, current=math.inf, volts=1.0, resistance=10.0)
    there = point(resistances(triples), c, d, current=math.inf, volts=1.0, resistance=10.0)
    seen = float((here.voltage(c) - here.voltage(d))[0] / here.current[0])
    back = float((there.voltage(a) - there.voltage(b))[0] / there.current[0])
    scale = max(ohms(triples, a, b), ohms(triples, c, d))
    assert seen == pytest.approx(back, abs=1e-8 * scale)


@given(connected(5), st.lists(st.tuples(st.integers(0, 4), st.integers(0, 4)), max_size=6), st.booleans())
@settings(max_examples=150)
def test_passive_with_junctions(triples: list[Triple], pairs: list[tuple[int, int]], turned: bool) -> None:
    """With junctions anywhere: no node leaves the range between the pads (maximum principle)."""
    elements = resistances(triples)
    elements += [diode(f"D{k}", str(a), str(b)) for k, (a, b) in enumerate(pairs) if a != b]
    solution = point(elements, "0", "1", sign=-1 if turned else 1)
    low, high = sorted((0.0, float(solution.pad_voltage[0])))
    assert float(solution.v.min()) >= low - 1e-9
    assert float(solution.v.max()) <= high + 1e-9


def test_floating_pieces_and_open_pads() -> None:
    """No path for direct current: the source stands at its compliance."""
    elements = [*resistances([("a", "b", 10.0), ("c", "d", 10.0)]), diode("D1", "e", "f")]
    for red, black in (("a", "c"), ("a", "nothing"), ("e", "a"), ("x", "y")):
        assert float(point(elements, red, black).pad_voltage[0]) == pytest.approx(3.0, abs=1e-6)


def test_pads_on_one_node() -> None:
    solution = point(resistances([("a", "b", 0.0), ("b", "c", 5.0)]), "a", "b")
    assert float(solution.pad_voltage[0]) == 0.0
    assert float(solution.current[0]) == pytest.approx(1e-3)


def test_extreme_ratio() -> None:
    """0.01 ohm beside 10 M: both digits and residual hold."""
    assert ohms([("a", "b", 0.01), ("b", "c", 10e6), ("a", "c", 10e6)], "a", "b") == pytest.approx(
        1.0 / (100.0 + 1 / 20e6), rel=1e-12)


def test_empty_board() -> None:
    assert float(point([], "a", "b").pad_voltage[0]) == pytest.approx(3.0)
