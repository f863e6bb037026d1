"""Shares of the meter's current on networks whose answer is known."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.parts.elements import Element, Junction, Resistance
from incircuit.paths.shares import arcs, current_paths, part_shares
from tests.circuit.helpers import point, resistances

BRIDGE = [("1", "2", 150.0), ("1", "3", 50.0), ("2", "3", 100.0), ("2", "0", 300.0), ("3", "0", 250.0)]


def network(seed: int, nodes: int = 6) -> list[Element]:
    """A connected network of resistors and some junctions, pads n0 and n1."""
    r = random.Random(seed)
    names = [f"n{k}" for k in range(nodes)]
    triples = [(names[k], names[r.randrange(k)], r.choice([1.0, 10.0, 470.0, 1e4])) for k in range(1, nodes)]
    triples += [(*r.sample(names, 2), r.choice([1.0, 33.0, 1e3])) for _ in range(r.randint(0, 6))]
    found = resistances(triples)
    for k in range(r.randint(0, 3)):
        a, b = r.sample(names, 2)
        found.append(Junction(f"D{k} d", f"D{k}", a, b, 2.52e-9, 1.752, 0.568))
    return found


@pytest.mark.published
def test_the_current_through_a_bridge_splits_as_kuphaldt_has_it() -> None:
    """Lessons In Electric Circuits I ch. 10: 24 V drive 0.136092 A; at node 1 it splits by Ohm's law."""
    solution = point(resistances(BRIDGE), "1", "0", current=float("inf"), volts=24.0, resistance=1e-3)
    total, volts = float(solution.current[0]), float(solution.pad_voltage[0])
    assert 24 * total / volts == pytest.approx(0.136092, abs=5e-7)
    shares = dict(part_shares(current_paths(solution)))
    v2, v3 = (float(solution.voltage(node)[0]) for node in ("2", "3"))
    for part, amps in (("R0", (volts - v2) / 150), ("R1", (volts - v3) / 50),
                       ("R3", v2 / 300), ("R4", v3 / 250)):
        assert shares[part] == pytest.approx(amps / total, rel=1e-6)
    assert shares["R2"] == pytest.approx(abs(v2 - v3) / 100 / total, rel=1e-6)


def test_parallel_resistors_share_as_their_conductances() -> None:
    solution = point(resistances([("a", "b", 10.0), ("a", "b", 40.0), ("a", "b", 50.0)]), "a", "b")
    shares = dict(part_shares(current_paths(solution)))
    total = 1 / 10 + 1 / 40 + 1 / 50
    assert shares == pytest.approx({"R0": 0.1 / total, "R1": 0.025 / total, "R2": 0.02 / total})


@given(st.integers(0, 10**6))
@settings(deadline=None, derandomize=True, max_examples=80)
def test_paths_are_walks_from_pad_to_pad_that_carry_the_current(seed: int) -> None:
    """Kirchhoff: the paths' shares sum to all but what is too little to list; each is a walk down the
    voltage, and no arc carries more than its current."""
    solution = point(network(seed), "n0", "n1")
    net, paths = solution.network, current_paths(solution, most=1000)
    if not paths:
        assert net.shorted
        return
    assert sum(p.share for p in paths) == pytest.approx(1.0, abs=0.05)
    carried: dict[tuple[int, int, str], float] = {}
    for path in paths:
        assert path.nodes[0] == net.red
        assert path.nodes[-1] == net.black
        assert len(set(path.nodes)) == len(path.nodes) == len(path.hops) + 1
        drop = [float(solution.v[n, 0]) for n in path.nodes]
        assert drop == sorted(drop, reverse=True)
        for k, part in enumerate(path.hops):
            step = (path.nodes[k], path.nodes[k + 1], part)
            carried[step] = carried.get(step, 0.0) + path.share
    flows = {(a.tail, a.head, a.part): a.amps / float(solution.current[0]) for a in arcs(solution)}
    assert all(share <= flows[step] + 1e-9 for step, share in carried.items())


@given(st.integers(0, 10**6))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_shares_of_a_cut_sum_to_the_whole(seed: int) -> None:
    """Foster's rule in currents: in a resistor network, what the parts at a pad carry is all the current."""
    elements = [e for e in network(seed) if isinstance(e, Resistance)]
    solution = point(elements, "n0", "n1")
    shares = dict(part_shares(current_paths(solution, most=1000)))
    at_pad = [e.part for e in elements if "n0" in (e.a, e.b) and e.a != e.b]
    assert sum(shares.get(part, 0.0) for part in at_pad) == pytest.approx(1.0, abs=0.02)


def test_power_shares_of_a_cube() -> None:
    """Cube of equal resistors across the body diagonal, 5/6 R: every edge carries 1/3 or 1/6."""
    edges = [(f"{a:03b}", f"{a ^ (1 << k):03b}", 1.0) for a in range(8) for k in range(3) if a < a ^ (1 << k)]
    solution = point(resistances(edges), "000", "111")
    assert float(solution.pad_voltage[0] / solution.current[0]) == pytest.approx(5 / 6)
    shares = sorted(share for _, share in part_shares(current_paths(solution)))
    assert shares == pytest.approx([1 / 6] * 6 + [1 / 3] * 6, rel=1e-6)


def test_leakage_has_no_path() -> None:
    blocked = point([Junction("D1 d", "D1", "b", "a", 1e-14)], "a", "b")
    assert current_paths(blocked) == ()
