"""One fault hidden at random, read with ngspice, judged: how often is the verdict right?

The large run, with a line for everything that went wrong: ``python -m tests.compare.sweep 500``.
"""

from __future__ import annotations

from collections import Counter

import pytest

from tests.compare.circuits import SHIPPED, SMALL
from tests.compare.score import table
from tests.compare.sweep import run

pytestmark = pytest.mark.usefixtures("ngspice")

LEAST_CLEAR = 0.98
"""Of the faults whose reading lies outside the healthy band: named, in the group, or left open among what
fits. What was asked of the verdicts when they were built."""


def checked(counts: dict[str, Counter[str]]) -> None:
    """Nothing condemned or cleared wrongly, and nearly every visible fault found."""
    print("\n" + table(counts.items()))
    total, visible = counts["all"], counts.get("out of healthy band, fault", Counter())
    assert total["condemned"] <= 0.01 * total.total(), "a healthy part condemned"
    assert total["cleared"] <= 0.005 * total.total(), "a faulty part cleared"
    found = visible["right"] + visible["group"] + visible["undecided"]
    assert found >= LEAST_CLEAR * visible.total(), "a fault in plain sight missed"
    assert visible["right"] + visible["group"] >= 0.7 * visible.total(), "too much left open"


def test_small_circuits_of_the_trade() -> None:
    checked(run([*SMALL], 24, seed=2))


def test_shipped_neighbourhoods() -> None:
    checked(run([*SHIPPED], 4, seed=2))


def test_the_score_can_fail() -> None:
    """A verdict that is wrong is counted as wrong: the harness itself under test."""
    with pytest.raises(AssertionError, match="condemned"):
        checked({"all": Counter(condemned=2, right=98)})
    with pytest.raises(AssertionError, match="cleared"):
        checked({"all": Counter(cleared=1, right=99)})
    with pytest.raises(AssertionError, match="plain sight"):
        checked({"all": Counter(right=100), "out of healthy band, fault": Counter(right=97, unlisted=3)})
