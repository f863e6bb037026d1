"""Courses with a closed form: a capacitor on a current, behind a resistance, beside one."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from incircuit.board import make_state, parse_board
from incircuit.circuit.elimination import Floats
from incircuit.circuit.network import compile_network
from incircuit.circuit.source import Drive, drive
from incircuit.circuit.transient import Order, Plant, Span, march
from incircuit.circuit.values import nominal_values
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Capacitance, Element, Junction, Resistance
from incircuit.predict.course import Course, course_of
from incircuit.predict.measure import Ask
from incircuit.predict.question import ask_about

METER = load_meter("handheld")


def charged_to(elements: list[Element], source: Drive, times: list[float], start: float = 0.0) -> list[float]:
    """Voltage between a and b at times [s]."""
    network = compile_network(elements, "a", "b", moving=True)
    farads = np.array([[c.farads] for c in network.companions])
    plant = Plant(network, nominal_values(network), farads, 0.0 * farads)
    found = dict.fromkeys(times, math.nan)

    def watch(span: Span, _: Drive) -> Order | None:
        for t in times:
            if span.start[0] <= t <= span.end[0]:
                found[t] = float(span.at(np.array([t]))[0])
        return None

    assert march(plant, source, np.full((len(farads), 1), start), np.array([times[-1] * 1.01]), watch).all()
    return [found[t] for t in times]


@pytest.mark.published
def test_fifteen_volts_through_ten_kilohms() -> None:
    """15 V, 10 k, 100 µF: 12.970 V at 2 s, 14.989 V at 7.25 s (LIEC DC ch. 16); steps may sum up to 0.1 %."""
    found = charged_to([Capacitance("C", "C", "a", "b", 100e-6)], drive(math.inf, 15.0, 10e3), [2.0, 7.25])
    assert found == pytest.approx([12.970, 14.989], rel=1e-3)


@pytest.mark.published
def test_what_is_left_after_time_constants() -> None:
    """0.3679, 0.1353, 0.0498, 0.0183, 0.0067 after 1 to 5 RC (LIEC DC ch. 16)."""
    elements: list[Element] = [Capacitance("C", "C", "a", "b", 1e-3), Resistance("R", "R", "a", "b", 1e3)]
    found = charged_to(elements, drive(0.0, 1e9, 1.0), [1.0, 2.0, 3.0, 4.0, 5.0], start=1.0)
    assert found == pytest.approx([0.3679, 0.1353, 0.0498, 0.0183, 0.0067], abs=5e-4)


@settings(deadline=None, derandomize=True, max_examples=40)
@given(st.floats(-9.0, -2.0), st.floats(2.0, 6.0), st.floats(-6.0, -2.5))
def test_a_current_into_a_capacitor_beside_a_resistor(farads: float, ohms: float, amps: float) -> None:
    """v = I·R·(1 − exp(−t/RC)), over seven decades of C."""
    c, r, i = 10.0**farads, 10.0**ohms, 10.0**amps
    elements: list[Element] = [Capacitance("C", "C", "a", "b", c), Resistance("R", "R", "a", "b", r)]
    times = [0.1 * r * c, r * c, 3.0 * r * c]
    if times[0] < 1e-4:
        return  # shorter than the first step is no course
    found = charged_to(elements, drive(i, 1e9, 1.0), times)
    exact = [i * r * (1.0 - math.exp(-t / (r * c))) for t in times]
    assert found == pytest.approx(exact, rel=2e-3, abs=2e-4)


def by_scipy(junction: Junction, ohms: float, c: Capacitance, amps: float, times: list[float]) -> Floats:
    """The capacitor's voltage by scipy's Radau, one state: C dv/dt = I − v/R − i_junction(v)."""
    nvt = junction.n * 25.692579e-3

    def slope(_: float, v: Floats) -> list[float]:
        return [(amps - v[0] / ohms - junction.is_ * math.expm1(v[0] / nvt)) / c.farads]

    found = solve_ivp(slope, (0.0, times[-1]), [0.0], "Radau", times, rtol=1e-8, atol=1e-10)
    return np.asarray(found.y[0])


@pytest.mark.parametrize("farads", [1e-8, 1e-5, 4.7e-4])
def test_a_junction_opens_on_the_way(farads: float) -> None:
    """Against a stiff integrator of a reference library, 0.5 mV."""
    d = Junction("D", "D", "a", "b", 7.02767e-9, 1.80803)
    c = Capacitance("C", "C", "a", "b", farads)
    times = [farads * 1e3 * part for part in (0.05, 0.2, 0.4, 0.6, 1.0, 3.0)]
    found = charged_to([d, c, Resistance("R", "R", "a", "b", 1e5)], drive(1e-3, 3.0, 0.3), times)
    assert found == pytest.approx(by_scipy(d, 1e5, c, 1e-3, times).tolist(), abs=5e-4)


def course(text: str, red: str, black: str, mode: str, charge: tuple[str, ...] = (),
           swap: bool = False) -> Course:
    board = parse_board(text, "x.board")
    return course_of(ask_about(board, make_state(board, charge=charge), red, black), METER, Ask(mode, swap))


LINK = "C1 capacitor BUS RTN 470u 450V electrolytic\n"


def test_what_a_person_sees_on_a_link_capacitor() -> None:
    """1 mA into 470 µF is 2.13 V a second, and 2 V are reached after 0.94 s."""
    seen = course(LINK, "BUS", "RTN", "diode")
    assert seen.sentence == "starts at 0.000 V, climbs 2.1 V a second, OL after about 1 s"
    assert seen.settled_after == pytest.approx(1.0)
    assert seen.values[:3] == (0.0, pytest.approx(0.709, abs=0.003), pytest.approx(1.418, abs=0.004))


def test_what_comes_from_overload_comes_from_above() -> None:
    """An autoranging ohmmeter on a bled link; one that hunts; a charged link on diode test."""
    bled = course(LINK + "R1 resistor BUS RTN 150k 5%\n", "BUS", "RTN", "ohms").sentence
    assert re.fullmatch(r"starts at 0\.\d Ω, jumps to OL within 0\.3 s, comes down from above to [\d.]+ kΩ "
                        r"within 3\.\d min, then climbs, not settled after 5 min, then at [\d.]+ kΩ \(ends "
                        r"at 150\.0 kΩ\)", bled)
    hunts = course("C1 capacitor G RTN 4u7\nR1 resistor G RTN 10k 1%\n", "G", "RTN", "ohms").sentence
    assert re.fullmatch(r"starts at [\d.]+ Ω, jumps about between [\d.]+ Ω and OL while the meter looks for "
                        r"its range, 10\.00 kΩ after about \d s", hunts)
    over = course("C1 capacitor A G 100u\nR1 resistor A G 47k 1%\n", "A", "G", "ohms", ("C1 1.5",)).sentence
    assert over.startswith("starts at OL, comes down from above, 47.0 kΩ after about ")


def test_the_beeper_chirps() -> None:
    """Below 40 Ω at 0.7 mA: 28 mV less the leads, on 470 µF after 18.7 ms."""
    seen = course(LINK, "BUS", "RTN", "continuity")
    assert seen.beeps == pytest.approx(470e-6 * (40.0 - 0.2), rel=0.02)
    assert "chirps for 19 ms" in seen.sentence


@pytest.mark.practice
def test_something_then_it_goes_away() -> None:
    """Plus to minus of a three-phase module on its link: the capacitor charges, then OL."""
    text = LINK + "M1 three-phase-inverter +=BUS -=RTN U=U V=V W=W igbt\n"
    seen = course(text, "BUS", "RTN", "diode")
    assert seen.values[1] is not None
    assert seen.final.overload
    assert seen.moves


def test_a_charge_left_moves_the_reading() -> None:
    """20 mV on the capacitor: 0.020 V one way, −0.020 V the other, and ohms below zero."""
    assert course(LINK, "BUS", "RTN", "diode", ("C1 0.02",)).first.text == "0.020 V"
    assert course(LINK, "BUS", "RTN", "diode", ("C1 0.02",), swap=True).first.text == "-0.020 V"
    negative = course(LINK, "BUS", "RTN", "ohms", ("C1 0.02",), swap=True).values[0]
    assert negative is not None
    assert negative == pytest.approx(-0.02 / 7e-4, rel=0.05)
    assert course(LINK, "BUS", "RTN", "diode", ("C1 5",)).first.overload  # a false OL


def test_without_a_capacitor_nothing_moves() -> None:
    seen = course("R1 resistor BUS RTN 10k 1%\n", "BUS", "RTN", "ohms")
    assert not seen.moves
    assert seen.settled_after == 0.0


def test_both_sides_of_a_bank_share_a_charge() -> None:
    """Capacitors side by side have one voltage, whichever of them was named."""
    both = LINK + "C2 capacitor BUS RTN 100n film\n"
    assert course(both, "BUS", "RTN", "diode", ("C2 0.5",)).first.text == "0.500 V"
