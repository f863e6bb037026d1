"""The laws in `incircuit.circuit.laws` against ngspice's own device models, region by region."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.circuit import laws
from incircuit.circuit.ngspice import run_op

CONSTANTS = 4e-7  # ngspice 39 computes with CODATA 2014: k/q differs by 3.4e-7 of itself
MICROVOLT = 1e-6


def diode(v: float, model: str, celsius: float = 25.0, gmin: float = 1e-30) -> float:
    """Current [A] of a native D card at a voltage across it."""
    op = run_op(f"diode\nv1 a 0 {v!r}\nd1 a 0 m\n.model m d {model}\n"
                f".options temp={celsius} tnom=25 reltol=1e-6 abstol=1e-15 gmin={gmin}\n.op\n.end")
    return -op["v1#branch"]


def assert_same_voltage(v: float, model: str, celsius: float, law: tuple[float, float]) -> None:
    """Ours and ngspice's curve lie within 1 µV at the current ngspice gives, or 1e-5 where flat."""
    current, slope = law
    theirs = diode(v, model, celsius)
    assert abs(current - theirs) <= max(slope * MICROVOLT, 1e-5 * abs(theirs))


SETS = [
    (2.52e-9, 1.752, math.inf, 1e-3, 1.11, 3.0),
    (1e-14, 1.0, 12.0, 5e-3, 1.11, 3.0),
    (1e-9, 2.0, 5.0, 1e-3, 1.11, 3.0),
    (1e-6, 1.0, 100.0, 1e-6, 0.69, 2.0),  # ibv below is·bv/vt: the knee stays at bv
    (1e-18, 2.0, math.inf, 1e-3, 2.0, 3.0),
]


@pytest.mark.published
@pytest.mark.usefixtures("ngspice")
@pytest.mark.parametrize("celsius", [-20.0, 25.0, 80.0])
@pytest.mark.parametrize(("is_", "n", "bv", "ibv", "eg", "xti"), SETS)
def test_junction_equals_the_d_card_in_every_region(
    is_: float, n: float, bv: float, ibv: float, eg: float, xti: float, celsius: float,
) -> None:
    """Reference: ngspice. Forward, near zero, cubic reverse, far reverse, before and in breakdown."""
    model = f"is={is_!r} n={n!r} eg={eg!r} xti={xti!r}"
    if math.isfinite(bv):
        model += f" bv={bv!r} ibv={ibv!r}"
    vt = laws.thermal_voltage(celsius)
    at = float(laws.is_at(is_, celsius, n, eg, xti))
    knee = float(laws.breakdown_knee(bv, ibv, at, n, vt))
    edge = -3.0 * n * vt
    below = [-0.999 * knee, -1.001 * knee, -bv, -bv - 0.05] if math.isfinite(bv) else [-400.0]
    for v in [0.7, 0.45, 0.01, 0.0, 0.99 * edge, 1.01 * edge, 2 * edge, -1.0, -3.0, *below]:
        current, slope = laws.junction_law(v, at, n * vt, knee)
        assert_same_voltage(v, model, celsius, (float(current), float(slope)))


@pytest.mark.published
@pytest.mark.usefixtures("ngspice")
def test_the_current_at_minus_bv_is_ibv() -> None:
    """Reference: ngspice; what IBV means on a D card (the knee is moved for it)."""
    current, _ = laws.junction_law(-12.0, 1e-14, laws.thermal_voltage(),
                                   laws.breakdown_knee(12.0, 5e-3, 1e-14, 1.0, laws.thermal_voltage()))
    assert float(current) == pytest.approx(-5e-3, rel=1e-6)
    assert diode(-12.0, "is=1e-14 bv=12 ibv=5e-3") == pytest.approx(-5e-3, rel=1e-5)


@pytest.mark.published
@pytest.mark.usefixtures("ngspice")
@pytest.mark.parametrize("rs", [0.0, 1e6])
def test_gmin_lies_across_the_junction_inside_rs(rs: float) -> None:
    """Reference: ngspice. At −1 V with gmin 1 µS, 1 MΩ inside halves it."""
    current = diode(-1.0, f"is=1e-20 rs={rs!r}", gmin=1e-6)
    assert current == pytest.approx(-1e-6 / (1.0 + rs * 1e-6), rel=1e-6)


def bjt(vbe: float, vbc: float, celsius: float, kind: str, gmin: float = 1e-30) -> tuple[float, float]:
    """Base and collector current [A] into a native Q card, signs as for an NPN."""
    s = 1 if kind == "npn" else -1
    op = run_op(f"bjt\nvb b 0 {s * vbe!r}\nvc c 0 {s * (vbe - vbc)!r}\nq1 c b 0 m\n"
                f".model m {kind} is=1e-14 bf=150 br=3\n"
                f".options temp={celsius} tnom=25 reltol=1e-6 abstol=1e-15 gmin={gmin}\n.op\n.end")
    return -s * op["vb#branch"], -s * op["vc#branch"]


@pytest.mark.published
@pytest.mark.usefixtures("ngspice")
@pytest.mark.parametrize("kind", ["npn", "pnp"])
@pytest.mark.parametrize("celsius", [25.0, 80.0])
@pytest.mark.parametrize(("vbe", "vbc"), [(0.65, -1.0), (-1.0, 0.6), (0.6, 0.55), (-2.0, -3.0), (0.6, 0.0)])
def test_two_junctions_and_two_couplings_equal_the_q_card(
    kind: str, celsius: float, vbe: float, vbc: float,
) -> None:
    """Reference: ngspice's Gummel–Poon with only IS, BF, BR: Ebers–Moll in transport form."""
    vt, at = laws.thermal_voltage(celsius), laws.is_at(1e-14, celsius)
    forward, reverse = (float(laws.junction_law(v, at, vt)[0]) for v in (vbe, vbc))
    base, collector = bjt(vbe, vbc, celsius, kind)
    tolerance = 1.2 * CONSTANTS * 0.65 / vt * 1.2  # of the constants, in the exponent
    assert base == pytest.approx(forward / 150 + reverse / 3, rel=tolerance + 1e-5 * (celsius != 25.0))
    assert collector == pytest.approx(forward - reverse - reverse / 3,
                                      rel=tolerance + 1e-5 * (celsius != 25.0))


@pytest.mark.published
@pytest.mark.usefixtures("ngspice")
def test_gmin_of_a_q_card_is_not_multiplied_by_beta() -> None:
    """Reference: ngspice. 1 nS at −2 V and −3 V adds 5 nA to the base, not 150 times that anywhere."""
    base, collector = bjt(-2.0, -3.0, 25.0, "npn", gmin=1e-9)
    assert base == pytest.approx(-5e-9, rel=1e-3)
    assert abs(collector) < 5e-9


@pytest.mark.published
@pytest.mark.usefixtures("ngspice")
@pytest.mark.parametrize("celsius", [-30.0, 25.0, 100.0])
@pytest.mark.parametrize("sign", [1, -1])
def test_channel_equals_the_m_card(sign: int, celsius: float) -> None:
    """Reference: ngspice, MOS level 1, off, triode and saturation, both directions, with temperature."""
    kind = "nmos" if sign > 0 else "pmos"
    vto, kp = laws.channel_at(sign * 2.1, 0.3, celsius, sign)
    for vgs in (0.0, 2.5, 4.0, 6.0):
        for vds in (-3.0, -0.5, 0.0, 0.5, 1.0, 5.0):
            op = run_op(f"mos\nvg g 0 {sign * vgs!r}\nvd d 0 {sign * vds!r}\nm1 d g 0 0 m l=1e-4 w=1e-4\n"
                        f".model m {kind} level=1 vto={sign * 2.1!r} kp=0.3 gamma=0 is=1e-200\n"
                        f".options temp={celsius} tnom=25 gmin=1e-30\n.op\n.end")
            current, _, _ = laws.channel_law(vgs, vds, sign * vto, kp)
            assert -sign * op["vd#branch"] == pytest.approx(float(current), rel=1e-6, abs=1e-12)


@settings(deadline=None, derandomize=True)
@given(st.floats(-1e300, 1e300), st.floats(1e-30, 1e-3), st.floats(0.02, 0.2), st.floats(1.0, 1000.0))
def test_junction_law_is_finite_and_rises(v: float, is_: float, nvt: float, knee: float) -> None:
    current, slope = laws.junction_law(v, is_, nvt, knee)
    assert np.isfinite(current)
    assert slope >= 0.0
    more, _ = laws.junction_law(v + max(1e-3, abs(v) * 1e-3), is_, nvt, knee)
    assert more >= current


@settings(deadline=None, derandomize=True)
@given(st.floats(-30.0, 10.0), st.floats(1e-16, 1e-6), st.floats(0.02, 0.06), st.floats(3.0, 30.0))
def test_junction_slope_is_the_derivative(v: float, is_: float, nvt: float, knee: float) -> None:
    for edge in (-3.0 * nvt, -knee, -knee - laws.EXPONENT_CAP * nvt, laws.EXPONENT_CAP * nvt):
        if abs(v - edge) < 1e-5:
            return
    h = 1e-6
    (low, _), (_, slope), (high, _) = (laws.junction_law(x, is_, nvt, knee) for x in (v - h, v, v + h))
    noise = 1e-15 * max(abs(low), abs(high)) / h
    assert float((high - low) / (2 * h)) == pytest.approx(float(slope), rel=1e-6, abs=float(noise) + 1e-30)


@settings(deadline=None, derandomize=True)
@given(st.floats(1.5, 1000.0), st.floats(1e-7, 0.1), st.floats(1e-18, 1e-6), st.floats(1.0, 2.0))
def test_breakdown_knee_lies_below_bv_and_carries_ibv(bv: float, ibv: float, is_: float, n: float) -> None:
    vt = laws.thermal_voltage()
    knee = float(laws.breakdown_knee(bv, ibv, is_, n, vt))
    assert knee <= bv
    if ibv < is_ * bv / vt:
        assert knee == bv
    elif ibv > 2.0 * is_ * (bv / vt + 1.0):
        current, _ = laws.junction_law(-bv, is_, n * vt, knee)
        expected = -ibv - is_ * (1.0 - knee / vt)  # SPICE matches the current less this term
        assert float(current) == pytest.approx(expected, rel=1e-9)


@settings(deadline=None, derandomize=True)
@given(st.floats(-8.0, 8.0), st.floats(-8.0, 8.0), st.floats(-3.0, 5.0), st.floats(1e-5, 10.0))
def test_channel_slopes_are_the_derivatives_and_it_dissipates(
    vgs: float, vds: float, vto: float, kp: float,
) -> None:
    current, by_gate, by_drain = laws.channel_law(vgs, vds, vto, kp)
    assert current * vds >= 0.0
    h = 1e-6

    def difference(dg: float, dd: float) -> float:
        high, low = (laws.channel_law(vgs + k * dg, vds + k * dd, vto, kp)[0] for k in (1, -1))
        return float(high - low) / (2 * h)

    gate, drain = difference(h, 0.0), difference(0.0, h)
    assert gate == pytest.approx(float(by_gate), rel=1e-5, abs=3e-6 * kp)
    assert drain == pytest.approx(float(by_drain), rel=1e-5, abs=3e-6 * kp)


@pytest.mark.published
def test_thermal_voltage() -> None:
    """SI 2019: k and q exact, so kT/q at 25 °C is 25.692579 mV."""
    assert laws.thermal_voltage(25.0) == pytest.approx(25.692579e-3, abs=5e-10)


def test_thermistor_halves_or_so_and_tempco_is_linear() -> None:
    assert float(laws.resistance_at(10e3, 25.0, ntc_beta=3950.0)) == 10e3
    warm = 10e3 * math.exp(3950.0 * (1 / 323.15 - 1 / 298.15))
    assert float(laws.resistance_at(10e3, 50.0, ntc_beta=3950.0)) == pytest.approx(warm, rel=1e-12)
    assert float(laws.resistance_at(100.0, 35.0, tempco=4e-3)) == pytest.approx(104.0)
