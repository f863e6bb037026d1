"""Slips of the hand: one reading that is not what it seems, beside others that are fine."""

from __future__ import annotations

import pytest

from incircuit.board import parse_board
from incircuit.judge.judge import Judgement
from tests.judge.told import fault, on_bench, told, verdict, words

pytestmark = pytest.mark.usefixtures("ngspice")

BOARD = parse_board("""
board "Driver stage"
R1 resistor IN B 4k7 1%
R2 resistor B E 10k 1%
Q1 npn B=B C=C E=E small
R3 resistor C VCC 1k 1%
D1 diode A=E K=VCC rectifier
R4 resistor VCC E 22k 1%
C1 capacitor VCC E 100u 35V electrolytic
""", "driver.board")
STORY = """
meter handheld
IN B ohms ?
B E diode ?
E B diode ?
B C diode ?
C VCC ohms ?
E VCC diode ?
VCC E ohms ?
IN E ohms ?
"""
AGAIN = STORY + """VCC E diode ?
VCC E ohms ?
IN E ohms ?
"""
"""Three once more, one the other way: no fault makes one reading right and the same again wrong."""


def told_with(changes: dict[int, str], faults: tuple[str, ...] = (), seed: int = 1) -> Judgement:
    """The story read by ngspice with some readings (from 0) replaced."""
    hidden = tuple(fault(BOARD, f) for f in faults)
    lines = told(on_bench(BOARD, hidden, seed), AGAIN if changes else STORY, seed).splitlines()
    for number, text in changes.items():
        lines[number + 1] = f"{lines[number + 1].rsplit(' ', 1)[0]} {text}"
    return verdict(BOARD, "\n".join(lines) + "\n")


def reading_at(red: str, black: str, mode: str) -> str:
    """What ngspice reads elsewhere on the good board."""
    return told(on_bench(BOARD), f"meter handheld\n{red} {black} {mode} ?").split()[-1]


def slips(found: Judgement) -> dict[str, float]:
    """Kind and number of each slip with the odds of explanations that have it."""
    odds: dict[str, float] = {}
    for e in found.explanations:
        for s in e.slips if e.fits else ():
            key = f"{s.kind} {s.number}"
            odds[key] = odds.get(key, 0.0) + e.probability
    return odds


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("faults", [(), ("R2 open",), ("Q1 short C-E",)])
def test_none_where_readings_are_fine(seed: int, faults: tuple[str, ...]) -> None:
    found = told_with({}, faults, seed)
    assert sum(slips(found).values()) < 0.05
    assert found.ruling.word == ("failed" if faults else "healthy")


def test_leads_the_wrong_way_round() -> None:
    """VCC–E against the diode, noted as it reads along it."""
    found = told_with({8: reading_at("E", "VCC", "diode")})
    assert slips(found).get("leads swapped 8", 0.0) > 0.5
    assert found.ruling.word == "undecided"
    assert "failed" not in words(found).values()


def test_no_contact() -> None:
    found = told_with({9: "OL"})
    assert slips(found).get("no contact 9", 0.0) > 0.5
    assert "failed" not in words(found).values()


def test_probe_on_the_next_pad() -> None:
    """IN–E taken on B instead of IN the second time."""
    found = told_with({10: reading_at("B", "E", "ohms")})
    assert slips(found).get("wrong pad 10", 0.0) > 0.5
    assert "failed" not in words(found).values()


def test_charge_left_on_a_capacitor() -> None:
    found = told_with({9: "3.12M"})
    assert slips(found).get("charge left 9", 0.0) > 0.5
    assert "failed" not in words(found).values()


def test_two_slips() -> None:
    found = told_with({9: "OL", 10: "OL"})
    assert slips(found).get("no contact 9", 0.0) > 0.5
    assert slips(found).get("no contact 10", 0.0) > 0.5
    assert "failed" not in words(found).values()
