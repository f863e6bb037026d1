"""A solder bridge that nothing else reads like is the verdict, though no part has failed."""

from __future__ import annotations

from incircuit.advise.costs import load_costs
from incircuit.advise.following import advise
from incircuit.board import parse_board
from incircuit.judge.called import failed_words
from incircuit.meter.profile import load_meter
from incircuit.report.advice import stands
from incircuit.story import parse_story
from tests.judge.told import verdict

BOARD = """
BR1 bridge AC1=L AC2=N +=BUS -=RTN
R1 resistor L M 470k
R2 resistor M N 470k
R3 resistor BUS RTN 220k
"""
READ = """meter handheld
L N diode 0.000
N L diode 0.000
L N ohms 0.3
L BUS diode 0.480
N BUS diode 0.480
RTN L diode 0.480
RTN N diode 0.480
BUS RTN diode OL
M N ohms 235.1k
"""


def test_a_bridge_between_two_pins_of_a_rectifier() -> None:
    found = verdict(BOARD, READ)
    assert found.ruling.word == "failed"
    assert failed_words(found, set()) == "bridge L N"
    assert not [p.part for p in found.ruling.parts if p.word == "failed"]


def test_what_to_do_about_it_is_no_replacement() -> None:
    board = parse_board(BOARD, "x.board")
    said = stands(advise(board, parse_story(READ, board=board), load_meter("handheld"), load_costs()))
    assert "find the bridge between L and N and remove it" in said
    assert "replace" not in said


def test_a_bridge_is_named_with_the_shorts_that_are_the_same_circuit() -> None:
    found = verdict(BOARD + "C1 capacitor BUS RTN 100n film\n", """meter handheld
BUS RTN diode 0.000
RTN BUS diode 0.000
BUS RTN ohms 0.4
L BUS diode 0.480
RTN L diode 0.480
""")
    assert found.ruling.word == "failed"
    assert "C1" in failed_words(found, set())
