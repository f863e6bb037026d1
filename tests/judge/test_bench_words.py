"""What was done on the bench counts: new parts, hot parts, charging capacitors, a meter that lacks a mode."""

from __future__ import annotations

import pytest

from incircuit.board import parse_board
from incircuit.errors import StoryError
from incircuit.judge.judge import Judgement, judge
from incircuit.story import parse_story, story_of_text
from tests.judge.told import words

BOARD = parse_board("""
board "A switch with its gate drive"
R1 resistor DRV GATE 22R 1%
R2 resistor GATE RTN 10k 1%
Q1 igbt G=GATE C=SW E=RTN
D1 diode A=SW K=BUS fast
C1 capacitor BUS RTN 470u 450V electrolytic
R3 resistor BUS RTN 220k 5%
""", "switch.board")
SHORTED = """meter handheld
SW RTN diode 0.001
RTN SW diode 0.001
SW RTN ohms 0.2
remove Q1
SW RTN diode OL
RTN SW diode OL
"""


def judged(text: str) -> Judgement:
    return judge(BOARD, parse_story(text, board=BOARD))


def new(found: Judgement) -> str:
    """Verdict on the new Q1."""
    (part,) = (p for p in found.ruling.parts if p.part == "Q1")
    assert part.fitted is not None
    return part.fitted.word


def test_a_new_part_that_reads_well() -> None:
    found = judged(f"{SHORTED}fit Q1\nSW RTN diode OL\nRTN SW diode 0.421\nGATE RTN ohms 9.99k\n")
    assert words(found)["Q1"] == "failed"
    assert new(found) == "undecided"  # an open gate does not show in place


def test_a_new_part_the_wrong_way_round_is_not_the_old_one() -> None:
    found = judged(f"{SHORTED}fit Q1\nSW RTN diode 0.421\nRTN SW diode OL\nGATE RTN ohms 9.99k\n")
    assert found.ruling.lead is not None
    said = {(f.cause.who, f.cause.fault) for f in found.ruling.lead.faults}
    assert ("Q1 (new)", "reversed C-E") in said
    assert new(found) == "failed"


def test_a_new_part_that_is_dead_too() -> None:
    found = judged(f"{SHORTED}fit Q1\nSW RTN diode 0.001\nRTN SW diode 0.001\nSW RTN ohms 0.2\n")
    assert words(found)["Q1"] == "failed"
    assert found.ruling.lead is not None
    # a bridge over the place would have shown while Q1 was off
    assert {f.cause.who for f in found.ruling.lead.faults} == {"Q1", "Q1 (new)"}


def test_a_hot_part_may_read_low() -> None:
    cold = judged("meter handheld\nSW BUS diode 0.330\n")
    warm = judged("meter handheld\nhot D1 90\nSW BUS diode 0.330\n")
    assert warm.lines[0].healthy.low is not None
    assert cold.lines[0].healthy.low is not None
    assert warm.lines[0].healthy.low < cold.lines[0].healthy.low - 0.08
    assert warm.lines[0].in_band


def test_a_reading_on_the_way_is_judged_as_one() -> None:
    """3 k across a good link while its capacitor charges: a leak, were it the last word."""
    first = judged("meter handheld\nBUS RTN ohms 3k first\nGATE RTN ohms 9.99k\n")
    assert len(first.lines) == 2
    assert first.ruling.word != "failed"
    last = judged("meter handheld\nBUS RTN ohms 3k settled\nGATE RTN ohms 9.99k\n")
    assert last.ruling.word == "failed"


def test_without_a_capacitor_in_reach_it_counts_at_once() -> None:
    board = parse_board("R1 resistor A B 10k 1%\nR2 resistor B C 1k 1%\n", "x.board")
    story = "meter handheld\nA B ohms 10.0k first\nB C ohms 1.00k after 5s\n"
    found = judge(board, parse_story(story, board=board))
    assert len(found.lines) == 2
    assert found.ruling.word == "healthy"


def test_a_mode_the_meter_lacks_is_told_with_its_line() -> None:
    text = "meter moving-coil\nGATE RTN ohms 10k\nGATE RTN diode 0.6\nNOWHERE RTN ohms 1k\n"
    with pytest.raises(StoryError) as caught:
        judge(BOARD, story_of_text(text, "bench.readings", BOARD))
    assert [(p.line, p.column) for p in caught.value.problems] == [(3, 10), (4, 1)]
    assert "moving-coil has no diode mode" in str(caught.value)
