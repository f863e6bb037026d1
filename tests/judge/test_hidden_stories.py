"""Faults hidden at random, whole stories read with ngspice, judged: how often is the judgement right?

The large runs, with every story that went wrong: ``python -m tests.judge.sweep 100`` and, for all readings
about every fault, ``python -m tests.judge.thorough``.
"""

from __future__ import annotations

from collections import Counter

import pytest

from incircuit.judge.ruling import names
from tests.compare.circuits import SHIPPED, SMALL, board
from tests.judge import thorough
from tests.judge.decided import decided, table_of
from tests.judge.score import Calibration, table
from tests.judge.sweep import run
from tests.judge.told import METER, fault, on_bench, verdict, words

pytestmark = pytest.mark.usefixtures("ngspice")


def checked(counts: dict[str, Counter[str]]) -> None:
    """Nothing condemned or cleared wrongly, and every single fault that shows is found or left open."""
    print("\n" + table(counts.items()))
    total, single = counts["all"], counts.get("single fault that shows", Counter())
    assert total["condemned"] <= 0.01 * total["all"], "a healthy part condemned"
    assert total["cleared"] <= 0.005 * total["all"], "a faulty part cleared"
    found = single["right"] + single["group"] + single["undecided"]
    assert found >= 0.98 * single["all"], "a fault in plain sight missed"
    assert single["right"] + single["group"] >= 0.7 * single["all"], "too much left open"


def test_small_circuits_of_the_trade() -> None:
    checked(run([*SMALL], 5, seed=2)[0])


def test_shipped_neighbourhoods() -> None:
    checked(run([*SHIPPED], 1, seed=2)[0])


def test_all_readings_about_every_fault_of_a_gate_drive() -> None:
    """Where no other fault reads alike, by ngspice, the right one is named, or the group it is in."""
    odds = Calibration()
    counts = thorough.run(["gate-drive"], 0.4, 7, odds)
    print("\n" + table(counts.items()))
    sure = counts["readings decide"]
    assert sure["right"] + sure["group"] >= 0.98 * sure["all"]
    assert not counts["all"]["condemned"] + counts["all"]["cleared"] + counts["all"]["missed"]


def test_what_readings_decide_is_told_by_ngspice() -> None:
    """A gate resistor that doubled is decided by its ohms, not by the diode test across the gate."""
    on = board("gate-drive")
    hidden = fault(on, "R1 drifted", 2.0)
    made = on_bench(on, (hidden,))
    known = table_of(on, METER)
    assert decided(known, made, [("DRV", "GATE", "ohms")])
    assert not decided(known, made, [("GATE", "RTN", "diode")])


def test_the_score_can_fail() -> None:
    """A judgement that is wrong is counted as wrong: the harness itself under test."""
    with pytest.raises(AssertionError, match="condemned"):
        checked({"all": Counter(condemned=2, right=98, all=100)})
    with pytest.raises(AssertionError, match="cleared"):
        checked({"all": Counter(cleared=1, right=99, all=100)})
    with pytest.raises(AssertionError, match="plain sight"):
        checked({"all": Counter(right=100, all=100),
                 "single fault that shows": Counter(right=97, missed=3, all=100)})


def test_calibration_counts_by_bin() -> None:
    odds = Calibration()
    for so in (True, True, False):
        odds.add(0.9, so)
    assert odds.table().splitlines()[1].split()[-4:] == ["3", "0.900", "0.667", "0.173"]
    odds.add(0.1, False)
    said = "4 statements, 0.900 stated, 0.750 were so, error 0.150"
    assert odds.either_way() == f"about 90 %, so or not so: {said}"


LEAKS = """
LAMP TG diode 0.022
LAMP TG ohms 20.6
LAMP TM ohms 1.214M
TG TM ohms 1.214M
RP TB ohms 1.394M
RP TG ohms 1.386M
TB TG ohms 1.183M
"""


def test_what_lies_behind_other_peoples_leakage_is_not_refuted() -> None:
    """One leaky junction puts five readings off together; a triac's gate hides the resistor across it all the
    same (read by ngspice on a board with R2 drifted to 3.78 k)."""
    found = verdict(board("lamp-driver/lamp-driver"), LEAKS)
    assert words(found)["R2"] != "healthy"
    assert any(e.fits and not e.silent and names(e) == (("R2", "open"),) for e in found.explanations)
