"""The first power-up: order, cautions, and voltages to expect computed again here."""

from __future__ import annotations

import json
import math

import pytest
from click.testing import CliRunner

from incircuit.board import parse_board
from incircuit.cli.main import cli
from incircuit.errors import MeterError, StateError
from incircuit.meter.profile import load_meter
from incircuit.power.powerup import SAFE, Step, powerup
from tests.compare.circuits import BOARDS

METER = load_meter("handheld")
FRONT = """
net BUS "link plus" pad=TP1
net RTN "link minus" pad=TP2
net M "divider" pad=TP3
BR1 bridge AC1=L AC2=N +=BUS -=RTN
C1 capacitor BUS RTN 220u 450V electrolytic
R1 resistor BUS M 470k 1%
R2 resistor M RTN 10k 1%
R3 resistor +15V RTN 1k 5%
mains L N 230V
supply +15V RTN 15V
"""


def steps(text: str = FRONT) -> tuple[Step, ...]:
    return powerup(parse_board(text, "x.board"), METER)


def test_the_order_is_that_of_caution() -> None:
    found = steps()
    assert "without power" in found[0].title
    assert "+15V rail" in found[1].title
    assert f"{SAFE:g} V" in found[2].title
    assert "series lamp" in found[3].title
    assert "Unplug" in found[4].do
    for step in found:
        assert step.caution
        assert step.stop


def test_the_link_is_the_peak_less_two_junctions() -> None:
    """Unloaded: 325.27 V less two junctions of about half a volt; mains may be 10 % off."""
    expected = {(e.red, e.black): e.prediction for e in steps()[3].expected}
    link = expected["BUS", "RTN"].band
    assert link.value == pytest.approx(325.27 - 1.0, abs=0.6)
    assert link.low is not None
    assert link.high is not None
    assert link.low == pytest.approx(0.9 * 325.27 - 1.0, rel=0.02)
    assert link.high == pytest.approx(1.1 * 325.27 - 1.0, rel=0.02)
    divided = expected["M", "RTN"].band.value
    assert link.value is not None
    lower = 1.0 / (1.0 / 10e3 + 1.0 / 10e6)
    assert divided == pytest.approx(link.value * lower / (470e3 + lower), rel=2e-3)


@pytest.mark.practice
def test_link_on_228_volts() -> None:
    """Unloaded DC link on 228 V AC: 1.41 times, about 320 to 340 V DC."""
    (mains,) = [s for s in powerup(parse_board(FRONT, "x.board"), METER, rms=228.0) if "lamp" in s.title]
    link = next(e for e in mains.expected if e.red == "BUS").prediction.band.value
    assert link is not None
    assert 320.0 <= link <= 340.0


def test_a_low_rail_from_a_bench_supply() -> None:
    """15 V on 1 k draw 15 mA; the limit is set above, so that only a fault reaches it."""
    rail = steps()[1]
    assert rail.draws == pytest.approx(15e-3, rel=0.01)
    assert rail.limit is not None
    assert 2.0 * rail.draws <= rail.limit <= 6.0 * rail.draws


def test_nets_that_turn_with_the_mains_are_left_out() -> None:
    assert not {"L", "N"} & {e.red for e in steps()[3].expected}


def test_readings_in_place_come_first() -> None:
    modes = {(p.mode, p.red, p.black) for p in steps()[0].readings}
    assert {("diode", "BUS", "RTN"), ("diode", "RTN", "BUS"), ("ohms", "+15V", "RTN")} <= modes


def test_what_the_file_must_say() -> None:
    with pytest.raises(StateError, match="mains L N 230V"):
        steps("R1 resistor A B 1k\n")
    with pytest.raises(MeterError, match="no volts"):
        powerup(parse_board(FRONT, "x.board"), load_meter("moving-coil"))


def test_the_command() -> None:
    path = str(BOARDS / "battery-charger/battery-charger.board")
    text = CliRunner().invoke(cli, ["powerup", path])
    assert text.exit_code == 0, text.output
    assert text.stdout.count("Caution:") == text.stdout.count("Stop if:") == 5
    assert all(len(line) <= 100 for line in text.stdout.splitlines())
    answer = json.loads(CliRunner().invoke(cli, ["powerup", path, "--json"]).stdout)
    link = next(e for s in answer["steps"] for e in s["expected"] if e["red"] == "RB" and s["volts"] == 400.0)
    assert link["value"] == pytest.approx(math.sqrt(2.0) * 400.0 - 1.0, abs=1.0)


@pytest.mark.parametrize("arguments", [
    ["powerup", "nowhere.board"], ["discharge", "nowhere.board"],
    ["powerup", str(BOARDS / "battery-charger/battery-charger.board"), "--mains", "abc"],
    ["discharge", str(BOARDS / "battery-charger/battery-charger.board"), "--mains", "-5V"],
    ["discharge", str(BOARDS / "audio-amp/audio-amp.board"), "--mains", "230V"],
])
def test_mistakes_are_one_line(arguments: list[str]) -> None:
    from incircuit.errors import IncircuitError

    found = CliRunner().invoke(cli, arguments)
    assert isinstance(found.exception, IncircuitError)
    assert len(str(found.exception).splitlines()) == 1


START = """
net BUS "link plus" pad=TP1
BR1 bridge AC1=L AC2=N +=BUS -=RTN
C1 capacitor BUS RTN 100u 400V electrolytic
R1 resistor L M 680k
R2 resistor M N 680k
R7 resistor BUS VCC 1M
C3 capacitor +=VCC -=RTN 47u 35V electrolytic
C4 capacitor +=VCC -=BUS 1u 63V film
U1 chip VCC=VCC GND=RTN OUT=G supply=VCC ground=GND{load}
mains L N 230V
"""


def test_what_a_chip_draws_is_not_predicted() -> None:
    """Through a start-up resistor of a megohm a chip of unknown load may hold any voltage."""
    found = steps(START.format(load=""))
    for step in found[1:3]:
        assert "VCC" not in {e.red for e in step.expected}
        assert "VCC" in step.chips_set
        assert "VCC must stay below the 35 V of C3" in step.stop
    told = steps(START.format(load=" load=20k"))[2]
    vcc = next(e for e in told.expected if e.red == "VCC").prediction.band.value
    assert vcc == pytest.approx(324.5 * 20e3 / 1.02e6, rel=0.02)  # 10 MΩ of the meter are small against 20 kΩ
    assert not told.chips_set


def test_what_only_leakage_holds_between_the_peaks_is_left_out() -> None:
    """The middle of a divider across the mains is at half the link at either peak, and nowhere in between."""
    assert "M" not in {e.red for e in steps(START.format(load=""))[2].expected}


def test_what_stands_on_the_capacitors_afterwards() -> None:
    """½·C·V² at the peak, R·C·ln with every tolerance slow; without a bleeder it stays."""
    text = ("mains L N 230V\nBR1 bridge AC1=L AC2=N +=P -=M\nC1 capacitor P M 100u 400V electrolytic\n"
            "R1 resistor P M 100k 5%\n")
    last = powerup(parse_board(text, "x.board"), load_meter("handheld"))[-1]
    assert "C1 may hold 324 V, 5.3 J, down to 60 V by itself in 21 s at most, bleeders whole." in last.do
    unbled = parse_board(text.replace("R1 resistor P M 100k 5%\n", ""), "x.board")
    assert "C1 may hold 325 V, 5.3 J, and keeps it." in powerup(unbled, load_meter("handheld"))[-1].do


def test_no_bank_is_passed_over_in_silence() -> None:
    text = "mains L N 230V\n" + "".join(f"C{k} capacitor L N{k} 1u 400V film\nR{k} resistor N{k} N 1M\n"
                                       for k in range(1, 7))
    last = powerup(parse_board(text, "x.board"), load_meter("handheld"))[-1]
    assert last.do.count("may hold") == 4
    assert "2 more with less energy: see incircuit discharge." in last.do


@pytest.mark.practice
def test_a_small_lamp_for_a_small_voltage() -> None:
    """10 W at 24 V: 57.6 ohms hot, a tenth of that cold."""
    text = "mains L N 24V\nBR1 bridge AC1=L AC2=N +=P -=M\nR1 resistor P M 10k\n"
    step = powerup(parse_board(text, "x.board"), load_meter("handheld"))[-2]
    assert "10 W filament lamp" in step.do
    assert "5.8 Ω cold: no more than 5.9 A" in step.do


def test_no_lamp_is_taken_out_where_none_was_put_in() -> None:
    assert "lamp" not in steps("R1 resistor P N 1k\nR2 resistor P N 1k\nsupply P N 12V\n")[-1].do
    assert "lamp" in steps()[-1].do


AMPLIFIER = """
R1 resistor V+ OUT 10k 1%
R2 resistor OUT V- 10k 1%
R3 resistor OUT GND 1k 1%
R4 resistor V- IN 4k7 1%
R5 resistor IN GND 4k7 1%
C1 capacitor V+ GND 4700u 63V electrolytic
supply V+ GND 45V
supply GND V- 45V
supply AUX GND 12V
R6 resistor AUX GND 1k
"""


def test_plus_and_minus_are_fed_together() -> None:
    """Half of each rail's drop on OUT would be off with one of them missing."""
    found = [s for s in steps(AMPLIFIER) if "bench supply" in s.title]
    assert [(s.plus, s.middle, s.minus, s.volts) for s in found] == [("V+", "GND", "V-", 30.0),
                                                                     ("AUX", "", "GND", 12.0)]
    seen = {(e.red, e.black): e.prediction for e in found[0].expected}
    assert seen["V-", "GND"].high.text == "-14.90 V"
    assert seen["IN", "GND"].shown.text == "-7.50 V"
    assert ("OUT", "GND") not in seen  # nothing stands there
    assert found[0].draws == pytest.approx(15.0 / 10e3 + 15.0 / 9.4e3, rel=0.02)


def test_supplies_that_differ_are_fed_one_by_one() -> None:
    uneven = AMPLIFIER.replace("supply GND V- 45V", "supply GND V- 9V")
    assert all(not s.middle for s in steps(uneven))


def test_what_stands_below_a_limit_is_not_timed_to_it() -> None:
    told = steps("C1 capacitor P N 4700u 63V electrolytic\nR1 resistor P N 2k2\nsupply P N 45V\n")[-1].do
    assert "down to 34 V by itself in " in told
    assert "60 V" not in told
