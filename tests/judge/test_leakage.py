"""Leakage: one leak counts once however often it is read, and none cannot be less than none."""

from __future__ import annotations

import math

import numpy as np

from incircuit.judge.evidence import LEAK_MISS, Evidence
from incircuit.judge.leakage import ANYTHING, leaks_of
from incircuit.judge.observed import Observed
from incircuit.judge.ruling import names
from tests.compare.circuits import board
from tests.judge.told import verdict, words

RNG = np.random.default_rng(5)
ONE, OTHER = RNG.uniform(-0.5, 0.5, (2, 65))


def evidence(leaks: int, ceiling: float = math.inf) -> Evidence:
    """Readings of one leak of about a megohm, one row."""
    exact = np.stack([1e6 * np.exp(ONE - ONE[0])] * leaks)
    return Evidence(exact[:, None, :], (None,), np.ones(1), False, None, lambda _: ceiling)


def read(ohms: float) -> Observed:
    return Observed(ohms, "ohms of x", 0.01 * ohms, 500.0, 4e7)


def test_one_leak_counts_once() -> None:
    """Each further reading of the same leak costs what its own error makes, as for a leak within bounds."""
    near, far = ([evidence(n).fit([read(ohms)] * n) for n in (1, 2, 5)] for ohms in (1e6, 1e7))
    assert all(f.fits for f in (*near, *far))
    assert LEAK_MISS not in near[0].misses
    assert LEAK_MISS in far[0].misses
    costs = [b.log_likelihood - a.log_likelihood for a, b in zip(near, far, strict=True)]
    # densities are per ohm: ten times the ohms, a tenth of it; nowhere near another log(ANYTHING)
    assert all(abs(cost - costs[0] + n * math.log(10.0)) < -0.5 * math.log(ANYTHING)
               for cost, n in zip(costs, (0, 1, 4), strict=True))


def test_no_leak_is_less_than_none() -> None:
    assert evidence(1, ceiling=2e6).fit([read(1.9e6)]).fits
    assert not evidence(1, ceiling=2e6).fit([read(1e7)]).fits
    assert evidence(1, ceiling=2e6).fit([read(1.5e5)]).fits  # more than usual it may be


def test_two_leaks_are_told_apart() -> None:
    exact = 1e6 * np.exp(np.stack([ONE, 0.3 * ONE, OTHER, ONE + 0.2 * OTHER]))
    assert leaks_of(exact, (0, 1, 2, 3)) == ((0, 1, 3), (2,))


BLEEDER = """
L N diode OL
L N ohms 1.48M
LF N ohms 1.48M
LC LF ohms 0.3
LC N ohms 1.48M
LC NC ohms 1.48M
LF NC ohms 1.48M
N NC ohms 0.3
"""


def test_an_open_bleeder_is_not_called_drifted_for_what_leaks_beside_it() -> None:
    """Read by ngspice on a board with R2 missing: only the rectifier's leakage is left."""
    found = verdict(board("pump-drive/mains-input"), BLEEDER)
    assert names(found.explanations[0])[0][1] in ("open", "missing")
    assert {words(found)[r] for r in ("R1", "R2")} == {"undecided"}
    named = {n for g in found.ruling.groups for n in g}
    assert {("R1", "open"), ("R2", "open")} <= named
    healthy = next(e for e in found.explanations if not e.faults)
    assert not healthy.fits  # 660 k lie across it: no leak makes more of them
