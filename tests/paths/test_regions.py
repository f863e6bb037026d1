"""A board cut at its rails: readings from a neighbourhood as from the whole board, and forms of networks."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.advise.limits import limits_between
from incircuit.advise.outcomes import asks_of
from incircuit.board import parse_board
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Element, Junction, Resistance
from incircuit.parts.structure import moved, node_fields
from incircuit.paths.canonical import form_of
from incircuit.paths.cuts import cheapest_cut
from incircuit.paths.ports import elements_between, ways_of
from incircuit.paths.regions import land_of, region_of
from tests.compare.circuits import board as circuit_named
from tests.compare.circuits import shipped

METER = load_meter("handheld")
NODES = st.sampled_from("ABCDE")
ELEMENTS = st.lists(st.tuples(st.booleans(), NODES, NODES, st.sampled_from([10.0, 1e3, 4.7e4])), min_size=1,
                    max_size=9)


def _network(drawn: list[tuple[bool, str, str, float]]) -> list[Element]:
    return [Resistance(f"R{k} r", f"R{k}", a, b, ohms) if plain else Junction(f"D{k} d", f"D{k}", a, b, 1e-9)
            for k, (plain, a, b, ohms) in enumerate(drawn)]


def _renamed(elements: list[Element], to: dict[str, str], rng: random.Random) -> list[Element]:
    named = [replace(moved(e, {f: to[n] for f, n in node_fields(e).items()}), name=f"X{k} x", part=f"X{k}")
             for k, e in enumerate(elements)]
    return rng.sample(named, len(named))


@settings(deadline=None, derandomize=True, max_examples=80)
@given(ELEMENTS, st.randoms(use_true_random=False))
def test_the_form_does_not_depend_on_names_or_order(drawn: list[tuple[bool, str, str, float]],
                                                    rng: random.Random) -> None:
    elements = _network(drawn)
    to = dict(zip("ABCDE", rng.sample("vwxyz", 5), strict=True))
    other = _renamed(elements, to, rng)
    one, two = form_of(elements, ("A", "B")), form_of(other, (to["A"], to["B"]))
    assert one.rows == two.rows
    # number by number the same elements between the same nodes
    for k, j in zip(one.elements, two.elements, strict=True):
        ends = [{one.nodes[n] for n in node_fields(elements[k]).values()},
                {two.nodes[n] for n in node_fields(other[j]).values()}]
        assert ends[0] == ends[1]


@settings(deadline=None, derandomize=True, max_examples=40)
@given(ELEMENTS, st.integers(0, 8))
def test_another_value_or_a_turned_junction_is_another_form(drawn: list[tuple[bool, str, str, float]],
                                                            at: int) -> None:
    elements = _network(drawn)
    k = at % len(elements)
    e = elements[k]
    changed = replace(e, ohms=e.ohms * 1.1) if isinstance(e, Resistance) else replace(e, is_=2e-9)  # type: ignore[union-attr]
    other = [*elements[:k], changed, *elements[k + 1:]]
    assert form_of(elements, ("A", "B")).rows != form_of(other, ("A", "B")).rows


def test_a_pad_nothing_touches_is_part_of_the_form() -> None:
    elements: list[Element] = [Resistance("R1 r", "R1", "A", "B", 1e3)]
    assert form_of(elements, ("A", "B")).rows != form_of(elements, ("A", "nowhere")).rows


def test_equal_stages_in_parallel_are_one_stage_exactly() -> None:
    stage = "R{k}1 resistor P M{k} 1k\nD{k} diode A=M{k} K=N{k} signal\nR{k}2 resistor N{k} G 470R\n"
    board = parse_board("".join(stage.format(k=k) for k in range(40)))
    circuit = build(board)
    land = land_of(circuit.elements)
    assert land.rails == {"P", "G"}
    assert [len(m) for m in land.alike] == [40]
    region = region_of(land, "P", "G")
    assert len(region.elements) == 3
    asks = asks_of(METER)
    near = limits_between(replace(circuit, elements=region.elements), [], "P", "G", METER, asks)
    whole = limits_between(circuit, [], "P", "G", METER, asks)
    assert near[0] == pytest.approx(whole[0], rel=1e-4)  # gmin is one junction's
    # from inside one stage the other 39 are seen through the rails
    inside = region_of(land, "M0", "N0")
    assert {e.part for e in inside.elements if e.part} == {"R01", "D0", "R02"}


@pytest.mark.parametrize(("name", "pair"), [("half-bridge", ("BUS", "RTN")),
                                            ("audio-amp/audio-amp", ("B1", "C1")),
                                            ("pump-drive/inverter", ("HIU", "RTN"))])
def test_a_sheet_is_its_own_neighbourhood(name: str, pair: tuple[str, str]) -> None:
    land = land_of(build(circuit_named(name)).elements)
    region = region_of(land, *pair)
    assert {e.name for e in region.elements} == region.single == {e.name for e in land.elements}


@pytest.mark.parametrize("pair", [("GATE", "RTN"), ("OA", "+12V"), ("RXC", "GND"), ("PB", "PWM")])
def test_a_neighbourhood_reads_as_the_whole_pump_drive(pair: tuple[str, str]) -> None:
    circuit = build(shipped("pump-drive/pump-drive"))
    region = region_of(land_of(circuit.elements), *pair)
    assert len(region.elements) < 0.5 * len(circuit.elements)
    asks = asks_of(METER)
    near, low, high = (limit[:, 0] for limit in limits_between(
        replace(circuit, elements=region.elements), [], *pair, METER, asks))
    whole = limits_between(circuit, [], *pair, METER, asks)[0][:, 0]
    for a, ask in enumerate(asks):
        if whole[a] < (2.0 if ask.mode == "diode" else 3e4):  # above, leakage of many junctions is read
            assert near[a] == pytest.approx(whole[a], rel=0.1, abs=5e-3), ask
            assert low[a] <= whole[a] <= high[a], ask


def test_ways_between_rails_and_what_stands_for_them() -> None:
    elements: list[Element] = [Resistance("R1 r", "R1", "P", "M", 600.0),
                               Resistance("R2 r", "R2", "M", "G", 400.0),
                               Junction("D1 d", "D1", "G", "P", 1e-9, rs=0.5)]
    ways = ways_of(elements, ("P", "G"))
    assert ways["P", "G"].siemens == pytest.approx(1e-3)
    assert (ways["P", "G"].junctions, ways["G", "P"].junctions) == (0, 1)
    found = elements_between("P", "G", ways["P", "G"], ways["G", "P"])
    (r,) = (e for e in found if isinstance(e, Resistance))
    (d,) = (e for e in found if isinstance(e, Junction))
    assert 700.0 < r.ohms < 1450.0
    assert (d.anode, d.cathode) == ("G", "P")


def test_the_cheapest_cut_takes_the_two_legged_part_beside_the_heat_sink() -> None:
    board = parse_board("R1 resistor A B 10R\nQ1 igbt G=G C=A E=B access=heatsink\n")
    parts = [p for p in board.parts if p.ref == "R1"]
    costs = {"R1": 150.0}
    found = cheapest_cut(parts, {}, "A", "B", lambda p: costs[p.ref], 1000.0)
    assert found in {(("R1", "1"),), (("R1", "2"),)}
    assert cheapest_cut(parts, {}, "A", "B", lambda p: costs[p.ref], 100.0) is None
    chain = parse_board("R1 resistor A M 1k\nR2 resistor M B 1k access=easy\nR3 resistor A B 1k\n")
    costs = {"R1": 150.0, "R2": 105.0, "R3": 150.0}
    cut = cheapest_cut(chain.parts, {}, "A", "B", lambda p: costs[p.ref], 1000.0)
    assert cut is not None
    assert sorted(ref for ref, _ in cut) == ["R2", "R3"]
