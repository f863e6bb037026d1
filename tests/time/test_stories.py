"""Readings in time as evidence: at first sight, after some seconds, displays that move, a charge left."""

from __future__ import annotations

import pytest

from incircuit.board import parse_board
from incircuit.circuit.build import build
from incircuit.errors import StoryError
from incircuit.judge.judge import Judgement, judge
from incircuit.judge.words import explanation_words, why
from incircuit.meter.profile import load_meter
from incircuit.predict.course_charge import residue
from incircuit.predict.measure import Ask
from incircuit.story import parse_story

LINK = parse_board("""
BR1 bridge AC1=L AC2=N +=BUS -=RTN
C1 capacitor BUS RTN 470u 450V electrolytic
R1 resistor BUS RTN 220k 5%
""", "link.board")


def judged(text: str) -> Judgement:
    return judge(LINK, parse_story("meter handheld\n" + text, board=LINK))


def failed(found: Judgement) -> set[str]:
    return {p.part for p in found.ruling.parts if p.word == "failed"}


def test_a_link_that_climbs_is_as_it_should_be() -> None:
    found = judged("BUS RTN diode climbs\nBUS RTN continuity chirp\n")
    assert [line.in_band for line in found.lines] == [True, True]
    assert not failed(found)


def test_a_link_that_does_not_climb_has_lost_its_capacitor() -> None:
    """OL at once where 2 V a second should be seen; the bleeder still reads."""
    found = judged("BUS RTN diode OL first\nBUS RTN farads 0n\nBUS RTN ohms 220k settled\n")
    assert failed(found) == {"C1"}


def test_a_reading_after_some_seconds() -> None:
    """1 mA into 470 µF: 0.7 V after a third of a second is healthy, still 0.000 after 5 s is not."""
    assert judged("BUS RTN diode OL after 5s\n").lines[0].in_band
    short = judged("BUS RTN diode 0.000 after 5s\nRTN BUS diode 0.000 after 5s\n")
    assert not short.lines[0].in_band
    assert short.ruling.word != "healthy"


def test_half_the_capacitance() -> None:
    found = judged("BUS RTN farads 190u\nBUS RTN esr 0.9\n")
    assert failed(found) == {"C1"}
    assert "dried out" in explanation_words(found.explanations[0])


def test_high_series_resistance_with_full_capacitance() -> None:
    found = judged("BUS RTN farads 470u\nBUS RTN esr 2.5\n")
    assert failed(found) == {"C1"}
    assert "high ESR" in explanation_words(found.explanations[0])


def test_sound_capacitor() -> None:
    found = judged("BUS RTN farads 455u\nBUS RTN esr 0.09\n")
    assert found.ruling.word != "failed"
    assert all(line.in_band for line in found.lines)


def test_volts_under_power() -> None:
    text = "R1 resistor BUS M 470k 1%\nR2 resistor M RTN 10k 1%\n"
    board = parse_board(text, "divider.board")

    def ruled(volts: str) -> str:
        story = f"meter handheld\npower BUS RTN 30\nM RTN volts {volts}\nBUS RTN volts 30.0\n"
        return judge(board, parse_story(story, board=board)).ruling.word

    assert ruled("0.624") == "healthy"
    assert ruled("30.0") == "failed"


def test_volts_without_a_supply_are_told_with_their_line() -> None:
    with pytest.raises(StoryError, match="volts without a supply"):
        judged("BUS RTN volts 12\n")
    with pytest.raises(StoryError, match="farads with the supply on"):
        judged("power BUS RTN 30\nBUS RTN farads 470u\n")


@pytest.mark.parametrize("volts", [0.02, -0.05, 0.3])
def test_the_charge_that_explains_a_reading_is_found(volts: float) -> None:
    """What the display shows at the first update with that charge: 1 mA for a third of a second on top."""
    meter = load_meter("handheld")
    shown = volts + 1e-3 / 3.0 / 470e-6
    found = residue(build(LINK), "BUS", "RTN", meter, Ask("diode"), shown)
    assert found is not None
    assert found.part == "C1"
    assert found.volts == pytest.approx(volts, abs=0.005)


def test_a_charge_left_is_said_with_its_size() -> None:
    """A reading below zero is no fault of any part: something drives it."""
    found = judged("BUS RTN ohms 220k settled\nBUS RTN diode -0.300\n")
    assert not failed(found)
    assert "discharge and read again" in why(found)
    assert "C1" in why(found)
