"""Windings of one core at 100 kHz: closed forms, ngspice's coupled inductors, what they tell of a fault."""

from __future__ import annotations

import math

import pytest

from incircuit.board import Board, make_state, parse_board
from incircuit.circuit.build import apply, build
from incircuit.judge.judge import judge
from incircuit.meter.profile import load_meter
from incircuit.parts import change, defects_of
from incircuit.parts.elements import Resistance
from incircuit.paths.blocks import meters_block
from incircuit.predict.charging import predict_charging, read_timed
from incircuit.predict.measure import Ask
from incircuit.predict.question import ask_about
from incircuit.story import parse_story
from tests.time.spice import impedance

METER = load_meter("handheld")
OMEGA = 2.0 * math.pi * 100e3

FLYBACK = """T1 transformer P1=BUS P2=SW S1=SEC S2=GND B1=BW B2=RTN  60u turns.P=40 turns.S=4 turns.B=6 k=0.98
D1 diode A=SEC K=OUT schottky
C1 capacitor OUT GND 470u 25V electrolytic
Q1 nmos G=G D=SW S=RTN power
R1 resistor G RTN 10k
C2 capacitor BUS RTN 47u 400V electrolytic
D2 diode A=BW K=VCC signal
C3 capacitor VCC RTN 22u 35V electrolytic
"""


Fault = tuple[str, str, float | None]
FAULTS: list[Fault | None] = [
    None, ("T1", "short S1-S2", 0.01), ("T1", "short B1-B2", 0.5), ("T1", "drifted P1-P2", 0.7),
    ("D1", "short", 0.01), ("T1", "open P1", None), ("T1", "drifted S1-S2", 0.9), ("D2", "short", 0.02)]
PLACES = [("BUS", "SW"), ("BUS", "RTN"), ("SEC", "GND"), ("OUT", "GND"), ("VCC", "RTN")]


def board(text: str) -> Board:
    return parse_board(text, "x.board")


def reads(text: str, red: str, black: str, fault: Fault | None = None) -> float:
    """|Z| [ohm] as the engine has it, nominal board."""
    circuit = build(board(text))
    changes = []
    if fault:
        part = circuit.board.part(fault[0])
        own = circuit.of_part(part.ref)
        defect = next(d for d in defects_of(part, own) if d.name == fault[1])
        changes = [change(part, own, defect, fault[2])]
    return float(read_timed(circuit, changes, red, black, METER, [Ask("esr")], 0)[0, -1, 0])


def by_ngspice(text: str, red: str, black: str, fault: Fault | None = None) -> float:
    circuit = build(board(text))
    elements = circuit.elements
    if fault:
        part = circuit.board.part(fault[0])
        own = circuit.of_part(part.ref)
        defect = next(d for d in defects_of(part, own) if d.name == fault[1])
        elements = apply(elements, change(part, own, defect, fault[2]))
    return abs(impedance(meters_block(elements, red, black, moving=True, magnetic=True), red, black, 100e3))


def test_a_winding_alone_and_with_another_shorted() -> None:
    """ωL, and ω·L·(1 − k²) with the other one shorted, whatever its turns."""
    text = "T1 transformer P1=A P2=B S1=C S2=D 100u k=0.98 turns.P=10 turns.S=1 dcr=1m\n"
    assert reads(text, "A", "B") == pytest.approx(OMEGA * 100e-6, rel=1e-4)
    shorted = reads(text + "L1 link C D r=0\n", "A", "B")
    assert shorted == pytest.approx(OMEGA * 100e-6 * (1.0 - 0.98**2), rel=5e-3)
    assert reads(text, "C", "D") == pytest.approx(OMEGA * 1e-6, rel=1e-3)


def test_a_choke_in_the_way_of_a_current_and_of_its_like() -> None:
    """In a row against each other only the leakage is left, 2·ωL·(1 − k); the same way round all of it."""
    text = "L1 choke A1=A A2=M B1=B B2={} 50u k=0.99 dcr=1m\n"
    assert reads(text.format("M"), "A", "B") == pytest.approx(2.0 * OMEGA * 50e-6 * 0.01, rel=5e-3)
    along = "L1 choke A1=A A2=M B1=M B2=B 10u k=0.99 dcr=1m\n"
    assert reads(along, "A", "B") == pytest.approx(2.0 * OMEGA * 10e-6 * 1.99, rel=1e-3)


def test_sections_of_a_tapped_winding_make_up_the_whole() -> None:
    """Two halves of 100 µH in all, k 0.999: L/4 each and twice M."""
    text = "T1 transformer P1=A P2=T P3=B S1=C S2=D 100u k=0.999 dcr=1m\n"
    assert reads(text, "A", "B") == pytest.approx(OMEGA * 100e-6 * (0.5 + 0.5 * 0.999), rel=1e-3)


@pytest.mark.usefixtures("ngspice")
@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("pads", PLACES)
def test_coupled_windings_by_ngspice(pads: tuple[str, str], fault: Fault | None) -> None:
    """The same elements with K cards; 0.01 % is what the resting points may differ."""
    here, there = reads(FLYBACK, *pads, fault), by_ngspice(FLYBACK, *pads, fault)
    assert METER.esr is not None
    if math.isinf(here):
        assert there > METER.esr.ranges[-1].full_scale
    else:
        assert here == pytest.approx(there, rel=1e-4, abs=1e-6)


MOTOR = "M1 motor-winding U=U V=V W=W {} 40u dcr=0.1\n"


@pytest.mark.parametrize("word", ["star", "delta"])
@pytest.mark.parametrize("fault", ["", "drifted", "short U-V"])
@pytest.mark.usefixtures("ngspice")
def test_three_phases_about_a_rotor(word: str, fault: str) -> None:
    """Phases share −½ of the flux that does not leak: L (star) and a third of it (delta), 1 + k/2 each."""
    text = MOTOR.format(word)
    own = f"{fault} {'U' if word == 'star' else 'U-V'}" if fault == "drifted" else fault
    hidden: Fault | None = ("M1", own, 0.5) if fault else None
    here = [reads(text, *pads, hidden) for pads in (("U", "V"), ("V", "W"))]
    there = [by_ngspice(text, *pads, hidden) for pads in (("U", "V"), ("V", "W"))]
    assert here == pytest.approx(there, rel=1e-3)
    if not fault:
        times = 2.0 if word == "star" else 2.0 / 3.0
        assert here == pytest.approx([OMEGA * 40e-6 * 1.4 * times] * 2, rel=1e-3)
    else:
        assert here[0] < 0.95 * reads(text, "U", "V")


def test_the_band_has_room_for_leakage_nobody_typed() -> None:
    """A secondary shorted by the board itself: the leakage of a transformer is known to a factor."""
    text = "T1 transformer P1=A P2=B S1=C S2=D 200u\nL1 link C D\n"
    found = predict_charging(ask_about(board(text), make_state(board(text)), "A", "B"), METER, "esr")
    assert found.band.low is not None
    assert found.band.high is not None
    assert found.band.high > 5.0 * found.band.low


def test_a_shorted_secondary_is_told_from_the_primary() -> None:
    """|Z| of the primary falls from ωL to the leakage: something behind it is shorted."""
    on = board(FLYBACK)
    found = judge(on, parse_story("meter handheld\nBUS SW esr 1.6\nSEC GND diode 0.180\n", board=on))
    odds = {p.part: p.probability for p in found.ruling.parts}
    assert not any(line.in_band for line in found.lines[:1])
    assert max(odds, key=lambda ref: odds[ref]) == "T1"
    sound = judge(on, parse_story("meter handheld\nBUS SW esr 37\n", board=on))
    assert sound.ruling.word == "healthy"


def test_what_a_file_may_say_wrongly() -> None:
    from incircuit.errors import IncircuitError

    for bad in ("k=1.2", "turns.X=3", "turns.P=0"):
        with pytest.raises(IncircuitError):
            build(board(f"T1 transformer P1=A P2=B S1=C S2=D 1m {bad}\n"))


def test_windings_carry_their_core() -> None:
    coils = [e.coil for e in build(board(FLYBACK)).elements if isinstance(e, Resistance) and e.henries]
    assert {c.core for c in coils if c} == {"T1"}
