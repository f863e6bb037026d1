"""Faulty capacitors hidden at random, read as farads and esr with ngspice, judged. The aims are those of the
other hidden faults; the large run: ``python -m tests.time.hidden 30``."""

from __future__ import annotations

import random

import pytest

from incircuit.meter.profile import load_meter
from tests.judge.score import Calibration, table
from tests.time import thorough
from tests.time.hidden import SMALL, run, trials

pytestmark = pytest.mark.usefixtures("ngspice")


def test_small_circuits_with_capacitors() -> None:
    counts = run([*SMALL], 4, seed=1)
    print("\n" + table(counts.items()))
    total, single = counts["all"], counts["single fault that shows"]
    assert not total["condemned"], "a healthy part condemned"
    assert not total["cleared"], "a faulty part cleared"
    found = single["right"] + single["group"] + single["undecided"]
    assert found == single["all"], "a fault in plain sight missed"
    assert single["right"] + single["group"] >= 0.7 * single["all"], "too much left open"


def test_the_readings_are_made_up_board_by_board() -> None:
    """Two boards of one circuit read differently, and a hidden fault shows in some."""
    made = trials("timing", 4, random.Random(5), load_meter("handheld"))
    assert len({t.text for t in made}) == 4
    assert any(t.shows for t in made if t.faults)


def test_all_readings_about_some_faults_of_a_link() -> None:
    """Farads, esr, ohms, diode test and displays on their way: what they decide, by ngspice, is found."""
    odds = Calibration()
    counts = thorough.run(["link"], 0.3, 11, odds)
    print("\n" + table(counts.items()))
    total, sure = counts["all"], counts["readings decide"]
    assert sure["all"]
    assert sure["right"] + sure["group"] == sure["all"]
    assert not total["condemned"] + total["cleared"] + total["missed"]
