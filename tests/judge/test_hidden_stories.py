"""Faults hidden at random, whole stories read with ngspice, judged: how often is the judgement right?

The large run, with every story that went wrong: ``python -m tests.judge.sweep 100``.
"""

from __future__ import annotations

from collections import Counter

import pytest

from tests.compare.circuits import SHIPPED, SMALL
from tests.judge.score import Calibration, table
from tests.judge.sweep import run

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
    assert odds.table().split()[-3:] == ["3", "0.900", "0.667"]
