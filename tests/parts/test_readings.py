"""Parts alone under a meter of 1 mA and 3 V, through the solver: what the trade reads on them."""

from __future__ import annotations

import pytest

from incircuit.board.model import Part
from incircuit.parts import change, defects_of, expand, parse_fault
from incircuit.parts.elements import Resistance
from tests.circuit.helpers import point
from tests.parts.samples import board, every_sample, named, sample

OPEN = 2.5  # [V] above this no current to speak of flows from 3 V; a diode test reads over from 2 V


def reads(part: Part, red: str, black: str, fault: str = "") -> float:
    """Volts from pin to pin of a part, alone, with a defect if named."""
    elements = expand(part)
    if fault:
        found = next(d for d in defects_of(part, elements) if d.name == fault)
        what = change(part, elements, found)
        elements = tuple(e for e in elements if e.name not in what.remove) + what.add
    return float(point(elements, f"n{red}", f"n{black}").pad_voltage[0])


@pytest.mark.practice
@pytest.mark.parametrize(("kind", "red", "black", "low", "high"), [
    ("diode", "A", "K", 0.53, 0.59), ("bridge", "AC1", "+", 0.48, 0.53), ("bridge", "-", "AC2", 0.48, 0.53),
    ("bridge", "-", "+", 0.85, 1.0), ("igbt", "E", "C", 0.33, 0.50), ("nmos", "S", "D", 0.40, 0.60),
    ("dual-diode", "A2", "K", 0.35, 0.42), ("optocoupler", "A", "K", 0.95, 1.15),
    ("three-phase-inverter", "-", "U", 0.38, 0.48), ("three-phase-inverter", "W", "+", 0.38, 0.48),
    ("npn", "B", "E", 0.6, 0.7), ("npn", "B", "C", 0.58, 0.68), ("pnp", "E", "B", 0.6, 0.7),
])
def test_forward_drops(kind: str, red: str, black: str, low: float, high: float) -> None:
    """Common practice: the drops a technician sees out of the board, and over the other way."""
    assert low <= reads(sample(kind), red, black) <= high
    assert reads(sample(kind), black, red) > OPEN


@pytest.mark.published
def test_pnp_as_kuphaldt_measured() -> None:
    """Lessons In Electric Circuits III ch. 4: E–B 0.655 V, C–B 0.621 V, the other four readings over."""
    part = sample("pnp")
    assert reads(part, "E", "B") == pytest.approx(0.655, abs=0.003)
    assert reads(part, "C", "B") == pytest.approx(0.621, abs=0.003)
    for red, black in (("B", "E"), ("B", "C"), ("C", "E"), ("E", "C")):
        assert reads(part, red, black) > OPEN


@pytest.mark.practice
@pytest.mark.parametrize(("kind", "red", "black"), [
    ("thyristor", "A", "K"), ("thyristor", "K", "A"), ("thyristor", "A", "G"), ("thyristor", "G", "A"),
    ("triac", "MT1", "MT2"), ("triac", "MT2", "MT1"), ("igbt", "C", "E"), ("igbt", "G", "E"),
    ("nmos", "D", "S"), ("pmos", "S", "D"), ("optocoupler", "C", "E"), ("optocoupler", "A", "E"),
    ("bridge", "+", "-"), ("half-bridge", "+", "-"), ("relay", "A1", "COM"), ("transformer", "P1", "S1"),
    ("chip", "VCC", "GND"), ("shunt-regulator", "K", "A"), ("capacitor", "1", "2"), ("varistor", "1", "2"),
])
def test_open_ways(kind: str, red: str, black: str) -> None:
    """Common practice: no current at meter volts."""
    part = sample(kind, pins=("A1", "A2", "COM", "NO")) if kind == "relay" else sample(kind)
    assert reads(part, red, black) > OPEN


@pytest.mark.practice
@pytest.mark.parametrize(("kind", "low", "high"), [("thyristor", 0.01, 0.7), ("triac", 0.01, 0.12)])
def test_gate_resistance_reads_either_way(kind: str, low: float, high: float) -> None:
    ends = ("G", "K") if kind == "thyristor" else ("G", "MT1")
    assert low < reads(sample(kind), *ends) < high
    assert low < reads(sample(kind), *ends[::-1]) < high


@pytest.mark.practice
@pytest.mark.parametrize(("red", "black"), [("C", "E"), ("E", "C")])
def test_shorted_switch(red: str, black: str) -> None:
    """Common practice: 0.000 to 0.024 V, both ways."""
    assert 0.0 <= reads(sample("igbt"), red, black, "short C-E") <= 0.024


def test_transistor_with_open_collector_still_reads_base_to_emitter() -> None:
    part = sample("npn")
    assert reads(part, "B", "E", "open C") == pytest.approx(reads(part, "B", "E"), abs=1e-6)
    assert reads(part, "B", "C", "open C") > OPEN
    assert reads(part, "B", "E", "open E") > OPEN


def test_open_gate_and_reversed_diode() -> None:
    assert reads(sample("igbt"), "E", "C", "open G") == pytest.approx(reads(sample("igbt"), "E", "C"))
    assert reads(sample("diode"), "A", "K", "reversed") > OPEN
    assert reads(sample("diode"), "K", "A", "reversed") == pytest.approx(reads(sample("diode"), "A", "K"))


def test_a_charged_gate_turns_a_mos_on() -> None:
    on = point(expand(sample("nmos"), charge=5.0), "nD", "nS")
    assert float(on.pad_voltage[0]) < 0.01
    pos = point(expand(sample("nmos")), "nD", "nS")
    assert float(pos.pad_voltage[0]) > OPEN


def test_low_zener_conducts_backwards() -> None:
    part = board("Z1 zener A=nA K=nK 2V4").part("Z1")
    assert 1.5 < float(point(expand(part), "nK", "nA").pad_voltage[0]) < 2.5


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_every_defect_of_every_kind_can_be_solved(part: Part) -> None:
    """On a board, that is with 10 MΩ from every pin to one net."""
    own = expand(part)
    leaks = tuple(Resistance(f"R{net} resistance", f"R{net}", net, "common", 10e6) for _, net in part.pins)
    first, last = part.pins[0][1], part.pins[-1][1]
    for defect in defects_of(part, own):
        what = change(part, own, defect)
        elements = tuple(e for e in own if e.name not in what.remove) + what.add + leaks
        for red, black in ((first, last), (last, first)):
            assert 0.0 <= float(point(elements, red, black).pad_voltage[0]) <= 3.0 + 1e-6


def test_fault_text_to_reading() -> None:
    one = board("D3 diode A=nA K=nK signal")
    fault = parse_fault(one, "D3 leaky 470R")
    own = expand(fault.part)
    leak = point(own + change(fault.part, own, fault.defect, fault.magnitude).add, "nK", "nA")
    assert float(leak.pad_voltage[0]) == pytest.approx(0.47, abs=1e-5)
