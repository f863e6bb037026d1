"""What cannot matter does not: parts outside the meter's block changed at random, the reading unmoved."""

from __future__ import annotations

import random
from dataclasses import replace

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board import HEALTHY, parse_board
from incircuit.circuit.build import apply, build
from incircuit.meter.profile import load_meter
from incircuit.parts import change, defects_of
from incircuit.parts.elements import Capacitance, Channel, Coupling, Element, Junction, Resistance
from incircuit.paths.blocks import branches, hangs_on, meters_block
from incircuit.predict.prediction import predict
from incircuit.predict.question import Question, ask_about
from incircuit.predict.reach import can_matter
from tests.circuit.helpers import point
from tests.predict.boards import random_board

NODES = [f"n{k}" for k in range(9)]


def sparse(seed: int) -> list[Element]:
    """Few elements on many nodes: much of it hangs outside the meter's block."""
    r = random.Random(seed)
    found: list[Element] = []
    for k in range(r.randint(3, 12)):
        a, b = r.sample(NODES, 2)
        kind = r.random()
        if kind < 0.6:
            found.append(Resistance(f"R{k} r", f"R{k}", a, b, r.choice([0.5, 47.0, 1e3, 1e5])))
        elif kind < 0.85:
            found.append(Junction(f"D{k} d", f"D{k}", a, b, 2.52e-9, 1.752, 0.568))
        else:
            found.append(Capacitance(f"C{k} c", f"C{k}", a, b, 1e-6))
    if r.random() < 0.5:
        b, c, e = r.sample(NODES, 3)
        found += [Junction("Q be", "Q", b, e, 1e-16), Junction("Q bc", "Q", b, c, 1e-15),
                  Coupling("Q f", "Q", "Q be", c, e, 100.0), Coupling("Q r", "Q", "Q bc", e, c, 2.0)]
    if r.random() < 0.5:
        d, g, s = r.sample(NODES, 3)
        found += [Channel("M ch", "M", d, g, s, 2.0, 0.1), Junction("M body", "M", s, d, 1e-11)]
    return found


def changed(e: Element, r: random.Random) -> Element | None:
    """Another element in its place, or none."""
    if r.random() < 0.3:
        return None
    match e:
        case Resistance():
            return replace(e, ohms=r.choice([0.0, 3.0, 1e6]))
        case Junction():
            return replace(e, is_=1e-6, n=1.0)
        case _:
            return e


@given(st.integers(0, 10**6))
@settings(deadline=None, derandomize=True, max_examples=150)
def test_what_lies_outside_the_block_does_not_move_the_reading(seed: int) -> None:
    elements = sparse(seed)
    inside = {e.name for e in meters_block(elements, "n0", "n1")}
    r = random.Random(seed + 1)
    other: list[Element] = []
    for e in elements:
        now = e if e.name in inside else changed(e, r)
        if now is not None:
            other.append(now)
    gone = {e.name for e in elements} - {e.name for e in other}
    other = [e for e in other if not (isinstance(e, Coupling) and e.junction in gone)]
    one, two = (point(these, "n0", "n1") for these in (elements, other))
    # gmin and the leaks of gates and nodes make up to 1e-11 A of difference where nothing else flows
    assert float(one.pad_voltage[0]) == pytest.approx(float(two.pad_voltage[0]), abs=2e-9, rel=1e-9)


@given(st.integers(0, 10**6))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_the_block_alone_reads_like_the_whole(seed: int) -> None:
    elements = sparse(seed)
    whole = point(elements, "n0", "n1")
    alone = point(meters_block(elements, "n0", "n1"), "n0", "n1")
    assert float(whole.pad_voltage[0]) == pytest.approx(float(alone.pad_voltage[0]), abs=2e-9, rel=1e-9)


@given(st.integers(0, 10**6))
@settings(deadline=None, derandomize=True, max_examples=80)
def test_a_new_branch_joins_the_block_where_its_ends_hang_on_different_nodes(seed: int) -> None:
    """`hangs_on` against the block taken anew with the branch in it."""
    elements = [e for e in sparse(seed) if not isinstance(e, Capacitance)]
    hook = hangs_on(elements, meters_block(elements, "n0", "n1"), "n0", "n1")
    a, b = random.Random(seed).sample(NODES, 2)
    added = Resistance("new", "new", a, b, 10.0)
    joins = added in meters_block([*elements, added], "n0", "n1")
    assert joins == (a in hook and b in hook and hook[a] != hook[b])


def test_capacitances_count_only_while_they_move() -> None:
    rc = [Resistance("R r", "R", "n0", "m", 10.0), Capacitance("C c", "C", "m", "n1", 1e-6)]
    assert meters_block(rc, "n0", "n1") == ()
    assert set(meters_block(rc, "n0", "n1", moving=True)) == set(rc)


def test_a_transistor_couples_all_its_terminals() -> None:
    assert len(branches(Channel("M ch", "M", "d", "g", "s", 2.0, 0.1))) == 3


@given(st.integers(0, 10**6))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_no_single_fault_of_what_cannot_matter_moves_a_reading(seed: int) -> None:
    """Parts and all their faults: the exact value stays to the last digit that the solver proves."""
    meter, r = load_meter("handheld"), random.Random(seed)
    board = random_board(seed, tuple(f"N{k}" for k in range(12)))
    question = ask_about(board, HEALTHY, "N0", "N1")
    can = can_matter(question)
    outside = [p for p in board.parts if p.ref not in can]
    if not outside:
        return
    part = r.choice(outside)
    circuit = build(board)
    own = circuit.of_part(part.ref)
    faults = defects_of(part, own)
    if not faults:
        return
    elements = apply(circuit.elements, change(part, own, r.choice(faults)))
    other = replace(question, circuit=replace(circuit, elements=elements))
    for mode in meter.modes:
        assert nominal(question, mode) == pytest.approx(nominal(other, mode), rel=1e-7, abs=1e-7)


def nominal(question: Question, mode: str) -> float:
    (found,) = predict(question, load_meter("handheld"), [mode], [False])
    return float("inf") if found.band.value is None else found.band.value


def test_who_can_matter_on_a_small_board() -> None:
    """What hangs at one end or is insulated cannot; a capacitor and an open switch across the pads can."""
    text = """board "x"
R1 resistor A B 10
R2 resistor B C 10
R3 resistor X Y 10
S1 switch A B open
C1 capacitor A B 100n
K1 relay A1=A A2=B COM=X NC=Y
"""
    question = ask_about(parse_board(text), HEALTHY, "A", "B")
    assert can_matter(question) == ("R1", "S1", "C1", "K1")


@pytest.mark.published
@settings(deadline=None, derandomize=True, max_examples=300)
@given(st.integers(0, 10**6))
def test_the_block_is_the_one_networkx_finds(seed: int) -> None:
    # reference library: networkx 3, biconnected_component_edges
    r = random.Random(seed)
    nodes = [f"n{k}" for k in range(r.randint(2, 12))]
    ends = [tuple(r.sample(nodes, 2)) for _ in range(r.randint(1, 18))]
    red, black = r.sample(nodes, 2)
    elements = [Resistance(f"R{k} r", f"R{k}", a, b, 1.0) for k, (a, b) in enumerate(ends)]
    graph = nx.Graph([*ends, (red, black)])
    blocks = [{frozenset(edge) for edge in some} for some in nx.biconnected_component_edges(graph)]
    inside = next(edges for edges in blocks if frozenset((red, black)) in edges)
    assert meters_block(elements, red, black) == tuple(e for e in elements if frozenset((e.a, e.b)) in inside)
