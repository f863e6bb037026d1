"""Stories of the bench, told in full: what the trade knows (common practice), read with ngspice."""

from __future__ import annotations

import pytest

from incircuit.board import parse_board
from tests.judge.told import fault, on_bench, told, verdict, words

pytestmark = [pytest.mark.usefixtures("ngspice"), pytest.mark.practice]

DRIVE = parse_board("""
board "Pump drive: boost switch, link and output module"
net  GATE "gate of Q1" pad=TP4
BR1 bridge    AC1=L AC2=N +=RECT -=RTN rectifier
L2  inductor  RECT SW 330u power dcr=45m
Q1  igbt      G=GATE C=SW E=RTN freewheel=none access=heatsink
R7  resistor  DRV GATE 10R 1%
D3  diode     A=GATE K=DRV signal
R8  resistor  GATE RTN 10k 1%
D5  diode     A=SW K=BUS fast vf=0.38@1mA
C9  capacitor BUS RTN 470u 450V electrolytic
R11 resistor  BUS RTN 220k 5%
M1  three-phase-inverter +=BUS -=RTN U=U V=V W=W igbt freewheel.vf=0.48@1mA
""", "drive.board")

STORY = """
meter handheld
GATE DRV diode ?
DRV GATE diode ?
GATE DRV ohms ?
GATE RTN ohms ?
SW RTN diode ?
RTN SW diode ?
RTN BUS diode ?
BUS RTN diode ?
RTN U diode ?
RTN V diode ?
RTN W diode ?
U BUS diode ?
V BUS diode ?
"""
LIFTED = """
lift D3.K
D3.A D3.K diode ?
D3.K D3.A diode ?
"""
OUT = """
remove Q1
SW RTN diode ?
RTN SW diode ?
"""


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_shorted_boost_switch_and_the_good_gate_diode(seed: int) -> None:
    """The diode reads like a short beside its 10 Ω and is not condemned; the low link reading is the
    switch with the boost diode in a row, not the output module."""
    bench = on_bench(DRIVE, (fault(DRIVE, "Q1 short C-E", 0.02),), seed)
    story = told(bench, STORY, seed)
    found = verdict(DRIVE, story)
    gate, link = found.lines[0].moment.reading.typed.value, found.lines[6].moment.reading.typed.value
    assert gate is not None
    assert 0.009 <= gate <= 0.013  # the trade reads 0.010 to 0.011 V
    assert link is not None
    assert 0.3 <= link <= 0.45  # 0.38 V where two junctions in a row should give 0.8 V and more
    said = words(found)
    assert found.explanations[0].faults[0].cause.part == "Q1"
    assert said["D3"] in ("explained", "undecided")  # whether it is open cannot be seen beside 10 Ω
    assert "failed" not in {said["M1"], said["D5"], said["BR1"], said["D3"]}
    odds = {p.part: p.probability for p in found.ruling.parts}
    assert odds["Q1"] + odds["BR1"] > 0.85  # a bridge shorted behind the coil reads the same in place
    assert odds["M1"] < 0.02

    out = verdict(DRIVE, told(bench, STORY + LIFTED + OUT, seed))
    said = words(out)
    assert out.ruling.word == "failed"
    assert said["Q1"] == "failed"
    assert said["D3"] == "healthy"
    assert "failed" not in {word for part, word in said.items() if part != "Q1"}


@pytest.mark.parametrize("seed", [1, 2])
def test_the_same_board_without_a_fault(seed: int) -> None:
    said = words(verdict(DRIVE, told(on_bench(DRIVE, (), seed), STORY + LIFTED, seed)))
    assert "failed" not in said.values()
    assert said["D3"] == said["R7"] == said["R8"] == "healthy"


LEGS = parse_board("""
board "Output bridge of three legs"
D1 diode A=RTN K=U fast
D2 diode A=RTN K=V fast
D3 diode A=RTN K=W fast
D4 diode A=U K=BUS fast
D5 diode A=V K=BUS fast
D6 diode A=W K=BUS fast
R1 resistor BUS RTN 220k 5%
alike D1 D2 D3
alike D4 D5 D6
""", "legs.board")
LEG = "RTN {0} diode ?\n{0} RTN diode ?\n{0} BUS diode ?\n"
LEG_STORY = "meter handheld\n" + "".join(LEG.format(x) for x in "UVW")


@pytest.mark.parametrize("leg", [("D1", "RTN", "U"), ("D2", "RTN", "V"), ("D6", "W", "BUS")])
def test_the_odd_one_of_three_legs_is_named(leg: tuple[str, str, str]) -> None:
    """Soft by 560 Ω beside its junction, one of three legs reads 0.1 V less than its like: in the band of
    such diodes, out of line with its own batch."""
    ref, red, black = leg
    hidden = (fault(LEGS, f"{ref} leaky", 560.0),)
    found = verdict(LEGS, told(on_bench(LEGS, hidden, 5), LEG_STORY))
    assert words(found)[ref] == "failed"
    assert [part for part, word in words(found).items() if word == "failed"] == [ref]
    at = next(x for x in found.lines if (x.moment.reading.red, x.moment.reading.black) == (red, black))
    assert at.healthy.low is not None


def test_worked_on_raises_mistakes_of_hands() -> None:
    """The same story: a missing diode or an open one, read OL both ways. On a board worked on before,
    missing gains on open."""
    text = 'board "Snubber"\nD1 diode A=A K=B rectifier\nR1 resistor A B 47k 5%\n'
    story = "meter handheld\nA B diode OL\nB A diode OL\nA B ohms 47.0k\n"

    def odds(board: str) -> float:
        found = {e.faults[0].cause.fault: e.probability for e in verdict(board, story).explanations
                 if len(e.faults) == 1 and e.faults[0].cause.part == "D1"}
        return (found["missing"] + found.get("reversed", 0.0)) / found["open"]

    plain, worked = odds(text), odds(text.replace('"Snubber"', '"Snubber" worked-on'))
    assert worked > 2.0 * plain


def test_a_bridge_on_a_board_worked_on() -> None:
    board = parse_board("""
board "Gate" worked-on
R1 resistor DRV GATE 22R 5%
R2 resistor GATE RTN 10k 5%
Q1 igbt G=GATE C=SW E=RTN freewheel=none
""", "gate.board")
    story = told(on_bench(board, (fault(board, "bridge GATE SW"),)),
                 "meter handheld\nGATE SW diode ?\nGATE SW ohms ?\n"
                 "GATE RTN ohms ?\nDRV GATE ohms ?\nSW RTN ohms ?")
    found = verdict(board, story)
    named = {(f.cause.part, f.cause.fault) for e in found.explanations[:2] for f in e.faults}
    assert ("", "bridge GATE SW") in named


def test_readings_of_the_old_part_do_not_count_for_the_new_one() -> None:
    board = parse_board("""
board "Switch"
Q1 igbt G=G C=SW E=RTN freewheel=none
R8 resistor G RTN 10k 1%
D1 diode A=RTN K=SW fast
""", "switch.board")
    bench = on_bench(board, (fault(board, "Q1 short C-E"),))
    old = "meter handheld\nSW RTN diode ?\nRTN SW diode ?\nG RTN ohms ?\n"
    new = old + "fit Q1\nSW RTN diode ?\nRTN SW diode ?\nG RTN ohms ?\n"
    before, after = verdict(board, told(bench, old)), verdict(board, told(bench, new))
    assert words(before)["Q1"] == "undecided"  # D1 shorted reads the same
    assert words(after)["Q1"] == "failed"  # the old one was it: with a new one all is well
    assert all(line.fits for line in after.lines)
    assert words(after)["D1"] != "failed"
