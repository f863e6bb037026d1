"""Following the advice on benches with a hidden fault, read by ngspice, beats the worksheet and chance."""

from __future__ import annotations

import random

import pytest

from incircuit.advise.costs import load_costs
from incircuit.advise.following import advise, entropy, worth
from incircuit.advise.meanings import Outcome
from incircuit.advise.suspects import Suspect, suspects_of
from incircuit.board import Board, parse_board
from incircuit.circuit.build import build
from incircuit.errors import StateError
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Change
from incircuit.story import story_of_text
from tests.advise.follow import Way, follow_advice, follow_order, hidden, random_order, worksheet_order
from tests.compare.circuits import small
from tests.judge.bench import bench

METER = load_meter("handheld")
SEEN = (("switch-transistor", "Q1 short C-E"), ("switch-transistor", "R2 open"),
        ("divider", "R1 open"), ("led", "D1 open"), ("clamp", "R1 open"), ("led", "R2 open"))
LEAKAGE = (("gate-drive", "R1 open"), ("half-bridge", "Q1 short D-S"))
TWINS = (("clamp", "D1 short"), ("gate-drive", "Q1 short G-E"))


def _suspect(part: str, probability: float) -> Suspect:
    return Suspect(((part, "short"),) if part else (), frozenset({part} - {""}), probability, Change())


def test_worth_of_a_reading_by_hand() -> None:
    four = [_suspect(part, 0.25) for part in ("", "A", "B", "C")]
    assert worth(four, [Outcome(0, 1, (0, 1)), Outcome(2, 3, (2, 3))]) == pytest.approx(1.0)
    assert worth(four, [Outcome(0, 1, (0,)), Outcome(2, 3, (1, 2, 3))]) == pytest.approx(
        2.0 - 0.75 * entropy([1, 1, 1]))
    assert worth(four, [Outcome(0, 1, (0, 1, 2, 3))]) == pytest.approx(0.0)
    # two faults of one part ask for one decision: telling them apart is worth nothing
    same = [_suspect("A", 0.5), _suspect("A", 0.5)]
    assert worth(same, [Outcome(0, 1, (0,)), Outcome(2, 3, (1,))]) == 0.0


def _table(rows: list[tuple[str, list[Way]]]) -> str:
    lines = [f"{'seconds to the verdict':32}{'next':>8}{'worksheet':>11}{'random':>8}"]
    lines += [f"{name:32}" + "".join(f"{w.seconds:>{n}.0f}" for w, n in zip(ways, (8, 11, 8), strict=True))
              for name, ways in rows]
    means = [sum(ways[k].seconds for _, ways in rows) / len(rows) for k in range(3)]
    return "\n".join([*lines, f"{'mean':32}{means[0]:8.0f}{means[1]:11.0f}{means[2]:8.0f}"])


def test_the_advice_reaches_the_verdict_at_less_cost_than_other_orders() -> None:
    rows = []
    for name, fault in SEEN:
        board = small(name)
        on = bench(board, METER, [hidden(board, fault)], random.Random(name + fault))
        ways = [follow_advice(on, random.Random(1)), follow_order(on, worksheet_order(on), random.Random(1)),
                follow_order(on, random_order(on, random.Random(2)), random.Random(1))]
        assert ways[0].condemned == {fault.split()[0]}, f"{name}: {fault}"
        assert ways[0].lifts == 0, f"{name}: {fault} can be told in place"
        rows.append((f"{name}: {fault}", ways))
    print(_table(rows))
    mean = [sum(ways[k].seconds for _, ways in rows) for k in range(3)]
    assert mean[0] < mean[1], _table(rows)
    assert mean[0] < mean[2], _table(rows)


@pytest.mark.parametrize(("name", "fault"), LEAKAGE)
def test_a_first_reading_that_may_be_leakage_alone(name: str, fault: str) -> None:
    board = small(name)
    on = bench(board, METER, [hidden(board, fault)], random.Random(name + fault))
    assert follow_advice(on, random.Random(1)).condemned == {fault.split()[0]}
    assert follow_order(on, worksheet_order(on), random.Random(1)).condemned == {fault.split()[0]}


@pytest.mark.parametrize(("name", "fault"), TWINS)
def test_where_no_reading_in_place_tells_one_lead_is_lifted_and_settles_it(name: str, fault: str) -> None:
    board = small(name)
    on = bench(board, METER, [hidden(board, fault)], random.Random(name + fault))
    way = follow_advice(on, random.Random(1))
    assert way.lifts == 1
    assert way.condemned == {fault.split()[0]}


def test_with_nothing_read_the_likeliest_is_a_sound_board_and_probabilities_add_up() -> None:
    found = suspects_of(build(small("relay")), None)
    assert found[0].faults == ()
    assert sum(s.probability for s in found) == pytest.approx(1.0)


def test_nothing_is_proposed_while_a_supply_is_on() -> None:
    board = small("divider")
    story = story_of_text("power BUS GND 24\n", "bench.readings", board)
    with pytest.raises(StateError, match="discharge"):
        advise(board, story, METER, load_costs())


def test_a_reading_taken_is_not_proposed_again() -> None:
    board: Board = parse_board("R1 resistor A B 1k\nR2 resistor B C 1k\nR3 resistor A C 1k\n")
    story = story_of_text("A B ohms 668\n", "bench.readings", board)
    found = advise(board, story, METER, load_costs())
    assert ("A", "B", "ohms") not in [(a.probe.red, a.probe.black, a.probe.mode) for a in found.acts]
