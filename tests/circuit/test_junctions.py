"""Junction facts with sources, solved by the own engine."""

from __future__ import annotations

import math

import numpy as np
import pvlib
import pytest
from scipy import constants
from scipy.special import lambertw

from incircuit.circuit.laws import K_OVER_Q, thermal_voltage
from incircuit.parts.elements import Coupling, Junction
from tests.circuit.helpers import diode, point, resistances

SETS = {
    "signal": (2.52e-9, 1.752, 0.568, 0.5808),
    "rectifier": (7.02767e-9, 1.80803, 0.034, 0.5512),
    "12 A fast": (63e-9, 2.0, 0.0096, 0.4970),
    "small Schottky": (315e-9, 2.03, 2.8, 0.4233),
}


@pytest.mark.published
def test_thermal_voltage() -> None:
    """kT/q at 25 °C is 25.692579 mV (SI 2019; scipy.constants)."""
    assert pytest.approx(constants.k / constants.e, rel=1e-15) == K_OVER_Q
    assert thermal_voltage(25.0) == pytest.approx(25.692579e-3, abs=5e-10)


@pytest.mark.published
@pytest.mark.parametrize("name", SETS)
def test_drop_at_a_milliampere(name: str) -> None:
    """Parameter sets in public netlists: drop at 1 mA, 25 °C."""
    is_, n, rs, drop = SETS[name]
    solution = point([diode("D1", "a", "k", is_=is_, n=n, rs=rs)], "a", "k")
    assert float(solution.pad_voltage[0]) == pytest.approx(drop, abs=5e-5)


@pytest.mark.published
@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize(("volts", "behind"), [(3.0, 3e3), (0.3, 1e3), (1.0, 10.0)])
def test_lambert_w(name: str, volts: float, behind: float) -> None:
    """Diode with series resistance in closed form: Jain and Kapoor, Sol. Energy Mater. Sol. Cells 81
    (2004) 269."""
    is_, n, rs, _ = SETS[name]
    nvt, r = n * thermal_voltage(25.0), rs + behind
    w = lambertw(is_ * r / nvt * math.exp((volts + is_ * r) / nvt)).real
    exact = nvt / r * w - is_
    element = diode("D1", "a", "k", is_=is_, n=n, rs=rs)
    solution = point([element], "a", "k", current=math.inf, volts=volts, resistance=behind, gmin=0.0)
    assert float(solution.current[0]) == pytest.approx(exact, rel=1e-9)


@pytest.mark.published
@pytest.mark.parametrize(("shunt", "published"), [(1e3, 0.545416163), (10e3, 0.578169081)])
def test_pvlib_single_diode(shunt: float, published: float) -> None:
    """pvlib `v_from_i`: its shunt sits inside the series resistance (reference library)."""
    is_, n, rs, _ = SETS["signal"]
    nvt = n * thermal_voltage(25.0)
    reference = pvlib.pvsystem.v_from_i(-1e-3, 0.0, is_, rs, shunt, nvt, method="lambertw")
    assert float(reference) == pytest.approx(published, abs=1e-9)
    elements = [diode("D1", "m", "k", is_=is_, n=n, rs=0.0),
                *resistances([("a", "m", rs), ("m", "k", shunt)])]
    assert float(point(elements, "a", "k", gmin=0.0).pad_voltage[0]) == pytest.approx(published, abs=2e-9)


@pytest.mark.parametrize("count", [2, 3, 10])
def test_equal_junctions_in_parallel(count: int) -> None:
    """At constant current N equal junctions drop n·Vt·ln N less; exact for rs = 0 and i ≫ is."""
    single = point([diode("D0", "a", "k", rs=0.0)], "a", "k", gmin=0.0)
    many = point([diode(f"D{k}", "a", "k", rs=0.0) for k in range(count)], "a", "k", gmin=0.0)
    fall = float(single.pad_voltage[0] - many.pad_voltage[0])
    i, is_, nvt = 1e-3, 2.52e-9, 1.752 * thermal_voltage(25.0)
    assert fall == pytest.approx(nvt * (math.log1p(i / is_) - math.log1p(i / is_ / count)), abs=1e-9)
    assert fall == pytest.approx(nvt * math.log(count), abs=2e-6)


@pytest.mark.published
def test_rectifier_power_currents() -> None:
    """IS 18.8n N 2 RS 0 at 27 °C: 0.7 V gives 14.162 mA, 0.925 V gives 1.09687 A (LIEC Semi ch. 3,
    within 0.5 %: older constants). The set is stated at 27 °C, so n is scaled to give 27 °C at 25 °C."""
    n27 = 2.0 * (273.15 + 27.0) / (273.15 + 25.0)
    element = diode("D1", "a", "k", is_=18.8e-9, n=n27, rs=0.0)
    for volts, amps in ((0.7, 14.162e-3), (0.925, 1.09687)):
        solution = point([element], "a", "k", current=amps)
        assert float(solution.pad_voltage[0]) == pytest.approx(volts, abs=5e-3 * n27 * thermal_voltage())


@pytest.mark.published
def test_low_voltage_ohms_sees_through_a_diode() -> None:
    """1 k with a diode across it, tested under 0.3 V, reads 1 k (LIEC Semi ch. 3)."""
    elements = [*resistances([("a", "k", 1e3)]), diode("D1", "a", "k")]
    solution = point(elements, "a", "k", current=1e-4, volts=0.3)
    assert float(solution.pad_voltage[0] / solution.current[0]) == pytest.approx(1e3, rel=2e-3)


@pytest.mark.published
def test_zener_conducts_or_not() -> None:
    """12.6 V zener: 45 V through 1 k gives 32.4 mA; through 100 k with 500 ohm across it, 224 mV and no
    current (LIEC Semi ch. 3)."""
    zener = diode("D1", "a", "k", is_=1e-12, n=1.0, rs=0.0, bv=12.6, ibv=32.4e-3)
    hard = point([zener], "k", "a", current=math.inf, volts=45.0, resistance=1e3)
    assert float(hard.current[0]) == pytest.approx(32.4e-3, rel=1e-3)
    assert float(hard.pad_voltage[0]) == pytest.approx(12.6, abs=0.01)
    soft = point([zener, *resistances([("k", "a", 500.0)])], "k", "a", current=math.inf, volts=45.0,
                 resistance=100e3)
    assert float(soft.pad_voltage[0]) == pytest.approx(0.224, abs=5e-4)


@pytest.mark.published
def test_temperature_coefficient() -> None:
    """Silicon at constant current: about −2 mV/K (Sedra and Smith, as quoted)."""
    element = diode("D1", "a", "k", is_=1e-14, n=1.0, rs=0.0)
    warm, cold = (float(point([element], "a", "k", celsius=c).pad_voltage[0]) for c in (35.0, 25.0))
    assert (warm - cold) / 10.0 == pytest.approx(-2e-3, abs=4e-4)


def bipolar(name: str, b: str, c: str, e: str, *, is_: float = 1e-14, bf: float = 200.0,
            br: float = 5.0, pnp: bool = False) -> list[Junction | Coupling]:
    """Transport Ebers–Moll from elements, as the parts layer builds it."""
    if pnp:
        be = Junction(f"{name} be", name, e, b, is_ / bf)
        bc = Junction(f"{name} bc", name, c, b, is_ / br)
        return [be, bc, Coupling(f"{name} f", name, be.name, e, c, bf),
                Coupling(f"{name} r", name, bc.name, c, e, br)]
    be = Junction(f"{name} be", name, b, e, is_ / bf)
    bc = Junction(f"{name} bc", name, b, c, is_ / br)
    return [be, bc, Coupling(f"{name} f", name, be.name, c, e, bf),
            Coupling(f"{name} r", name, bc.name, e, c, br)]


@pytest.mark.published
def test_pnp_on_the_diode_test() -> None:
    """E–B and C–B conduct, E–B a little above C–B, the other four read OL (LIEC Semi ch. 4)."""
    q = bipolar("Q1", "b", "c", "e", is_=1e-14, bf=200.0, br=5.0, pnp=True)
    reads = {(r, k): float(point(q, r, k).pad_voltage[0]) for r in "bce" for k in "bce" if r != k}
    assert {pair for pair, v in reads.items() if v < 2.0} == {("e", "b"), ("c", "b")}
    assert reads["e", "b"] > reads["c", "b"] > 0.5


def test_bipolar_gain() -> None:
    """Base current through 1 M from the collector: the collector carries bf times the base."""
    q = bipolar("Q1", "b", "c", "e", bf=100.0)
    solution = point([*q, *resistances([("c", "b", 1e6)])], "c", "e", current=1e-3, volts=200.0, gmin=0.0)
    base = float((solution.voltage("c") - solution.voltage("b"))[0]) / 1e6
    assert (1e-3 - base) / base == pytest.approx(100.0, rel=1e-6)


def test_many_equal_scenarios_agree() -> None:
    """A batch gives the same digits as one by one."""
    from incircuit.circuit.network import compile_network
    from incircuit.circuit.solve import solve
    from incircuit.circuit.source import drive
    from incircuit.circuit.values import nominal_values

    elements = [*resistances([("a", "m", 33.0), ("m", "k", 4.7e3)]), diode("D1", "m", "k"),
                diode("D2", "k", "a")]
    network = compile_network(elements, "a", "k")
    batch = solve(network, nominal_values(network), drive(1e-3, 3.0, 0.3, scenarios=5000))
    assert np.ptp(batch.pad_voltage) == 0.0
    assert float(batch.pad_voltage[0]) == float(point(elements, "a", "k").pad_voltage[0])
