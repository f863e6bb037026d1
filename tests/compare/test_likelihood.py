"""Densities, fits and sizes against brute force and by their properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.compare.likelihood import Sample, Seen, density, fits, likeliest
from incircuit.compare.sizes import size_words

ROWS, COLUMNS = 41, 65
U = np.linspace(0.5 / ROWS, 1.0 - 0.5 / ROWS, ROWS)


def sample(law: str, spread: float, seed: int = 1, end: float = math.inf) -> Sample:
    """Readings that run with the logarithm of a magnitude, each board off by up to ±spread."""
    rng = np.random.default_rng(seed)
    off = spread * ((2.0 * rng.permutation(COLUMNS) + 1.0) / COLUMNS - 1.0)
    off[0] = 0.0
    exact = at(law, U)[:, None] * (1.0 + off)
    exact = np.where(exact > end, np.inf, exact)
    return Sample(exact, exact, np.full(ROWS, 1.0 / ROWS), True)


def at(law: str, u: np.ndarray) -> np.ndarray:
    """The reading at a place 0 … 1 on the logarithm of the magnitude."""
    ohms = 25.0 * (1e7 / 25.0) ** u
    return {"leak beside 10 kΩ": 1.0 / (1.0 / ohms + 1e-4), "drift": 1000.0 * 10.0 ** (2.0 * u - 1.0),
            "same": np.full_like(u, 500.0)}[law]


@pytest.mark.parametrize("law", ["leak beside 10 kΩ", "drift", "same"])
@pytest.mark.parametrize("spread", [0.01, 0.1])
def test_density_over_the_magnitude_is_that_of_a_million_boards(law: str, spread: float) -> None:
    """Reference: a histogram of boards with random magnitude, spread and meter error."""
    rng = np.random.default_rng(7)
    n = 1_000_000
    true = at(law, rng.random(n)) * (1.0 + rng.uniform(-spread, spread, n))
    for value in np.quantile(true, [0.1, 0.3, 0.5, 0.8]):
        half = 0.05 * value
        seen = Seen(float(value), error=0.02 * float(value), rounding=0.5)
        shown = true + rng.uniform(-1, 1, n) * seen.error
        brute = float(np.mean(np.abs(shown - value) < half)) / (2.0 * half)
        ours = np.mean([density(sample(law, spread), Seen(float(v), seen.error, seen.rounding))
                        for v in np.linspace(value - half, value + half, 21)])
        assert ours == pytest.approx(brute, rel=0.12)  # 65 boards stand for the spread: ±10 % of its width


def test_density_integrates_to_one_and_what_is_overloaded() -> None:
    whole = sample("leak beside 10 kΩ", 0.02)
    grid = np.linspace(0.0, 14e3, 4001)
    total = sum(density(whole, Seen(float(x), 30.0, 5.0)) for x in grid) * (grid[1] - grid[0])
    assert total == pytest.approx(1.0, abs=0.02)  # the ends run out by half a step
    cut = sample("leak beside 10 kΩ", 0.02, end=9000.0)
    seen = [Seen(float(x), 30.0, 5.0, full_scale=9000.0) for x in grid]
    finite = sum(density(cut, one) for one in seen) * (grid[1] - grid[0])
    over = density(cut, Seen(None))
    assert finite + over == pytest.approx(1.0, abs=0.04)  # one interval in 40 straddles the end


def test_overload_and_beep_are_probabilities() -> None:
    exact = np.array([[5.0, 5.0, 50.0, np.inf]])
    one = Sample(exact, exact, np.ones(1), False)
    assert density(one, Seen(None)) == 0.25
    assert density(one, Seen(None, beeps=True, beeps_below=40.0)) == 0.5
    assert density(one, Seen(None, beeps=False, beeps_below=40.0)) == 0.5
    assert fits(one, Seen(None))
    assert not fits(Sample(exact[:, :3], exact[:, :3], np.ones(1), False), Seen(None))


def test_what_was_ruled_out_has_no_density_and_does_not_fit() -> None:
    whole = sample("drift", 0.01)
    for row in range(20):
        whole.exact[row], whole.shown[row] = np.nan, np.nan
    assert density(whole, Seen(150.0, 1.0, 0.5)) == 0.0
    assert not fits(whole, Seen(150.0, 1.0, 0.5))
    assert fits(whole, Seen(5000.0, 1.0, 0.5))


def test_most_likely_size_lies_between_the_grid_points() -> None:
    """By hand: 10 kΩ with 2 kΩ across reads 1666.7 Ω."""
    whole = sample("leak beside 10 kΩ", 0.0)
    sizes = 25.0 * (1e7 / 25.0) ** U
    assert likeliest(whole, Seen(1e4 * 2e3 / 12e3, 1.0, 0.5), sizes) == pytest.approx(2000.0, rel=0.01)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(st.floats(1.0, 1e5), st.floats(0.0, 1e3), st.sampled_from(["drift", "leak beside 10 kΩ"]))
def test_density_is_never_negative_and_a_fit_has_some(value: float, error: float, law: str) -> None:
    whole, seen = sample(law, 0.02), Seen(value, error, 0.5)
    assert density(whole, seen) >= 0.0
    assert density(whole, seen) > 0.0 or not fits(whole, seen)


@settings(deadline=None, derandomize=True, max_examples=200)
@given(st.sampled_from(["short", "leaky", "drifted", "dried", "wrong-value"]), st.floats(0.01, 1e7),
       st.floats(1.0, 1e3))
def test_sizes_are_said_without_more_digits_than_they_have(word: str, low: float, ratio: float) -> None:
    text = size_words(word, low * math.sqrt(ratio), (low, low * ratio))
    assert text
    numbers = [piece for piece in text.split() if piece[0].isdigit()]
    assert numbers
    assert all(len(piece.replace(".", "").strip("0")) <= 2 for piece in numbers)
    assert "e" not in "".join(numbers)
