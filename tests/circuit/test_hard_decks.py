"""Circuits of the kinds that stop simulators: long chains, opposed zeners, latches, ideal switches.

Expected values come from closed forms, from bounds that hold whatever the devices, or from symmetry.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from incircuit.circuit.laws import thermal_voltage
from incircuit.parts.elements import INFINITE, Channel, Element, Junction, Resistance
from tests.circuit.helpers import SIGNAL, diode, point, resistances
from tests.circuit.test_junctions import bipolar

VT = thermal_voltage(25.0)


def drop(current: float, **p: float) -> float:
    """Voltage [V] of a junction at a current [A], by Shockley's equation."""
    n, is_, rs = p.get("n", SIGNAL["n"]), p.get("is_", SIGNAL["is_"]), p.get("rs", SIGNAL["rs"])
    return n * VT * math.log1p(current / is_) + rs * current


@pytest.mark.parametrize("count", [1, 5, 50, 200])
def test_chain_of_diodes(count: int) -> None:
    """All carry the same current: a chain reads as many drops as it has junctions."""
    chain = [diode(f"D{k}", f"n{k}", f"n{k + 1}") for k in range(count)]
    volts = float(point(chain, "n0", f"n{count}", volts=400.0).pad_voltage[0])
    assert volts == pytest.approx(count * drop(1e-3), rel=1e-8)


@pytest.mark.parametrize("count", [2, 20, 100])
def test_chain_the_wrong_way_round(count: int) -> None:
    """Nothing but leakage: the meter stands at its open circuit, however long the chain."""
    chain = [diode(f"D{k}", f"n{k + 1}", f"n{k}") for k in range(count)]
    assert float(point(chain, "n0", f"n{count}").pad_voltage[0]) == pytest.approx(3.0, abs=1e-4)


@pytest.mark.parametrize("bv", [2.4, 5.1, 30.0])
def test_zeners_back_to_back(bv: float) -> None:
    """Either way round: one in breakdown, one forward; both ways alike."""
    pair = [Junction("Z1 z", "Z1", "a", "m", 1e-14, 1.0, 0.0, bv, 1e-3),
            Junction("Z2 z", "Z2", "b", "m", 1e-14, 1.0, 0.0, bv, 1e-3)]
    forth = float(point(pair, "a", "b", volts=100.0).pad_voltage[0])
    back = float(point(pair, "b", "a", volts=100.0).pad_voltage[0])
    assert forth == pytest.approx(back, abs=1e-9)
    assert forth == pytest.approx(bv + drop(1e-3, is_=1e-14, n=1.0, rs=0.0), abs=1e-3)  # IBV at BV


@pytest.mark.parametrize("ohms", [1e9, 1e11, 1e12])
def test_antiparallel_pair_behind_gigaohms(ohms: float) -> None:
    """A nanoampere or less through a pair that hardly conducts: v = n·Vt·asinh(i/2·is), less the resistor."""
    pair = [diode("D1", "m", "k", rs=0.0), diode("D2", "k", "m", rs=0.0)]
    solution = point([*pair, *resistances([("a", "m", ohms)])], "a", "k", current=math.inf, volts=3.0,
                     resistance=1e6, gmin=0.0)
    inner = float(solution.voltage("m")[0])
    current = float(solution.current[0])
    assert inner == pytest.approx(SIGNAL["n"] * VT * math.asinh(current / 2.0 / SIGNAL["is_"]), rel=1e-6)
    assert current == pytest.approx(3.0 / ohms, rel=0.02)


def latch(beta: float = 100.0, **ohms: float) -> list[Element]:
    """A thyristor of two transistors between A and K, shunts of both emitter junctions included."""
    return [*bipolar("Q1", "m", "g", "A", is_=1e-14, bf=beta, br=1.0, pnp=True),
            *bipolar("Q2", "g", "m", "K", is_=1e-14, bf=beta, br=1.0),
            *resistances([("A", "m", ohms.get("upper", 10e3)), ("g", "K", ohms.get("lower", 1e3))])]


def test_latch_that_cannot_hold_reads_open() -> None:
    """0.6 V across 100 Ω takes 6 mA: a meter of 1 mA cannot hold it, one stable state is left."""
    open_volts = float(point(latch(upper=100.0, lower=100.0), "A", "K").pad_voltage[0])
    assert open_volts == pytest.approx(3.0, abs=0.01)


def test_latch_that_is_driven_holds() -> None:
    """With gate current the other state is gone: A and K are a junction and a saturated transistor apart."""
    driven = [*latch(), *resistances([("A", "g", 1e3)])]
    assert 0.6 < float(point(driven, "A", "K").pad_voltage[0]) < 1.1


@pytest.mark.parametrize("closed", [1e-9, 2.1e-4, 1e-3])
@pytest.mark.parametrize("left_open", [1e15, INFINITE])
def test_ideal_switches(closed: float, left_open: float) -> None:
    """A bridge of four switches, two closed: the load between them, nothing of the others."""
    bridge = [Resistance("S1 s", "S1", "a", "x", closed), Resistance("S2 s", "S2", "a", "y", left_open),
              Resistance("S3 s", "S3", "x", "k", left_open), Resistance("S4 s", "S4", "y", "k", closed),
              Resistance("R1 r", "R1", "x", "y", 47.0)]
    solution = point(bridge, "a", "k")
    assert float(solution.pad_voltage[0]) == pytest.approx(47e-3, abs=3e-6)


def test_ring_of_links_and_diodes() -> None:
    """Links in a loop with diodes across them: one node, nothing flows in any diode."""
    ring = resistances([("a", "b", 0.0), ("b", "c", 0.0), ("c", "a", 0.0), ("c", "k", 100.0)])
    ring += [diode("D1", "a", "b"), diode("D2", "c", "b")]
    assert float(point(ring, "a", "k").pad_voltage[0]) == pytest.approx(0.1, rel=1e-9)


@pytest.mark.parametrize("count", [4, 30])
def test_ladder_of_diodes_over_twelve_decades(count: int) -> None:
    """Rungs from a gigaohm down to a milliohm behind diodes: voltage falls along the rail."""
    elements: list[Element] = []
    for k in range(count):
        elements.append(diode(f"D{k}", f"n{k}", f"n{k + 1}", is_=10.0 ** (-15 + 9 * k / count)))
        ohms = 10.0 ** (9 - 12 * k / (count - 1))
        elements.append(Resistance(f"R{k}", f"R{k}", f"n{k + 1}", "k", ohms))
    solution = point(elements, "n0", "k")
    rails = [float(solution.voltage(f"n{k}")[0]) for k in range(count + 1)]
    assert all(a >= b - 1e-12 for a, b in pairwise(rails))


def test_chain_of_followers() -> None:
    """Fifty emitter followers: each a base–emitter drop lower until nothing is left to fall."""
    elements: list[Element] = []
    for k in range(50):
        elements += bipolar(f"Q{k}", f"b{k}", "c", f"b{k + 1}", is_=1e-14, bf=200.0, br=1.0)
        elements.append(Resistance(f"R{k}", f"R{k}", f"b{k + 1}", "e", 1e5))
    elements.append(Resistance("RC", "RC", "c", "b0", 10.0))
    solution = point(elements, "b0", "e", volts=20.0)
    steps = np.diff([float(solution.voltage(f"b{k}")[0]) for k in range(51)])
    assert (steps <= 1e-9).all()


def test_gates_that_float_in_a_ring() -> None:
    """Ten channels, each gate on the next drain, nothing tied: solved, within the source's limits."""
    ring: list[Element] = []
    for k in range(10):
        sign = 1 if k % 2 else -1
        gate, source = f"d{(k + 1) % 10}", "k" if k % 3 else "a"
        ring.append(Channel(f"M{k} m", f"M{k}", f"d{k}", gate, source, sign * 2.0, 1.0, sign))
        body = (source, f"d{k}")
        ring.append(Junction(f"M{k} body", f"M{k}", *(body if sign > 0 else body[::-1]), 1e-11, 1.2, 0.01))
    solution = point(ring, "a", "k")
    assert float(solution.v.min()) >= -0.01
    assert float(solution.v.max()) <= 3.01
