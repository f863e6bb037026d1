"""What must not matter to a judgement: the order of readings, of the board's lines, of a part's pins."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board import parse_board
from incircuit.judge.judge import Judgement, judge
from incircuit.story import parse_story

LINES = (
    "R1 resistor DRV GATE 22R 5%",
    "D1 diode A=GATE K=DRV signal",
    "R2 resistor GATE RTN 10k 5%",
    "Q1 igbt G=GATE C=SW E=RTN freewheel=none",
)
READINGS = (
    "GATE DRV diode 0.022",
    "GATE RTN ohms 4.31k",
    "SW RTN diode OL",
    "RTN GATE diode OL",
    "GATE DRV ohms 22.3",
    "SW GATE ohms OL",
)
STORY = "meter handheld\n" + "\n".join(READINGS) + "\n"


def judged(lines: tuple[str, ...], readings: tuple[str, ...]) -> Judgement:
    board = parse_board('board "x"\n' + "\n".join(lines) + "\n", "x.board")
    return judge(board, parse_story("meter handheld\n" + "\n".join(readings) + "\n", board=board))


def odds(found: Judgement) -> dict[str, float]:
    return {p.part: p.probability for p in found.ruling.parts}


def same(one: Judgement, other: Judgement) -> None:
    assert one.ruling.word == other.ruling.word
    assert {p.part: p.word for p in one.ruling.parts} == {p.part: p.word for p in other.ruling.parts}
    assert odds(one) == pytest.approx(odds(other), abs=1e-6)


PLAIN = judged(LINES, READINGS)


def test_the_story_is_about_the_pulldown() -> None:
    assert PLAIN.explanations[0].faults[0].cause.part in ("R2", "Q1")


@given(st.permutations(LINES), st.permutations(READINGS))
@settings(deadline=None, derandomize=True, max_examples=6)
def test_no_order_matters(lines: list[str], readings: list[str]) -> None:
    same(PLAIN, judged(tuple(lines), tuple(readings)))


def test_pins_of_a_part_without_direction_may_be_named_either_way() -> None:
    turned = tuple(line.replace("DRV GATE 22R", "GATE DRV 22R") for line in LINES)
    same(PLAIN, judged(turned, READINGS))


def test_the_same_reading_again_tells_little_more() -> None:
    """Ten times the same number is one witness, not ten."""
    again = judged(LINES, READINGS + READINGS[1:2] * 9)
    assert again.ruling.word == PLAIN.ruling.word
    lead = PLAIN.explanations[0].faults[0].cause.part
    assert odds(again)[lead] == pytest.approx(odds(PLAIN)[lead], abs=0.25)
