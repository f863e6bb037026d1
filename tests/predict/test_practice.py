"""What the trade reads on such boards, hand-held meter, in place: common practice, no source."""

from __future__ import annotations

from pathlib import Path

import pytest

from incircuit.board import make_state, read_board
from incircuit.meter.profile import load_meter
from incircuit.predict.explanation import Explanation, explain
from incircuit.predict.measure import Ask
from incircuit.predict.prediction import Prediction, predict
from incircuit.predict.question import ask_about

pytestmark = pytest.mark.practice

DRIVE = Path(__file__).resolve().parents[2] / "boards" / "pump-drive"


def reading(sheet: str, red: str, black: str, mode: str = "diode", *, lift: tuple[str, ...] = (),
            fault: tuple[str, ...] = ()) -> Prediction:
    """One prediction on a sheet of the drive."""
    board = read_board(DRIVE / f"{sheet}.board")
    question = ask_about(board, make_state(board, lift=lift, faults=fault), red, black)
    (found,) = predict(question, load_meter("handheld"), [mode], [False])
    return found


def explained(sheet: str, red: str, black: str) -> Explanation:
    board = read_board(DRIVE / f"{sheet}.board")
    return explain(ask_about(board, make_state(board), red, black), load_meter("handheld"), Ask("diode"))


def test_a_diode_with_ten_ohms_across_it() -> None:
    """In place 0.010–0.011 V and 10 Ω, both ways; with a leg lifted 0.53–0.59 V one way, OL the other."""
    for red, black in (("GATE", "DRV"), ("DRV", "GATE")):
        diode = reading("gate-drive", red, black)
        assert diode.shown.value is not None
        assert 0.010 <= diode.shown.value <= 0.011
        assert diode.band.holds(0.010)
        assert diode.band.holds(0.011)
        ohms = reading("gate-drive", red, black, "ohms").shown.value
        assert ohms == pytest.approx(10.0, abs=0.5)  # the leads are in it
    free = reading("gate-drive", "D3.A", "D3.K", lift=("D3.K",))
    assert free.shown.value is not None
    assert 0.53 <= free.shown.value <= 0.59
    assert reading("gate-drive", "D3.K", "D3.A", lift=("D3.K",)).shown.overload


@pytest.mark.parametrize(("red", "black"), [("SW", "RTN"), ("RTN", "SW")])
def test_a_shorted_switch(red: str, black: str) -> None:
    """0.000 to 0.024 V both ways."""
    value = reading("boost-stage", red, black, fault=("Q1 short C-E",)).shown.value
    assert value is not None
    assert 0.0 <= value <= 0.024


def test_a_switch_shorted_through_reads_so_between_any_two_pins() -> None:
    for red, black in (("GATE", "SW"), ("GATE", "RTN"), ("SW", "RTN")):
        fault = ("Q1 short G-E", "Q1 short C-E")
        for pads in ((red, black), (black, red)):
            value = reading("gate-drive", *pads, fault=fault).shown.value
            assert value is not None
            assert value <= 0.024


@pytest.mark.parametrize(("red", "black"), [("LR", "RECT"), ("NC", "RECT"), ("RECT-", "LR"), ("RECT-", "NC")])
def test_the_junctions_of_a_bridge(red: str, black: str) -> None:
    """0.48–0.53 V each, OL the other way."""
    value = reading("mains-input", red, black).shown.value
    assert value is not None
    assert 0.48 <= value <= 0.53
    assert reading("mains-input", black, red).shown.overload


def test_through_the_whole_bridge() -> None:
    """− to + about 0.88 V, a little less than twice one junction; + to − OL."""
    through = reading("mains-input", "RECT-", "RECT")
    one = reading("mains-input", "LR", "RECT").shown.value
    assert one is not None
    assert through.shown.value is not None
    assert through.band.holds(0.88)
    assert 1.7 * one < through.shown.value < 2.0 * one
    assert reading("mains-input", "RECT", "RECT-").shown.overload


def test_the_legs_of_the_output_module() -> None:
    """− to each output and each output to + about 0.43 V, equal within a few mV; the other way OL."""
    legs = [("INV-", out) for out in "UVW"] + [(out, "BUS") for out in "UVW"]
    readings = [reading("inverter", *pads) for pads in legs]
    values = [r.shown.value for r in readings]
    assert all(r.band.holds(0.43) for r in readings)
    numbers = [v for v in values if v is not None]
    assert len(numbers) == 6
    assert max(numbers) - min(numbers) <= 0.004
    assert all(reading("inverter", black, red).shown.overload for red, black in legs)


def test_a_low_link_reading_is_the_shorted_boost_switch_behind_the_boost_diode() -> None:
    """− to + of the link: 0.8 V and more through two junctions; 0.38 V with the boost switch shorted."""
    healthy = reading("boost-stage", "RTN", "BUS")
    assert not healthy.band.holds(0.38)
    assert healthy.band.holds(0.8)
    assert reading("boost-stage", "RTN", "BUS", fault=("Q1 short C-E",)).band.holds(0.38)
    sights = {(s.part, s.fault): s for s in explained("boost-stage", "RTN", "BUS").sights}
    assert sights["Q1", "short C-E"].told


def test_the_anodes_of_a_dual_diode_joined_by_the_board() -> None:
    """0 Ω between them is healthy; about 0.38 V from either to the cathode."""
    between = reading("boost-stage", "D5.A1", "D5.A2", "ohms").shown.value
    assert between is not None
    assert between <= 0.5
    for anode in ("D5.A1", "D5.A2"):
        assert reading("boost-stage", anode, "D5.K").band.holds(0.38)


def test_gate_to_emitter_reads_the_pulldown() -> None:
    """About 10 k."""
    for red, black in (("GATE", "RTN"), ("RTN", "GATE")):
        assert reading("gate-drive", red, black, "ohms").shown.value == pytest.approx(10e3, rel=0.02)


def test_the_link_shows_something_and_then_goes_away() -> None:
    """+ to − of the link: the capacitors charge, then OL."""
    e = explained("boost-stage", "BUS", "RTN")
    assert e.shown.overload
    assert {"C9", "C10"} <= set(e.moving)


def test_what_carries_the_current_of_the_link_reading() -> None:
    e = explained("boost-stage", "RTN", "BUS")
    shares = dict(e.shares)
    assert shares["Q1"] > 0.95
    assert shares["D5"] > 0.9
    assert {j.part for j in e.junctions if j.conducts} == {"Q1", "D5"}
