"""`operating_point` against decks written by hand with ngspice's native cards, and against arithmetic.

Decks here are plain text in ngspice's language, made without any code under test but `run_op`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest

from incircuit.circuit.spice import operating_point, run_op
from incircuit.errors import EngineError
from incircuit.parts.elements import Capacitance, Channel, Coupling, Element, Junction, Resistance

pytestmark = pytest.mark.usefixtures("ngspice")
OPTIONS = ".options temp=25 tnom=25 reltol=1e-6 abstol=1e-15 vntol=1e-9 gmin=1e-12 rshunt=1e15\n.op\n.end\n"


@dataclass(frozen=True)
class Meter:
    current: float = 1e-3
    open_circuit: float = 3.0
    resistance: float = 0.3
    lead_resistance: float = 0.0
    sign: int = 1


def resistor(name: str, a: str, b: str, ohms: float) -> Resistance:
    return Resistance(name, name, a, b, ohms)


def bipolar(ref: str, c: str, b: str, e: str, is_: float, bf: float, br: float, sign: int) -> list[Element]:
    """The transport form of Ebers–Moll, as the part catalogue builds it."""
    be = (b, e) if sign > 0 else (e, b)
    bc = (b, c) if sign > 0 else (c, b)
    main, back = ((c, e), (e, c)) if sign > 0 else ((e, c), (c, e))
    return [
        Junction(f"{ref} BE", ref, *be, is_ / bf),
        Junction(f"{ref} BC", ref, *bc, is_ / br),
        Coupling(f"{ref} forward", ref, f"{ref} BE", *main, bf),
        Coupling(f"{ref} reverse", ref, f"{ref} BC", *back, br),
    ]


@pytest.mark.published
@pytest.mark.parametrize("sign", [1, -1])
def test_bipolar_in_place_equals_a_native_q_card(sign: int) -> None:
    """Reference: ngspice's Q card. Meter C to E, base bias from the collector, emitter resistor."""
    kind = "npn" if sign > 0 else "pnp"
    elements = [resistor("R1", "C", "B", 22e3), resistor("R2", "B", "E", 10e3),
                resistor("R3", "E", "0V", 22.0),
                *bipolar("Q1", "C", "B", "E", 1e-14, 150.0, 3.0, sign)]
    point = operating_point(elements, "C", "0V", Meter(sign=sign))
    op = run_op(f"by hand\ni1 0 c {sign * 1e-3}\nr1 c b 22e3\nr2 b e 10e3\nr3 e 0 22\nq1 c b e m\n"
                f".model m {kind} is=1e-14 bf=150 br=3\n{OPTIONS}")
    for node, name in (("C", "c"), ("B", "b"), ("E", "e")):
        assert point.voltages[node] == pytest.approx(op[name], abs=1e-6)


@pytest.mark.published
def test_reverse_biased_bipolar_does_not_multiply_gmin() -> None:
    """Reference: ngspice's Q card, open base at 3 V behind 10 MΩ: the leak is pA, not 150 times that."""
    elements = bipolar("Q1", "C", "B", "0V", 1e-14, 150.0, 3.0, 1)
    point = operating_point(elements, "C", "0V", Meter(1e-7, 3.0, 3e7, 0.0))
    op = run_op(f"by hand\nv1 a 0 3\nr1 a c 3e7\nq1 c b 0 m\n.model m npn is=1e-14 bf=150 br=3\n{OPTIONS}")
    assert point.voltages["C"] == pytest.approx(op["c"], abs=1e-3)
    assert point.voltages["B"] == pytest.approx(op["b"], abs=5e-3)


@pytest.mark.published
@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("gate", [0.0, 2.0, 2.3, 4.0])
def test_mos_with_body_equals_native_m_and_d_cards(sign: int, gate: float) -> None:
    """Reference: ngspice's M level 1 and D. The gate hangs on the meter through a divider."""
    kind, vto = ("nmos", 2.1) if sign > 0 else ("pmos", -2.1)
    low = 100e3 if gate == 0.0 else 100e3 * gate / (3.0 - gate) if gate < 3.0 else 1e12
    elements = [resistor("R1", "D", "G", 100e3), resistor("R2", "G", "S", low), resistor("R3", "D", "A", 1e3),
                Channel("Q1 channel", "Q1", "A", "G", "S", vto, 0.3, sign),
                Junction("Q1 body", "Q1", *(("S", "A") if sign > 0 else ("A", "S")), 1e-12, 1.1, 0.02)]
    body = "0 a" if sign > 0 else "a 0"
    for way in (1, -1):
        point = operating_point(elements, "D", "S", Meter(sign=way))
        op = run_op(f"by hand\nv1 m 0 {way * 3.0}\nrm m d 0.3\nr1 d g 100e3\nr2 g 0 {low!r}\nr3 d a 1e3\n"
                    f"m1 a g 0 0 q l=1e-4 w=1e-4\n.model q {kind} level=1 vto={vto} kp=0.3 is=1e-30\n"
                    f"d1 {body} b\n.model b d is=1e-12 n=1.1 rs=0.02\n{OPTIONS}")
        if abs(op["v1#branch"]) > 1e-3:
            op = run_op(f"by hand\ni1 0 d {way * 1e-3}\nr1 d g 100e3\nr2 g 0 {low!r}\nr3 d a 1e3\n"
                        f"m1 a g 0 0 q l=1e-4 w=1e-4\n.model q {kind} level=1 vto={vto} kp=0.3 is=1e-30\n"
                        f"d1 {body} b\n.model b d is=1e-12 n=1.1 rs=0.02\n{OPTIONS}")
        for node, name in (("D", "d"), ("G", "g"), ("A", "a")):
            assert point.voltages[node] == pytest.approx(op[name], abs=2e-6)


@pytest.mark.published
def test_zener_on_the_meter_equals_a_native_d_card() -> None:
    """Reference: ngspice. A 2.4 V zener reversed on the diode test, 25 °C and 60 °C."""
    zener = Junction("D1", "D1", "0V", "K", 1e-12, 1.3, 5.0, bv=2.4, ibv=5e-3, eg=1.2, xti=2.0)
    for celsius in (25.0, 60.0):
        point = operating_point([zener], "K", "0V", Meter(), celsius=celsius)
        op = run_op(f"by hand\ni1 0 k 1e-3\nd1 0 k z\n.model z d is=1e-12 n=1.3 rs=5 bv=2.4 ibv=5e-3 eg=1.2 "
                    f"xti=2\n{OPTIONS.replace('temp=25', f'temp={celsius}')}")
        assert point.voltages["K"] == pytest.approx(op["k"], abs=1e-6)


def test_compliance_current_limit_and_leads() -> None:
    meter = Meter(1e-3, 3.0, 0.3, 0.2)
    limited = operating_point([resistor("R1", "A", "B", 1e3)], "A", "B", meter)
    assert limited.source_current == 1e-3
    assert limited.voltages["A"] == pytest.approx(1.0)
    assert limited.terminal_voltage == pytest.approx(1.0002)
    weak = operating_point([resistor("R1", "A", "B", 1e5)], "A", "B", meter)
    assert weak.source_current == pytest.approx(3.0 / (1e5 + 0.5), rel=1e-9)
    assert weak.terminal_voltage == pytest.approx(3.0 - 0.3 * weak.source_current)
    plain = operating_point([resistor("R1", "A", "B", 1e3)], "A", "B", Meter(math.inf, 1.5, 500.0))
    assert plain.source_current == pytest.approx(1e-3, rel=1e-9)


def test_swapped_leads_turn_the_sign() -> None:
    diode = Junction("D1", "D1", "A", "K", 2.52e-9, 1.752, 0.568)
    forward = operating_point([diode], "A", "K", Meter())
    reverse = operating_point([diode], "K", "A", Meter(sign=-1))
    assert reverse.voltages["K"] == pytest.approx(-forward.voltages["A"], abs=1e-9)
    assert reverse.source_current == forward.source_current == 1e-3


def test_open_pads_show_the_open_circuit_voltage() -> None:
    for elements in ([], [Capacitance("C1", "C1", "A", "B", 1e-6)], [resistor("R1", "A", "B", math.inf)]):
        point = operating_point(elements, "A", "B", Meter())
        assert point.voltages["A"] == pytest.approx(3.0, abs=1e-6)
        assert point.source_current == pytest.approx(0.0, abs=1e-12)


def test_pads_on_one_net_and_pads_joined_by_a_link() -> None:
    for elements, red, black in (([], "A", "A"), ([resistor("J1", "A", "B", 0.0)], "A", "B"),
                                 ([resistor("J1", "A", "M", 0.0), resistor("J2", "M", "B", 0.0)], "A", "B")):
        for leads in (0.0, 0.2):
            point = operating_point(elements, red, black, Meter(lead_resistance=leads))
            assert point.voltages[red] == 0.0
            assert point.source_current == 1e-3
            assert point.terminal_voltage == pytest.approx(1e-3 * leads)


def test_floating_islands_and_links_in_a_loop_are_no_trouble() -> None:
    elements = [resistor("R1", "A", "B", 1e3), resistor("R9", "X", "Y", 10.0),
                resistor("J1", "A", "P", 0.0), resistor("J2", "P", "Q", 0.0), resistor("J3", "Q", "A", 0.0),
                Junction("D9", "D9", "Y", "Z", 1e-9), Junction("D8", "D8", "A", "Q", 1e-9)]
    point = operating_point(elements, "A", "B", Meter())
    assert point.voltages["Q"] == point.voltages["A"] == pytest.approx(1.0)
    assert abs(point.voltages["X"]) < 1e-12
    assert abs(point.voltages["Z"]) < 1e-12


def test_huge_ratio_of_values() -> None:
    elements = [resistor("R1", "A", "M", 0.01), resistor("R2", "M", "B", 10e6),
                resistor("R3", "M", "N", 1e-3), resistor("R4", "N", "A", 1e-6)]
    point = operating_point(elements, "A", "B", Meter(1e-7, 3.0, 3e3))
    assert point.voltages["A"] == pytest.approx(1.0, rel=1e-7)
    assert point.voltages["A"] - point.voltages["M"] == pytest.approx(
        1e-7 / (1 / 0.01 + 1 / 1.001e-3), rel=1e-4)


def test_names_that_ngspice_would_merge_or_misread_stay_apart() -> None:
    elements = [resistor("R1", "+5V", "+5v", 1e3), resistor("r1", "+5v", "0", 2e3),
                resistor("R 2", "0", "GND", 3e3)]
    point = operating_point(elements, "+5V", "GND", Meter(1e-4))
    assert point.voltages == pytest.approx({"+5V": 0.6, "+5v": 0.5, "0": 0.3, "GND": 0.0}, abs=1e-9)


@pytest.mark.parametrize("charge", [0.0, 5.0, 1.0])
def test_an_insulated_gate_sits_at_its_source_unless_charged(charge: float) -> None:
    elements = [Channel("Q1", "Q1", "D", "G", "S", 2.1, 0.3, 1, charge)]
    point = operating_point(elements, "D", "S", Meter())
    assert point.voltages["G"] == pytest.approx(charge, rel=0.02)
    conducts = charge > 2.1
    assert (point.source_current > 0.9e-3) == conducts
    if not conducts:
        assert point.source_current < 1e-13  # the gmin inside the M card is taken out again


def test_thermistor_follows_the_board_temperature() -> None:
    ntc = Resistance("RT1", "RT1", "A", "B", 10e3, ntc_beta=3950.0)
    point = operating_point([ntc], "A", "B", Meter(1e-5), celsius=50.0)
    ohms = 10e3 * math.exp(3950.0 * (1 / 323.15 - 1 / 298.15))
    assert point.voltages["A"] == pytest.approx(1e-5 * ohms, rel=1e-6)


def test_refusals_name_the_element() -> None:
    with pytest.raises(EngineError, match="R7"):
        operating_point([resistor("R7", "A", "B", math.nan)], "A", "B", Meter())
    with pytest.raises(EngineError, match="Q1 forward follows Q1 BE"):
        operating_point([Coupling("Q1 forward", "Q1", "Q1 BE", "A", "B", 100.0)], "A", "B", Meter())
    with pytest.raises(EngineError, match="without current limit"):
        operating_point([], "A", "B", Meter(math.inf, 3.0, 0.0, 0.0))


def test_run_op_reports_what_ngspice_says_and_recovers() -> None:
    good = "title\nv1 a 0 1\nr1 a 0 1e3\n.op\n.end"
    with pytest.raises(EngineError, match="no operating point"):
        run_op("title\nr1 a 0 nonsense\n.op\n.end")
    with pytest.raises(EngineError, match="no operating point"):
        run_op("title\nv1 a 0 1\nv2 a 0 2\n.op\n.end")
    with pytest.raises(EngineError, match="no operating point"):
        run_op("title\nr1 a 0 1\n.end")
    with pytest.raises(EngineError, match="no operating point"):
        run_op("")
    assert run_op(good)["a"] == 1.0
    assert run_op("\nv1 a 0 1\nr1 a 0 1e3\n.op\n.end")["v1#branch"] == pytest.approx(-1e-3)  # empty title
