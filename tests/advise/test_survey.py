"""What a survey must say of small boards, by reasoning anyone can follow."""

from __future__ import annotations

import pytest

from incircuit.advise.costs import CostError, load_costs
from incircuit.advise.survey import Sight, Survey, survey
from incircuit.board import parse_board
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from tests.compare.circuits import small

METER, COSTS = load_meter("handheld"), load_costs()


def _of(text: str) -> Survey:
    return survey(build(parse_board(text)), METER, COSTS)


def _sight(found: Survey, part: str, fault: str) -> Sight:
    return next(s for s in found.sights if (s.part, s.fault) == (part, fault))


PARALLEL = "R1 resistor A B 10R 1%\nD1 diode A=A K=B signal\n"


def test_a_diode_across_ten_ohms_is_not_seen_open_until_a_lead_of_either_is_lifted() -> None:
    found = _of(PARALLEL)
    sight = _sight(found, "D1", "open")
    assert sight.best is None
    assert sight.lift is not None
    assert sight.lift.part in {"R1", "D1"}
    assert _sight(found, "R1", "open").best is not None
    assert _sight(found, "D1", "short").confused == (("R1", "short"),)


def test_the_lead_to_lift_is_not_the_heat_sunk_switch() -> None:
    found = _of("R1 resistor SW RTN 22R 1%\nQ1 igbt G=G C=SW E=RTN access=heatsink\nR2 resistor G RTN 10k\n")
    sight = _sight(found, "Q1", "open C")  # its freewheel diode has 22 ohms across
    assert sight.best is None
    assert sight.lift is not None
    assert sight.lift.part == "R1"
    assert sight.lift.seconds < COSTS.lift(parse_board("Q1 igbt G=G C=S E=R access=heatsink\n").part("Q1"))


def test_shorts_of_parts_in_parallel_are_one_reading() -> None:
    found = survey(build(small("relay")), METER, COSTS)
    others = {part for part, _ in _sight(found, "D1", "short").confused}
    assert "K1" in others


def test_what_is_seen_and_the_share() -> None:
    found = _of("R1 resistor A B 1k 1%\n")
    assert found.visible == 1.0 - sum(s.best is None for s in found.sights) / len(found.sights)
    sight = _sight(found, "R1", "open")
    assert sight.best is not None
    assert sight.best.pair == ("A", "B")
    assert sight.faulty[0] == float("inf")
    expected = 1000.2 if sight.best.mode == "ohms" else 1.0002  # 1 mA on diode test; 0.2 ohm of leads
    assert sight.healthy[0] < expected < sight.healthy[1]


def test_parts_asked_for_are_told_apart_from_all() -> None:
    found = survey(build(parse_board(PARALLEL)), METER, COSTS, ("D1",))
    assert {s.part for s in found.sights} == {"D1"}
    assert _sight(found, "D1", "short").confused == (("R1", "short"),)


def test_stopped_it_says_what_it_knows() -> None:
    def stop(done: int, total: int) -> None:
        if done >= total // 3:
            raise KeyboardInterrupt

    board = small("gate-drive")
    found = survey(build(board), METER, COSTS, (), stop)
    assert not found.complete
    assert 0 < len(found.sights) < len(survey(build(board), METER, COSTS).sights)
    assert all(s.lift is None for s in found.sights)


def test_costs_of_ones_own(tmp_path: object) -> None:
    path = f"{tmp_path}/costs.toml"
    with open(path, "w", encoding="utf-8") as file:
        file.write("[solder]\nlift_two_pin = 99\n[access]\nawkward = 7\n")
    part = parse_board("R1 resistor A B 1k access=awkward\n").part("R1")
    assert load_costs(path).lift(part) == 99 * 7
    with open(path, "w", encoding="utf-8") as file:
        file.write("[solder]\nlift_two_pins = 99\n")
    with pytest.raises(CostError, match="lift_two_pins"):
        load_costs(path)
