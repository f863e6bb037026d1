"""Following the advice on benches with a hidden fault, read by ngspice, beats the worksheet and chance."""

from __future__ import annotations

import random
from itertools import combinations

import pytest

from incircuit.advise.costs import load_costs
from incircuit.advise.following import Act, advise, entropy, ideas, worth
from incircuit.advise.meanings import Outcome
from incircuit.advise.outcomes import Probe
from incircuit.advise.suspects import Suspect, suspects_of
from incircuit.board import Board, parse_board
from incircuit.circuit.build import build
from incircuit.errors import StateError
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Change
from incircuit.story import story_of_text
from tests.advise.best import plan_for
from tests.advise.follow import follow_advice, follow_order, hidden, worksheet_order
from tests.advise.measure import ratio, rows_of, table
from tests.compare.circuits import board as shipped
from tests.compare.circuits import small
from tests.judge.bench import bench

METER = load_meter("handheld")
SEEN = {
    "led": (("D1", "open"), ("R2", "open")),
    "divider": (("R1", "open"), ("R3", "drifted")),
    "clamp": (("D1", "open"), ("R1", "short")),
    "switch-transistor": (("R2", "open"),),
}
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


def _look(red: str, *parts: tuple[int, ...]) -> Act:
    return Act(Probe(red, "B", "ohms"), 1.0, 17.0, tuple(Outcome(k, k, part) for k, part in enumerate(parts)))


def test_readings_that_tell_the_same_apart_are_one_idea() -> None:
    odds = [0.5, 0.25, 0.25 - 1e-3, 1e-3]
    first, second = _look("A", (0,), (1, 2), (3,)), _look("C", (1, 2), (0, 3))  # but for what is unlikely
    other = _look("D", (0, 1), (2, 3))
    found = ideas([first, second, other], odds)
    assert [act.probe for act in found] == [first.probe, other.probe]
    assert found[0].also == (second.probe,)
    assert found[1].also == ()


def test_five_ideas_are_listed_not_one_at_five_pads() -> None:
    found = advise(shipped("pump-drive/mains-input"), None, METER, load_costs())
    acts, odds = found.acts, [s.probability for s in found.suspects]
    assert len(acts) == 5
    assert all(ideas((a, b), odds) == (a, b) for a, b in combinations(acts, 2))
    assert any(act.also for act in acts)
    assert len({p for act in acts for p in (act.probe, *act.also)}) == sum(1 + len(act.also) for act in acts)


def test_the_advice_is_near_the_best_possible_plan_and_beats_other_orders() -> None:
    rows = [row for name, faults in SEEN.items() for row in rows_of(name, faults)]
    print(table(rows))
    assert all(r.in_place for r in rows)
    assert all(r.right for r in rows), table(rows)
    assert not any(r.needless for r in rows), table(rows)
    assert ratio(rows) <= 1.3, table(rows)
    spent = sum(r.advice.seconds for r in rows)
    assert spent < sum(r.worksheet.seconds for r in rows if r.worksheet), table(rows)
    assert spent < sum(r.chance.seconds for r in rows if r.chance), table(rows)


def test_the_best_plan_by_hand() -> None:
    # two resistors in a row: one reading across both does not tell which, one across either does
    board = parse_board("R1 resistor A B 1k 1%\nR2 resistor B C 10k 1%\n")
    plan = plan_for(board, METER, load_costs())
    first = plan.cost(frozenset(range(len(plan.suspects))))[1]
    costs = load_costs()
    assert plan.for_fault("R1", "open") <= costs.reading(2, True) + costs.reading(1, False)
    assert plan.outcomes.probes[first].mode == "ohms"
    assert plan.tells("R1", "open")
    beside = parse_board("R1 resistor A B 1k 1%\nR2 resistor A B 1k 1%\n")
    assert not plan_for(beside, METER, load_costs()).tells("R1", "short")


@pytest.mark.parametrize(("name", "fault"), LEAKAGE)
def test_a_first_reading_that_may_be_leakage_alone(name: str, fault: str) -> None:
    board = small(name)
    on = bench(board, METER, [hidden(board, fault)], random.Random(name + fault))
    assert follow_advice(on, random.Random(1)).condemned == {fault.split()[0]}
    assert follow_order(on, worksheet_order(on), random.Random(1)).condemned == {fault.split()[0]}


@pytest.mark.parametrize(("name", "fault"), TWINS)
def test_where_no_reading_in_place_tells_leads_are_lifted_and_settle_it(name: str, fault: str) -> None:
    board = small(name)
    on = bench(board, METER, [hidden(board, fault)], random.Random(name + fault))
    way = follow_advice(on, random.Random(1))
    assert 1 <= way.lifts <= 2  # of three parts in parallel the second lift may be the one that shows it
    assert way.condemned == {fault.split()[0]}


PAIR = """
R1 resistor DRV GATE 22R 5%
R2 resistor GATE RTN 10k 5%
Z1 zener A=RTN K=GATE 18V
C2 capacitor GATE RTN 1n ceramic
Q1 igbt G=GATE C=SW E=RTN access=heatsink
D2 diode A=SW K=BUS fast
R3 resistor BUS RTN 220k 5%
"""
SHORTED = "SW RTN diode OL\nRTN SW diode OL\nGATE RTN ohms 0.1\nRTN GATE diode 0.000\nRTN BUS diode OL\n"


def test_of_two_faults_the_one_that_is_in_doubt_is_laid_bare() -> None:
    board = parse_board(PAIR)
    found = advise(board, story_of_text(SHORTED, "bench.readings", board), METER, load_costs())
    assert found.lift is not None
    assert found.lift.part in {"C2", "Z1"}  # not Q1, which has failed either way and is dear to lift
    assert {part for s in found.between for part, _ in s.faults} == {"C2", "Z1", "Q1"}
    more = SHORTED + f"{found.lift.act}\n" + "RTN GATE ohms 9.80k\n"
    done = advise(board, story_of_text(more, "bench.readings", board), METER, load_costs())
    assert done.stop
    assert done.replace == {found.lift.part, "Q1"}


def test_a_lifted_pin_is_a_pad_to_read() -> None:
    board = parse_board(PAIR)
    text = "SW RTN diode 0.000\nRTN SW diode 0.000\nGATE RTN ohms 0.1\nlift C2.1\nRTN GATE ohms 10.31k\n"
    found = advise(board, story_of_text(text, "bench.readings", board), METER, load_costs())
    assert any("C2 1" in a.probe.pair for a in found.acts)


def test_where_only_a_bridge_is_left_it_is_looked_for() -> None:
    board = parse_board(PAIR)
    text = ("SW RTN diode 0.000\nRTN SW diode 0.000\nGATE RTN ohms 0.1\nlift C2.1\nRTN GATE ohms 10.31k\n"
            "RTN GATE diode 0.701\nC2.1 RTN ohms 0.1\n")
    found = advise(board, story_of_text(text, "bench.readings", board), METER, load_costs())
    assert found.stop
    assert found.replace == {"Q1", "C2"}
    assert found.look == ("bridge RTN SW",)


def test_a_new_part_that_has_failed_too_is_replaced_once_more() -> None:
    board = parse_board("R1 resistor A B 1k 1%\nR2 resistor B C 10k 1%\n")
    old = "A B ohms OL\nB C ohms 10.01k\nremove R1\nfit R1\n"
    fitted = advise(board, story_of_text(old, "bench.readings", board), METER, load_costs())
    assert (fitted.stop, fitted.replace, fitted.done) == (True, frozenset(), {"R1"})
    again = advise(board, story_of_text(old + "A B ohms OL\n", "bench.readings", board), METER, load_costs())
    assert (again.stop, again.replace) == (True, {"R1"})


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
