"""Board and parts are judged alike, over stories of any kind: sensible, strained, impossible."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.judge.judge import Judgement
from incircuit.judge.ruling import names, summed
from tests.compare.circuits import board
from tests.judge.consistent import contradictions
from tests.judge.told import verdict, words

GATE = board("gate-drive")
SHOWN = {"diode": ("0.000", "0.003", "0.021", "0.11", "0.571", "1.2", "OL"),
         "ohms": ("0.2", "11.0", "22.3", "470", "4.31k", "10.01k", "1.3M", "OL")}
NETS = ("DRV", "GATE", "RTN", "SW")

LINES = [f"{a} {b} {mode} {shown}" for a in NETS for b in NETS if a != b for mode in SHOWN
         for shown in SHOWN[mode]]

readings = st.lists(st.sampled_from(LINES), min_size=1, max_size=6,
                    unique_by=lambda line: tuple(line.split()[:3]))


@given(readings)
@settings(deadline=None, derandomize=True, max_examples=40)
def test_of_any_readings(lines: list[str]) -> None:
    assert contradictions(verdict(GATE, "meter handheld\n" + "\n".join(lines) + "\n")) == []


@given(readings)
@settings(deadline=None, derandomize=True, max_examples=10)
def test_of_a_repair(lines: list[str]) -> None:
    story = ["DRV GATE ohms 22.3", "SW RTN diode 0.001", "RTN SW diode 0.001", "remove Q1", "fit Q1", *lines]
    assert contradictions(verdict(GATE, "\n".join(story) + "\n")) == []


@given(st.lists(st.floats(1e-12, 1.0), min_size=1, max_size=60))
@settings(deadline=None, derandomize=True)
def test_nothing_is_more_than_certain(weights: list[float]) -> None:
    total = sum(weights)
    assert 1.0 - 1e-12 < summed(w / total for w in weights) <= 1.0


def test_of_two_faults_of_which_one_is_sure() -> None:
    """The switch is shorted for certain; what pulls the gate down is one of several."""
    found = verdict(GATE, "SW RTN diode 0.001\nRTN SW diode 0.001\nSW RTN ohms 0.3\nGATE RTN ohms 5.05k\n")
    assert contradictions(found) == []
    assert words(found)["Q1"] == "failed"
    assert found.ruling.word == "failed"


@pytest.mark.parametrize(("shown", "mark"), [
    ("22.2", "as healthy"), ("23.9", "at the edge"), ("40.1", "off, explained")])
def test_a_reading_at_the_edge_is_not_said_to_be_explained(shown: str, mark: str) -> None:
    """22 Ω 5 % and leads read up to 23.7 Ω."""
    found = verdict(GATE, f"GATE RTN ohms 10.0k\nDRV GATE ohms {shown}\n")
    assert found.lines[1].mark == mark


def test_what_another_fault_does_not_move_stays_at_the_edge() -> None:
    found = verdict(GATE, "DRV GATE ohms 23.9\nSW RTN diode 0.001\nRTN SW diode 0.001\nSW RTN ohms 0.3\n")
    assert words(found)["Q1"] == "failed"
    assert [line.mark for line in found.lines] == ["at the edge", *["off, explained"] * 3]


def pairs(found: Judgement) -> set[frozenset[tuple[str, str]]]:
    return {frozenset(names(e)) for e in found.explanations if e.fits and e.probability > 0.01}


def test_two_faults_go_by_all_their_names() -> None:
    """Three parts lie between OUT and GND; any may leak, beside an open R1 or none at all."""
    found = verdict(board("clamp"), "IN OUT diode OL\nOUT IN diode OL\nIN OUT ohms OL\nGND OUT diode 0.672\n"
                                    "OUT GND ohms 21.2k\nGND IN diode OL\n")
    leaks = {("D1", "leaky"), ("C1", "leaky"), ("R2", "leaky")}
    assert {frozenset({("R1", r), leak}) for r in ("open", "missing") for leak in leaks} <= pairs(found)


def test_a_fault_that_explains_nothing_is_not_likelier_than_none() -> None:
    """Ten ohms across 47 k: whatever else the 47 k has, it explains no reading better."""
    found = verdict(board("clamp"), "GND OUT diode 0.009\nOUT GND diode 0.011\nGND OUT continuity 10.1\n"
                                    "IN OUT diode 1.014\nOUT IN diode 1.000\nIN OUT ohms 1.003k\n"
                                    "GND IN diode 1.019\n")
    two = sum(e.probability for e in found.explanations if len(e.faults) == 2)
    assert two < 0.05
    assert found.ruling.word == "failed"


REPLACED = """
BUS OUT diode -0.001
OUT BUS diode -0.001
OUT RTN diode -0.001
RTN OUT diode -0.001
remove Q1
BUS OUT diode OL
fit Q1
BUS OUT diode OL
OUT BUS diode 0.424
OUT RTN diode -0.001
"""


def test_what_the_story_has_told_apart_is_not_named_as_the_like() -> None:
    """A bridge would still be there with the switch off the board."""
    found = verdict(board("half-bridge"), REPLACED)
    assert words(found)["Q1"] == "failed"
    assert words(found)["Q2"] == "failed"
    assert ("", "bridge BUS OUT") not in {n for g in found.ruling.groups for n in g}
    assert ("", "bridge OUT RTN") in {n for g in found.ruling.groups for n in g}


def test_what_carries_a_reading_at_the_edge_is_not_cleared() -> None:
    """A leak elsewhere, hardly likelier than none, leaves the capacitor's 8.28 Ω (up to 8.26) as it is."""
    found = verdict(board("pump-drive/inverter"),
                    "BUS INV- esr 8.28\nINV- BUS farads 0.05m\nINV- BUS diode 0.576\nBUS INV- ohms 167.4k\n"
                    "GUL INV- farads 4.87u\nGVL INV- ohms 9.83k\nBUS INV- farads 358.5n\n"
                    "INV- BUS ohms 25.54k\nINV- BUS diode 0.576 first\n")
    assert found.lines[0].mark == "at the edge"
    assert words(found)["C30"] != "healthy"


def test_one_of_many_places_of_a_leak_is_not_cleared() -> None:
    """A capacitor across a rail: a hundred pairs of pins may leak as well, so that it is one in sixty."""
    found = verdict(board("pump-drive/inverter"),
                    "+15V RTN farads 8.84u\n+15V RTN esr 0.18\n+15V RTN ohms 0.556M\nRTN +15V ohms 245.1k\n"
                    "+15V RTN farads 8.51u\n+15V RTN esr 0.22\n")
    (part,) = (p for p in found.ruling.parts if p.part == "C34")
    assert part.probability < 0.02
    assert part.word != "healthy"


def test_a_second_fault_is_not_condemned_where_the_first_explains_all() -> None:
    """A module whose drops lie at the edge together, each in its band, beside a capacitor that is gone."""
    found = verdict(board("pump-drive/inverter"),
                    "BUS INV- farads 0.005n\nBUS INV- esr OL\nINV- BUS farads 0.00u\nINV- BUS esr OL\n"
                    "BUS INV- diode OL\nINV- BUS diode 0.803\nBUS INV- ohms 6.54M\nINV- RTN farads OL\n"
                    "INV- RTN esr 0.03\nINV- RTN ohms 0.4\nGUL INV- farads 2.65u\nGUL INV- esr OL\n"
                    "GUL INV- ohms 9.82k\nGVL INV- ohms 9.89k\nBUS INV- farads 0.000n\nBUS INV- esr OL\n"
                    "INV- BUS ohms 396.2k\nINV- BUS diode 0.803 first\nBUS INV- continuity silent\n")
    assert words(found)["C30"] == "failed"
    assert words(found)["M1"] != "failed"
