"""Mains as it alternates, switches that the resting board turns on, and what nothing in the file feeds."""

from __future__ import annotations

import math

import numpy as np
import pytest

from incircuit.board import parse_board
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from incircuit.power.discharge import Bank, stored
from incircuit.power.powerup import Step, powerup
from incircuit.predict.volts import Supply, voltages
from tests.time.spice import run

METER = load_meter("handheld")
PEAK = math.sqrt(2.0) * 230.0

CASCADE = """
net HV pad=TP1
net G pad=TP2
mains A G 230V
R1 resistor A A1 220R wirewound
C1 capacitor A1 X 1u 630V film
D1 diode A=G K=X rectifier
D2 diode A=X K=Y rectifier
C2 capacitor Y G 1u 800V film
C3 capacitor X W 1u 800V film
D3 diode A=Y K=W rectifier
D4 diode A=W K=HV rectifier
C4 capacitor HV Y 1u 800V film
R2 resistor HV B 4M7
R3 resistor B G 4M7
"""
DOUBLER = """
net P pad=TP1
net M pad=TP2
mains L N 115V
BR1 bridge AC1=L AC2=N +=P -=M
S1 switch N MID closed
C1 capacitor P MID 680u 250V electrolytic
C2 capacitor MID M 680u 250V electrolytic
R1 resistor P MID 100k 5%
R2 resistor MID M 100k 5%
C3 capacitor P M 1u 630V film
"""
DROPPER = """
net +24 pad=TP1
net N pad=TP2
mains L N 230V
C1 capacitor L A 470n 305V film
R1 resistor L A 1M
R2 resistor A B 100R wirewound
D1 diode A=N K=B rectifier
D2 diode A=B K=+24 rectifier
Z1 zener A=N K=+24 24V
C2 capacitor +24 N 470u 35V electrolytic
R3 resistor +24 N 10k
"""
RINGING = """
net BUS pad=TP1
net RTN pad=TP2
mains L N 230V
BR1 bridge AC1=L AC2=N +=BUS -=RTN
C1 capacitor BUS RTN 22u 400V electrolytic
R1 resistor BUS G 2M
R2 resistor BUS RTN 1M 5%
T1 transformer P1=BUS P2=D S1=SA S2=SG dcr.P=1.5
Q1 nmos G=G D=D S=S power
R3 resistor S RTN 0R68
Z1 zener A=RTN K=G 15V
D1 diode A=SA K=OUT fast
C3 capacitor +=OUT -=SG 220u 200V electrolytic
R5 resistor OUT SG 220k
C4 capacitor RTN SG 1n 250V ceramic
"""


def banks(text: str) -> dict[str, Bank]:
    return {bank.refs[0]: bank for bank in stored(parse_board(text, "x.board")).banks}


def steps(text: str) -> tuple[Step, ...]:
    return powerup(parse_board(text, "x.board"), METER)


def on_mains(text: str) -> Step:
    return next(s for s in steps(text) if "series lamp" in s.title)


def seen(step: Step) -> dict[str, float | None]:
    return {e.red: e.prediction.band.value for e in step.expected}


@pytest.mark.usefixtures("ngspice")
def test_a_cascade_by_ngspice() -> None:
    """Three seconds of a sine, the highest voltage on each capacitor in the last period."""
    deck = f"""cascade
v1 a 0 sin(0 {PEAK!r} 50)
rs a aa 0.2
r1 aa a1 220
c1 a1 x 1u
d1 0 x rect
d2 x y rect
c2 y 0 1u
c3 x w 1u
d3 y w rect
d4 w hv rect
c4 hv y 1u
r2 hv b 4.7e6
r3 b 0 4.7e6
.model rect d(is=7.02767n n=1.80803 rs=0.034)
.options temp=25 tnom=25
.tran 100u 3 2.96
.end"""
    found = run(deck)
    volts = {node: np.real(found[node]) for node in ("a1", "x", "y", "w", "hv")}
    told = banks(CASCADE)
    for ref, across in (("C1", volts["a1"] - volts["x"]), ("C2", volts["y"]),
                        ("C3", volts["w"] - volts["x"]), ("C4", volts["hv"] - volts["y"])):
        assert told[ref].volts == pytest.approx(np.abs(across).max(), rel=5e-3)
    ((upper, lower),) = stored(parse_board(CASCADE, "x.board")).stacks
    assert upper.volts + lower.volts == pytest.approx(volts["hv"].max(), rel=5e-3)


def test_a_doubler_stands_at_twice_the_peak() -> None:
    twice = 2.0 * (math.sqrt(2.0) * 115.0 - 0.5)
    assert banks(DOUBLER)["C3"].volts == pytest.approx(twice, rel=5e-3)
    link = next(e.prediction.band for e in on_mains(DOUBLER).expected if (e.red, e.black) == ("P", "M"))
    assert link.value == pytest.approx(twice, rel=5e-3)
    assert link.low == pytest.approx(0.9 * twice, rel=0.02)
    assert link.high == pytest.approx(1.1 * twice, rel=0.02)


def test_without_its_strap_it_stands_at_the_peak() -> None:
    apart = DOUBLER.replace("N MID closed", "N MID open")
    assert seen(on_mains(apart))["P"] == pytest.approx(math.sqrt(2.0) * 115.0 - 1.0, rel=5e-3)


def test_a_rail_behind_a_dropping_capacitor() -> None:
    """Its zener holds it; at either peak alone nothing comes through."""
    assert seen(on_mains(DROPPER))["+24"] == pytest.approx(24.0, abs=0.5)


def test_what_the_meter_does_not_stand_is_not_to_be_read() -> None:
    step = on_mains(CASCADE)
    assert "HV" not in seen(step)
    assert "HV to G stands at about 1276 V, more than this meter measures" in step.caution


def test_a_switch_that_rests_on_neither_empties_the_link_nor_pulls_it_down() -> None:
    bank = banks(RINGING)["C1"]
    assert bank.volts == pytest.approx(PEAK - 1.0, rel=5e-3)
    assert bank.bleeders[0] == "R2"
    bled = 22e-6 / (1.0 / 1e6 + 1.0 / 2e6) * math.log(bank.volts / 60.0)
    assert bank.seconds[0] == pytest.approx(bled, rel=0.05)
    assert seen(on_mains(RINGING))["BUS"] == pytest.approx(PEAK - 1.0, rel=5e-3)


def test_a_switch_that_turns_on_by_itself_is_held_off() -> None:
    """Through 2 MΩ the gate comes above its threshold at 30 V: the supply would see 2 Ω."""
    step = next(s for s in steps(RINGING) if "bench supply" in s.title)
    assert "Q1 would turn on by itself" in step.do
    assert step.limit is not None
    assert step.limit < 0.1
    assert seen(step)["BUS"] == pytest.approx(30.0, rel=1e-3)
    assert "G" not in seen(step)  # the wire is there
    assert "by itself" not in next(s for s in steps(RINGING.replace("R1 resistor BUS G", "R1 resistor RTN G"))
                                   if "bench supply" in s.title).do


def test_what_a_converter_feeds_is_taken_at_its_rating() -> None:
    """The winding of a flyback carries nothing at rest, and the file has no supply line for it."""
    bank = banks(RINGING)["C3"]
    assert (bank.volts, bank.why) == (200.0, "rating")
    unrated = stored(parse_board(RINGING.replace(" 200V", ""), "x.board"))
    assert unrated.unknown == ("C3",)
    fed = banks(RINGING + "supply OUT SG 90V\n")["C3"]
    assert fed.why == "supply"
    assert fed.volts == pytest.approx(90.0, rel=1e-3)


def test_many_supplies_keep_to_their_nets() -> None:
    """The eleventh among them too; one that a link shorts to nothing is no supply."""
    text = "R0 resistor A RTN 1k\n" + "".join(f"R{k} resistor N{k} RTN 1k\n" for k in range(1, 13))
    circuit = build(parse_board(text + "R20 link N12 RTN r=0\n", "x.board"))
    supplies = [Supply("A", "RTN", 30.0), *(Supply(f"N{k}", "RTN", float(k)) for k in range(1, 13))]
    found = voltages(circuit, (), supplies, [(f"N{k}", "RTN") for k in range(1, 13)], math.inf, 0)[:, 0, 0]
    assert found == pytest.approx([*range(1, 12), 0.0], rel=1e-3)
