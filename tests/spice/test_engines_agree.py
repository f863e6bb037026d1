"""Our solver and ngspice on circuits made at random: pad voltage within 20 µV, current with it.

At most one transistor a circuit, its gate tied down by a resistor as on a real board: two
transistors can hold each other in either of two states, and then each engine may find another one.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

import pytest

from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import solve
from incircuit.circuit.source import drive
from incircuit.circuit.spice import operating_point
from incircuit.circuit.values import nominal_values
from incircuit.parts.elements import Channel, Coupling, Element, Junction, Resistance

pytestmark = [pytest.mark.usefixtures("ngspice"), pytest.mark.published]


@dataclass(frozen=True)
class Meter:
    current: float
    open_circuit: float
    resistance: float
    lead_resistance: float
    sign: int


NODES = ["A", "B", "c", "d", "e", "f"]
OHMS = [0.01, 0.5, 10.0, 150.0, 1e3, 10e3, 470e3, 10e6]
JUNCTIONS = [(2.52e-9, 1.752, 0.568), (1e-14, 1.0, 0.0), (3e-7, 1.05, 10.0), (1e-18, 1.9, 0.5)]
SOURCES = [(1e-3, 3.0, 0.3, 0.2), (float("inf"), 1.5, 700.0, 0.0), (1e-6, 1.0, 100.0, 0.2)]


def bipolar(r: random.Random, ref: str, c: str, b: str, e: str) -> list[Element]:
    beta, sign = r.choice([40.0, 150.0, 300.0]), r.choice([1, -1])
    be, bc, main, back = (b, e), (b, c), (c, e), (e, c)
    if sign < 0:
        be, bc, main, back = be[::-1], bc[::-1], back, main
    return [Junction(f"{ref} BE", ref, *be, 1e-14 / beta), Junction(f"{ref} BC", ref, *bc, 1e-14 / 4.0),
            Coupling(f"{ref} F", ref, f"{ref} BE", *main, beta),
            Coupling(f"{ref} R", ref, f"{ref} BC", *back, 4.0)]


def mos(r: random.Random, ref: str, d: str, g: str, s: str) -> list[Element]:
    sign = r.choice([1, -1])
    body = (s, d) if sign > 0 else (d, s)
    return [Channel(f"{ref} channel", ref, d, g, s, sign * r.choice([0.9, 2.1]), 0.3, sign),
            Junction(f"{ref} body", ref, *body, 1e-11, 1.05, 0.05), Resistance("Rg", "Rg", g, s, 100e3)]


def circuit(seed: int) -> tuple[list[Element], Meter, float]:
    r = random.Random(seed)
    elements: list[Element] = []
    for k in range(r.randint(2, 14)):
        a, b, kind = r.choice(NODES), r.choice(NODES), r.random()
        if kind < 0.6:
            elements.append(Resistance(f"R{k}", f"R{k}", a, b, r.choice(OHMS)))
        elif kind < 0.85:
            elements.append(Junction(f"D{k}", f"D{k}", a, b, *r.choice(JUNCTIONS)))
        else:
            bv = r.choice([1.2, 2.4, 5.1])
            elements.append(Junction(f"D{k}", f"D{k}", a, b, 1e-12, 1.3, 2.0, bv, 5e-3))
    device = r.choice([None, bipolar, mos])
    if device is not None:
        elements += device(r, "Q1", *r.sample(NODES, 3))
    return elements, Meter(*r.choice(SOURCES), r.choice([1, -1])), r.choice([25.0, 25.0, 60.0])


@pytest.mark.parametrize("block", range(0, 600, 100))
def test_same_reading_from_both_engines(block: int) -> None:
    """Reference: ngspice."""
    for seed in range(block, block + 100):
        elements, meter, celsius = circuit(seed)
        theirs = operating_point(elements, "A", "B", meter, celsius=celsius)
        network = compile_network(elements, "A", "B")
        leads = meter.resistance + meter.lead_resistance
        ours = solve(network, nominal_values(network, celsius),
                     drive(meter.current, meter.open_circuit, leads, meter.sign))
        assert theirs.voltages["A"] == pytest.approx(float(ours.pad_voltage[0]), abs=2e-5), seed
        current = meter.sign * theirs.source_current
        assert current == pytest.approx(float(ours.current[0]), rel=1e-4, abs=1e-11), seed
