"""The joint probability of several readings against brute force: millions of boards, drawn anew."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.judge.joint import COMMON, Fit, joint_fit
from incircuit.judge.observed import Observed

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
BOARDS = 128
RNG = np.random.default_rng(4)
END = 40e6  # [ohm]


def ohms(value: float | None, error: float, rounding: float) -> Observed:
    return Observed(value, "ohms", error, rounding, END)


def stratified(count: int, boards: int) -> Floats:
    """Uniform in [-1, 1], each row a permutation of strata, nominal board first."""
    strata = [(2.0 * RNG.permutation(boards) + 1.0) / boards - 1.0 for _ in range(count)]
    return np.array([np.concatenate([[0.0], row]) for row in strata])


def brute(true: Floats, seen: list[Observed], boards: int = 4_000_000) -> float:
    """Density of the readings: share of drawn boards and meters that read within a small box, by its size.

    `true` (readings, boards). The meter's error is rectangular, half of its variance common to a mode.
    """
    shared = RNG.uniform(-1.0, 1.0, boards)
    inside = np.ones(boards, dtype=bool)
    volume = 1.0
    for i, s in enumerate(seen):
        over = ~(true[i] <= s.end)
        if s.value is None:
            inside &= over
            continue
        own = RNG.uniform(-1.0, 1.0, boards)
        shown = (true[i] + s.error * (math.sqrt(COMMON) * shared + math.sqrt(1.0 - COMMON) * own)
                 + s.rounding * RNG.uniform(-1.0, 1.0, boards))
        half = 0.5 * math.hypot(s.error, s.rounding) / math.sqrt(3.0)  # half the meter's own deviation
        inside &= ~over & (np.abs(shown - s.value) <= half)
        volume *= 2.0 * half
    assert inside.sum() > 300, "too few boards for a reference"
    return math.log(inside.mean() / volume)


def agrees(model: Callable[[Floats], Floats], parameters: int, seen: list[Observed], within: float) -> Fit:
    """joint_fit on few boards against brute force on millions, in natural log units."""
    fit = joint_fit(model(stratified(parameters, BOARDS))[:, None, :], seen, np.ones(1), False)
    expected = brute(model(RNG.uniform(-1.0, 1.0, (parameters, 4_000_000))), seen)
    assert fit.log_likelihood == pytest.approx(expected, abs=within)
    return fit


def divider(u: Floats) -> Floats:
    """1 k and 2 k, 5 %: each with the other's end open is read alone, and both in a row."""
    a, b = 1000.0 * (1.0 + 0.05 * u[0]), 2000.0 * (1.0 + 0.05 * u[1])
    return np.stack([a, b, a + b])


# A normal density stands for a sum of rectangular ones: 0.35 in the middle of one reading (1/√(2π)σ
# against 1/2√3σ is ln 1.38 = 0.32), half as much again for each further one that is another's sum.
def test_divider_in_its_middle() -> None:
    agrees(divider, 2, [ohms(1005.0, 8.0, 1.0), ohms(1990.0, 16.0, 1.0), ohms(2993.0, 24.0, 1.0)], 0.8)


def test_a_sum_that_cannot_be() -> None:
    """Each reading by itself is fine; together they are not, for the third is the sum of two."""
    good = [ohms(1000.0, 2.0, 1.0), ohms(2000.0, 4.0, 1.0), ohms(3000.0, 6.0, 1.0)]
    bad = [*good[:2], ohms(3090.0, 6.0, 1.0)]
    exact = divider(stratified(2, BOARDS))[:, None, :]
    assert joint_fit(exact, good, np.ones(1), False).fits
    assert not joint_fit(exact, bad, np.ones(1), False).fits
    for i in range(3):
        assert joint_fit(exact[i:i + 1], bad[i:i + 1], np.ones(1), False).fits


def legs(u: Floats) -> Floats:
    """Three legs of one package: 0.43 V with 30 mV in common and 3 mV of their own."""
    return np.stack([0.43 + 0.03 * u[0] + 0.003 * u[k] for k in (1, 2, 3)])


def volts(value: float | None) -> Observed:
    return Observed(value, "diode", 0.002, 0.0005, 2.0)


def test_three_legs_alike() -> None:
    agrees(legs, 4, [volts(0.441), volts(0.440), volts(0.442)], 0.9)


def test_odd_leg_of_three_does_not_fit_though_each_lies_in_its_band() -> None:
    exact = legs(stratified(4, BOARDS))[:, None, :]
    assert joint_fit(exact, [volts(0.441), volts(0.440), volts(0.442)], np.ones(1), False).fits
    odd = [volts(0.441), volts(0.440), volts(0.418)]
    assert not joint_fit(exact, odd, np.ones(1), False).fits
    assert joint_fit(exact[2:], odd[2:], np.ones(1), False).fits


def test_overload_edge() -> None:
    """A reading of which about a third of the boards overload: 1.98 V with 0.06 V either way, end 2.0 V."""
    def model(u: Floats) -> Floats:
        v = 1.98 + 0.06 * u[0]
        return np.stack([np.where(v > 2.0, np.inf, v), 0.5 + 0.02 * u[1]])

    agrees(model, 2, [volts(None), volts(0.505)], 0.6)


LEAK = np.geomspace(25.0, 1e7, 60)


def leaky(u: Floats, leak: Floats) -> Floats:
    """10 k of 5 % with a leak beside it, read twice on different ranges."""
    r = 10e3 * (1.0 + 0.05 * u[0])
    return np.stack([1.0 / (1.0 / r + 1.0 / leak)] * 2)


def test_leak_of_unknown_ohms_is_integrated() -> None:
    seen = [ohms(4000.0, 30.0, 5.0), ohms(4010.0, 30.0, 5.0)]
    u = stratified(1, BOARDS)
    exact = np.stack([leaky(u, np.array(m)) for m in LEAK], axis=1)
    weights = np.full(len(LEAK) - 1, 1.0 / (len(LEAK) - 1))
    fit = joint_fit(exact, seen, weights, True, np.log(LEAK))
    drawn = RNG.uniform(-1.0, 1.0, (1, 4_000_000))
    # only leaks near the answer can read so: drawn there, weighed by their share of all
    low, high = 4000.0, 12000.0
    leak = np.exp(RNG.uniform(math.log(low), math.log(high), 4_000_000))
    share = math.log(high / low) / math.log(LEAK[-1] / LEAK[0])
    expected = brute(leaky(drawn, leak), seen) + math.log(share)
    assert fit.log_likelihood == pytest.approx(expected, abs=0.6)
    found = LEAK[fit.row] * (LEAK[fit.row + 1] / LEAK[fit.row]) ** fit.place
    assert found == pytest.approx(1.0 / (1.0 / 4005.0 - 1.0 / 10e3), rel=0.05)


@given(st.permutations(range(3)))
@settings(deadline=None, derandomize=True, max_examples=6)
def test_the_order_of_readings_does_not_matter(order: list[int]) -> None:
    seen = [ohms(1010.0, 8.0, 1.0), ohms(1990.0, 16.0, 1.0), ohms(3003.0, 24.0, 1.0)]
    exact = divider(np.array([np.linspace(-1, 1, 41), np.roll(np.linspace(-1, 1, 41), 13)]))[:, None, :]
    one = joint_fit(exact, seen, np.ones(1), False)
    other = joint_fit(exact[list(order)], [seen[i] for i in order], np.ones(1), False)
    assert other.log_likelihood == pytest.approx(one.log_likelihood, abs=1e-9)
    assert [other.misses[k] for k in range(3)] == pytest.approx([one.misses[i] for i in order])


@given(st.floats(0.6, 1.6))
@settings(deadline=None, derandomize=True, max_examples=30)
def test_the_same_reading_again_changes_odds_little(ratio: float) -> None:
    """Two hypotheses, 1 k and `ratio` times that: taken ten times, a reading counts a few times at most.

    The board's spread is common to all ten; only the meter's own error and rounding average out.
    """
    u = stratified(1, BOARDS)
    first = 1000.0 * (1.0 + 0.1 * u)
    second = first * ratio
    once = [ohms(1000.0, 8.0, 1.0)]

    def gap(count: int) -> float:
        fits = [joint_fit(np.repeat(x, count, axis=0)[:, None, :], once * count, np.ones(1), False)
                for x in (first, second)]
        return fits[0].log_likelihood - fits[1].log_likelihood

    if abs(gap(1)) < 8.0:
        assert abs(gap(10) - gap(1)) < 0.5 * abs(gap(1)) + 1.0


@given(st.floats(1.0, 1000.0), st.floats(0.0, 4.0))
@settings(deadline=None, derandomize=True, max_examples=50)
def test_more_noise_never_makes_a_wrong_hypothesis_certain(noise: float, off: float) -> None:
    """The wrong one never leads by more than the width of the noise can explain."""
    u = stratified(1, BOARDS)
    value = 1000.0
    right, wrong = value * (1.0 + 0.01 * u), value * (1.0 + 0.3 * off) * (1.0 + 0.01 * u)
    seen = [ohms(value, noise, 1.0)]
    lead = (joint_fit(wrong[:, None, :], seen, np.ones(1), False).log_likelihood
            - joint_fit(right[:, None, :], seen, np.ones(1), False).log_likelihood)
    assert lead < 0.2


def test_nothing_at_all_endlessly_often_is_overload() -> None:
    """Farads: a board without a capacitor in proportion to one that overloads, and the other way round."""
    from incircuit.judge.evidence import spread_out

    seen = [Observed(1.0, "farads of x", 0.1, 0.1, 800.0)] * 2
    nominal, drawn = np.array([[0.0, 3.0, math.inf]] * 2), np.array([[2.0, 2.0, math.inf, 0.0]] * 2)
    found = spread_out(nominal, drawn, seen)[0]
    assert not np.isnan(found).any()
    assert np.isinf(found[0]).tolist() == [False, False, True, False]
    assert np.isinf(found[2]).all()


def test_farads_that_mostly_overload_are_those_of_the_boards_that_do_not() -> None:
    """The nominal board stands at the end; boards that read a number are no overload at any magnitude."""
    from incircuit.judge.evidence import spread_out

    seen = [Observed(6.0, "farads of x", 0.1, 0.1, 800.0)]
    drawn = np.array([[800.0, 5.0, math.inf, 6.5]])
    assert spread_out(np.array([[math.inf]]), drawn, seen)[0, 0].tolist() == drawn[0].tolist()


def test_farads_of_boards_that_charge_count_where_the_nominal_one_never_does() -> None:
    """At the magnitude that was drawn, that is: elsewhere nothing is known but the overload."""
    from incircuit.judge.evidence import spread_out

    seen = [Observed(112.0, "farads of x", 4.4, 0.1, 800.0)]
    drawn = np.array([[115.0, 98.0, 120.0, 212.0]])
    found = spread_out(np.array([[math.inf, math.inf]]), drawn, seen, 1)[0]
    assert found[1].tolist() == drawn[0].tolist()
    assert np.isinf(found[0]).all()
