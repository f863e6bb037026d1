"""Capacitance by time, series resistance and volts against closed forms and facts of the trade."""

from __future__ import annotations

import math

import pytest

from incircuit.board import make_state, parse_board
from incircuit.errors import StateError
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Change
from incircuit.predict.charging import falsifiers, predict_charging, read_timed
from incircuit.predict.measure import Ask
from incircuit.predict.question import Question, ask_about
from incircuit.predict.volts import Supply, voltages

METER = load_meter("handheld")


def question(text: str, red: str, black: str, **state: tuple[str, ...]) -> Question:
    board = parse_board(text, "x.board")
    return ask_about(board, make_state(board, **state), red, black)


def read(q: Question, mode: str) -> float:
    return float(read_timed(q.circuit, (), q.red_node, q.black_node, METER, [Ask(mode)], 0)[0, 0, 0])


@pytest.mark.parametrize("value", ["10p", "1n", "100n", "4u7", "470u", "10000u"])
def test_a_capacitor_alone_reads_its_value(value: str) -> None:
    q = question(f"C1 capacitor A B {value} film\n", "A", "B")
    assert q.part is not None
    assert read(q, "farads") == pytest.approx(q.part.value, rel=2e-3)


@pytest.mark.parametrize(("farads", "ohms"), [("47u", 4700.0), ("1u", 100e3), ("470u", 22e3)])
def test_a_resistor_beside_it_makes_it_read_high(farads: str, ohms: float) -> None:
    """t = RC·ln((IR − low)/(IR − high)), C read = I·t/(high − low); the range tells I."""
    q = question(f"C1 capacitor A B {farads} film\nR1 resistor A B {ohms:g}\n", "A", "B")
    assert q.part is not None
    assert METER.farads is not None
    low, high = METER.farads.low, METER.farads.high
    true, expected = float(q.part.value or 0.0), math.inf
    for scale in METER.farads.ranges:
        top = scale.source.current * ohms
        if top <= high:
            continue
        seconds = ohms * true * math.log((top - low) / (top - high))
        value = scale.source.current * seconds / (high - low)
        late = ohms * true * math.log(top / (top - high)) > METER.farads.patience(scale)
        if value <= scale.full_scale and not late:
            expected = value
            break
    assert read(q, "farads") == pytest.approx(expected, rel=5e-3)


def test_a_low_resistance_hides_it() -> None:
    """5 mA through 47 Ω are 0.24 V: the upper voltage is never reached."""
    q = question("C1 capacitor A B 100u electrolytic\nR1 resistor A B 47\n", "A", "B")
    assert predict_charging(q, METER, "farads", boards=16).shown.overload


def test_what_a_high_range_has_timed_stands_in_its_digits() -> None:
    """47 nF beside 820 Ω come to 0.6 V only by 1 mA, on the range of millifarads: 0 µF, no tenths of a nF."""
    q = question("C1 capacitor A B 47n film\nR1 resistor A B 820R\n", "A", "B")
    found = predict_charging(q, METER, "farads", boards=16)
    assert found.shown.text == "0 µF"
    assert (found.band.low, found.band.high) == (0.0, pytest.approx(5e-6))



def test_capacitors_side_by_side_add_up_and_are_named() -> None:
    q = question("C1 capacitor A B 100u electrolytic\nC2 capacitor A B 47u electrolytic\n", "A", "B")
    assert read(q, "farads") == pytest.approx(147e-6, rel=2e-3)
    ((ref, without),) = falsifiers(q, METER, "farads")
    assert ref == "C2"
    assert without == pytest.approx(100e-6, rel=2e-3)


def test_series_resistance_of_two_side_by_side() -> None:
    """|Z| of two branches of R + 1/jωC at 100 kHz."""
    q = question("C1 capacitor A B 100u electrolytic esr=0.5\nC2 capacitor A B 47u electrolytic esr=1.5\n",
                 "A", "B")
    omega = 2.0 * math.pi * 100e3
    one, two = 0.5 + 1.0 / (1j * omega * 100e-6), 1.5 + 1.0 / (1j * omega * 47e-6)
    assert read(q, "esr") == pytest.approx(abs(one * two / (one + two)), rel=1e-3)


@pytest.mark.practice
def test_a_dried_out_electrolytic_shows_on_both() -> None:
    """Half the capacitance lost and several times the series resistance: farads low, esr high."""
    text = "C1 capacitor A B 470u 25V electrolytic esr=80m\n"
    sound, dried = question(text, "A", "B"), question(text, "A", "B", faults=("C1 dried 0.5",))
    assert read(dried, "farads") == pytest.approx(0.5 * read(sound, "farads"), rel=0.01)
    assert read(dried, "esr") > 5.0 * read(sound, "esr")
    worn = question(text, "A", "B", faults=("C1 high-esr 10",))
    assert read(worn, "farads") == pytest.approx(read(sound, "farads"), rel=0.01)
    assert read(worn, "esr") == pytest.approx(10.0 * read(sound, "esr"), rel=0.02)


def test_a_winding_beside_a_capacitor_is_no_short_at_this_frequency() -> None:
    """330 µH are 207 Ω at 100 kHz; its 45 mΩ would read as a short on ohms."""
    alone = question("C1 capacitor A B 10u film esr=20m\n", "A", "B")
    beside = question("C1 capacitor A B 10u film esr=20m\nL1 inductor A B 330u dcr=45m\n", "A", "B")
    assert read(beside, "esr") == pytest.approx(read(alone, "esr"), rel=0.01)


DIVIDER = "R1 resistor BUS M 470k 1%\nR2 resistor M RTN 10k 1%\nC1 capacitor M RTN 10n ceramic\n"


def test_a_divider_under_power_with_a_ten_megohm_meter() -> None:
    q = question(DIVIDER, "M", "RTN", power=("BUS RTN 325",))
    lower = 1.0 / (1.0 / 10e3 + 1.0 / 10e6)
    assert read(q, "volts") == pytest.approx(325.0 * lower / (470e3 + lower), rel=1e-4)
    band = predict_charging(q, METER, "volts").band
    assert band.low is not None
    assert band.high is not None
    assert 6.6 < band.low < 6.77 < band.high < 7.0


@pytest.mark.published
def test_a_loaded_reading() -> None:
    """250 MΩ ∥ 10 MΩ meter with 250 MΩ in series from 24 V: 0.8889 V (LIEC DC ch. 8)."""
    q = question("R1 resistor A M 250M\nR2 resistor M B 250M\n", "M", "B", power=("A B 24",))
    assert read(q, "volts") == pytest.approx(0.8889, abs=1e-4)


def test_a_current_limit_holds() -> None:
    q = question("R1 resistor A B 100\n", "A", "B", power=("A B 10",))
    exact = read_timed(q.circuit, (), "A", "B", METER, [Ask("volts")], 0, limit=0.02)
    assert exact[0, 0, 0] == pytest.approx(2.0, rel=1e-3)


def test_a_meter_loads_one_pair_at_a_time() -> None:
    """Pairs read together are read as each by itself; OUT and GND lie behind the isolation."""
    text = DIVIDER + "R3 resistor BUS X 4M7 5%\nD1 diode A=X K=RTN rectifier\nR4 resistor OUT GND 1k\n"
    circuit = question(text, "M", "RTN").circuit
    pairs = [("M", "RTN"), ("X", "RTN"), ("OUT", "RTN"), ("BUS", "GND"), ("RTN", "X"), ("M", "M")]
    gone = [Change(frozenset(e.name for e in circuit.of_part(ref))) for ref in ("R2", "D1")]
    supplies = (Supply("BUS", "RTN", 30.0), Supply("X", "RTN", 0.3))
    together = voltages(circuit, gone, supplies, pairs, 10e6, 8)
    for k, pair in enumerate(pairs):
        assert voltages(circuit, gone, supplies, [pair], 10e6, 8)[0] == pytest.approx(together[k], abs=1e-6)


def test_volts_need_a_supply() -> None:
    with pytest.raises(StateError, match="no supply"):
        read(question(DIVIDER, "M", "RTN"), "volts")


@pytest.mark.published
def test_two_millivolts_a_kelvin() -> None:
    """Silicon at constant current: about −2 mV/K (Sedra & Smith)."""
    from incircuit.predict.prediction import predict

    text = "D1 diode A=A K=K rectifier\n"
    cold, warm = (predict(question(text, "A", "K", hot=hot), METER, ["diode"], (False,))[0].band.value
                  for hot in ((), ("D1 65",)))
    assert cold is not None
    assert warm is not None
    assert -2.4e-3 < (warm - cold) / 40.0 < -1.6e-3
