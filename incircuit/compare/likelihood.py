"""How probable a displayed reading is under each condition of the board.

A condition is the healthy board or one fault at a grid of magnitudes; for each, drawn boards give
the spread of the true reading, and the meter adds its error and rounding. Unknown magnitudes are
integrated over: between two grid points the reading is taken as linear in the logarithm of the
magnitude, with the spread of either end, and that integral is closed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats

LEAST_FIT = 0.005
"""A condition fits a reading that at least this part of its boards would pass on either side."""


@dataclass(frozen=True, slots=True)
class Sample:
    """Readings of one condition: rows are magnitudes (one row where there is none), columns boards.

    Column 0 is the board with nominal parts. `exact` [V or ohm] before the meter's error, `shown`
    with error and rounding; infinite on overload. `weights` of the rows sum to 1; `continuous` where
    the magnitude may also lie between the rows.
    """

    exact: Floats
    shown: Floats
    weights: Floats
    continuous: bool


@dataclass(frozen=True, slots=True)
class Seen:
    """A reading as typed: `value` [V or ohm], None on overload.

    `error` is the meter's half width there, `rounding` half a step of the display or of what was typed.
    Where only the beeper was heard, `beeps` is its answer and `beeps_below` [ohm] its threshold.
    """

    value: float | None
    error: float = 0.0
    rounding: float = 0.0
    beeps: bool | None = None
    beeps_below: float = 0.0

    @property
    def sigma(self) -> float:
        """Standard deviation of two rectangular errors (GUM 4.3.7)."""
        return math.sqrt((self.error**2 + self.rounding**2) / 3.0)


def density(sample: Sample, seen: Seen) -> float:
    """Probability density [1/V or 1/ohm] of the reading, or its probability on overload."""
    if seen.beeps is not None:
        return float(sample.weights @ _sounds_alike(sample.exact, seen).mean(axis=1))
    over = np.isinf(sample.exact).mean(axis=1)
    if seen.value is None:
        return float(sample.weights @ over)
    if sample.continuous:
        return _integral(sample, seen, over)
    return float(sum(w * _kernel(row, seen) for w, row in zip(sample.weights, sample.exact, strict=True)))


def _sounds_alike(exact: Floats, seen: Seen) -> Floats:
    """Where the beeper would have given the answer that was heard."""
    return np.asarray((exact < seen.beeps_below) == seen.beeps)


def _kernel(exact: Floats, seen: Seen) -> float:
    """Mean of normal kernels on the drawn boards, widened by a bandwidth (Silverman 1986)."""
    assert seen.value is not None
    finite = exact[np.isfinite(exact)]
    if not len(finite):
        return 0.0
    width = 0.9 * float(finite.std()) * len(finite) ** -0.2
    sigma = max(math.hypot(seen.sigma, width), 1e-12)
    z = (seen.value - finite) / sigma
    share = len(finite) / len(exact)
    return share * float(np.exp(-0.5 * z * z).mean()) / (sigma * math.sqrt(2.0 * math.pi))


def _integral(sample: Sample, seen: Seen, over: Floats) -> float:
    """The density integrated over the magnitude, interval by interval of the grid."""
    assert seen.value is not None
    total = 0.0
    middle = sample.exact[:, 0]
    finite = np.where(np.isfinite(sample.exact), sample.exact, np.nan)
    spread = np.array([np.nanstd(row) if np.isfinite(row).any() else 0.0 for row in finite])
    count = len(middle) - 1
    for k in range(count):
        low, high = middle[k], middle[k + 1]
        reach = 1.0 - 0.5 * (over[k] + over[k + 1])
        if reach <= 0.0:
            continue
        if not np.isfinite(low) or not np.isfinite(high):
            low = high = low if np.isfinite(low) else high
            if not np.isfinite(low):
                continue
        sigma = max(math.hypot(seen.sigma, max(spread[k], spread[k + 1])), 1e-12)
        weight = 0.5 * (sample.weights[k] + sample.weights[k + 1]) * len(middle) / count
        total += reach * weight * _smeared(seen.value, low, high, sigma)
    return total


def _smeared(x: float, low: float, high: float, sigma: float) -> float:
    """Density at x of a uniform value between low and high plus a normal error."""
    if abs(high - low) < 0.1 * sigma:
        z = (x - 0.5 * (low + high)) / sigma
        return math.exp(-0.5 * z * z) / (sigma * math.sqrt(2.0 * math.pi))
    root = sigma * math.sqrt(2.0)
    return abs(math.erf((x - low) / root) - math.erf((x - high) / root)) / (2.0 * abs(high - low))


def fits(sample: Sample, seen: Seen) -> bool:
    """Whether the reading lies where 99 of 100 boards of the condition read, at some magnitude."""
    if seen.beeps is not None:
        return bool(_sounds_alike(sample.exact, seen).mean(axis=1).max() > 2 * LEAST_FIT)
    low = np.quantile(sample.shown, LEAST_FIT, axis=1, method="lower")
    high = np.quantile(sample.shown, 1.0 - LEAST_FIT, axis=1, method="higher")
    if sample.continuous:  # between grid points the reading passes every value in between
        low = np.minimum(low[:-1], low[1:])
        high = np.maximum(high[:-1], high[1:])
    if seen.value is None:
        return bool(np.isinf(high).any())
    return bool(np.any((low <= seen.value + seen.rounding) & (seen.value - seen.rounding <= high)))


def likeliest_row(sample: Sample, seen: Seen) -> int:
    """Row (magnitude) whose nominal reading is nearest to the one seen."""
    middle = sample.exact[:, 0]
    if seen.beeps is not None:
        return int(np.argmax(_sounds_alike(sample.exact, seen).mean(axis=1)))
    if seen.value is None:
        over = np.flatnonzero(np.isinf(middle))
        return int(over[len(over) // 2]) if len(over) else int(np.argmax(middle))
    distance = np.where(np.isfinite(middle), np.abs(middle - seen.value), np.inf)
    return int(np.argmin(distance))
