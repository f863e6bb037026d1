"""Boards of any size: the same on one processor and on two, and as much work for a part on a large one."""

from __future__ import annotations

import os
import time

import pytest

from incircuit.advise.conditions import conditions_of
from incircuit.advise.costs import load_costs
from incircuit.advise.crew import KERNEL, LONG, crew
from incircuit.advise.jumpers import best_jumpers, joints_of
from incircuit.advise.lifts import Lift
from incircuit.advise.limits import limits_between
from incircuit.advise.outcomes import asks_of
from incircuit.advise.pairs import pairs_of
from incircuit.advise.patches import key_of, patches_of
from incircuit.advise.survey import chart_for, survey
from incircuit.board import parse_board
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Change
from incircuit.paths.regions import land_of, region_of
from tests.advise.large import large
from tests.compare.circuits import small

METER, COSTS = load_meter("handheld"), load_costs()


def test_one_process_or_two_find_the_same() -> None:
    circuit = build(small("half-bridge"))
    assert survey(circuit, METER, COSTS, workers=1) == survey(circuit, METER, COSTS, workers=2)


def test_a_large_board_has_its_parts_and_a_place_for_each() -> None:
    board = large(300)
    assert len(board.parts) == 300
    assert len({p.ref for p in board.parts}) == 300
    land = land_of(build(board).elements)
    assert "0V" in land.rails
    assert max(len(p.elements) for p in land.pieces) < 120


def test_the_work_for_a_part_does_not_grow_with_the_board() -> None:
    seconds = []
    for parts in (200, 800):
        circuit = build(large(parts))
        begin = time.process_time()
        chart = chart_for(circuit, METER, conditions_of(circuit))
        pairs = pairs_of(circuit, chart.changes)
        keys = [key_of(chart, pair) for pair in pairs]
        seconds.append((time.process_time() - begin) / parts)
        assert max(len(k.changes) for k in keys) < 900
    assert seconds[1] < 3.0 * seconds[0]


def test_copies_of_a_stage_are_solved_once() -> None:
    stage = "R{k}1 resistor P M{k} 1k\nD{k} diode A=M{k} K=N{k} signal\nR{k}2 resistor N{k} G 470R\n"
    circuit = build(parse_board("".join(stage.format(k=k) for k in range(30))))
    chart = chart_for(circuit, METER, conditions_of(circuit))
    pairs = pairs_of(circuit, chart.changes)
    done = patches_of(chart, pairs, workers=1)
    assert done.complete
    assert len(done.patches) == len(pairs) >= 90
    assert done.solved < 10
    sights = survey(circuit, METER, COSTS, ("R01", "R291"), workers=1).sights
    by_fault = [[(s.fault, s.best is not None, s.margin) for s in sights if s.part == ref]
                for ref in ("R01", "R291")]
    assert by_fault[0] == by_fault[1] != []


def _wish(_context: object, _job: object) -> str | None:
    return os.environ.get(KERNEL)


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize(("jobs", "own", "expected"),
                         [(LONG - 1, None, None), (LONG, None, "1"), (LONG, "0", "0")])
def test_long_work_asks_for_the_compiled_kernel_unless_told_otherwise(
        jobs: int, own: str | None, expected: str | None, workers: int,
        monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(KERNEL, raising=False)
    if own is not None:
        monkeypatch.setenv(KERNEL, own)
    with crew(None, jobs, workers) as run:
        assert dict(run(_wish, [0, 1])) == {0: expected, 1: expected}
    assert os.environ.get(KERNEL) == own


def test_boards_are_drawn_only_for_readings_that_a_fault_moves() -> None:
    circuit = build(parse_board("R1 resistor A B 1k 5%\nR2 resistor B C 1k 5%\n"))
    asks = asks_of(METER, ("ohms",))
    other, own = (Change(frozenset({e.name})) for part in ("R2", "R1") for e in circuit.of_part(part))
    spread = {}
    for sure, change in ((True, other), (False, other), (False, own)):
        nominal, low, high = limits_between(circuit, [change], "A", "B", METER, asks, sure)
        assert nominal[0, 0] == pytest.approx(1000.0, rel=1e-3)
        spread[sure, change] = high[0, 0] - low[0, 0]
    assert spread[False, other] < 0.5 * spread[True, other]  # the meter's error alone
    assert spread[False, own] == spread[True, other]


GATE = "R5 resistor IN G 100R 5%\nQ1 nmos G=G D=D S=S vto=0.5 kp=0.1\nR6 resistor G S 100k 5%\n"


def _jumper(text: str) -> Lift | None:
    circuit = build(parse_board(text))
    fault = next(c for c in conditions_of(circuit) if c.name == ("Q1", "open G"))
    region = region_of(land_of(circuit.elements), "G", "D")
    return best_jumpers(circuit, joints_of(circuit), region, METER, COSTS, "Q1", ("G", "D", "S"),
                        [fault.change], [(0, 1)])[0]


def test_a_jumper_shows_a_gate_that_has_come_off() -> None:
    found = _jumper(GATE)
    assert found is not None
    assert set(found.jumper) == {"G", "D"}
    assert found.statements in {("short G D",), ("short D G",)}
    assert found.other == float("inf")
    assert 0.5 < found.nominal < 1.0


@pytest.mark.parametrize("held", ["C1 capacitor G D 10u\nC2 capacitor G S 10u\nC3 capacitor D S 10u\n"])
def test_no_jumper_across_what_may_hold_a_charge(held: str) -> None:
    assert _jumper(GATE + held) is None
