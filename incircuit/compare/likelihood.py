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

from incircuit.circuit.elimination import Floats, Ints

BEYOND = 0.1
"""The drawn boards do not reach the ends of what is possible: widened by this part of their width."""
LEAST_HEARD = 0.01
"""A condition fits a beep or a silence that at least this part of its boards would give."""


@dataclass(frozen=True, slots=True)
class Sample:
    """Readings of one condition: rows are magnitudes (one row where there is none), columns boards.

    Column 0 is the board with nominal parts. `exact` [V or ohm] before the meter's error, `shown`
    with error and rounding; infinite on overload, a whole row without numbers where that magnitude was
    ruled out before. `weights` of the rows sum to 1; `continuous` where the magnitude may also lie
    between the rows.
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
    `full_scale` [V or ohm] is where the range it was read on ends.
    """

    value: float | None
    error: float = 0.0
    rounding: float = 0.0
    beeps: bool | None = None
    beeps_below: float = 0.0
    full_scale: float = math.inf

    @property
    def sigma(self) -> float:
        """Standard deviation of two rectangular errors (GUM 4.3.7)."""
        return math.sqrt((self.error**2 + self.rounding**2) / 3.0)


def density(sample: Sample, seen: Seen) -> float:
    """Probability density [1/V or 1/ohm] of the reading; its probability on overload or for a beep."""
    known = ~np.isnan(sample.exact[:, 0])
    if not known.any():
        return 0.0
    if seen.beeps is not None:
        return float(sample.weights @ np.where(known, _sounds_alike(sample.exact, seen).mean(axis=1), 0.0))
    over = np.isinf(sample.exact).mean(axis=1)
    if seen.value is None:
        return float(sample.weights @ over)
    if sample.continuous:
        return _integral(sample, seen, over)
    rows = zip(sample.weights[known], sample.exact[known], strict=True)
    return float(sum(w * _kernel(row, seen) for w, row in rows))


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
    finite = np.where(np.isfinite(sample.exact), sample.exact, np.nan)
    count = len(finite) - 1
    for k in range(count):
        ends = [row[np.isfinite(row)] for row in finite[k:k + 2]]
        reach = 1.0 - 0.5 * (over[k] + over[k + 1])
        if np.isnan(sample.exact[k:k + 2, 0]).any() or reach <= 0.0 or not any(map(len, ends)):
            continue
        middle = [float(e.mean()) if len(e) else seen.full_scale for e in ends]
        spread = max(float(e.std()) if len(e) else 0.0 for e in ends)
        sigma = max(math.hypot(seen.sigma, spread), 1e-12)
        weight = 0.5 * (sample.weights[k] + sample.weights[k + 1]) * len(finite) / count
        total += reach * weight * _smeared(seen.value, middle[0], middle[1], sigma)
    return total


def _smeared(x: float, low: float, high: float, sigma: float) -> float:
    """Density at x of a uniform value between low and high plus a normal error."""
    if abs(high - low) < 0.1 * sigma:
        z = (x - 0.5 * (low + high)) / sigma
        return math.exp(-0.5 * z * z) / (sigma * math.sqrt(2.0 * math.pi))
    root = sigma * math.sqrt(2.0)
    return abs(math.erf((x - low) / root) - math.erf((x - high) / root)) / (2.0 * abs(high - low))


def _limits(sample: Sample) -> tuple[Floats, Floats]:
    """What each row may display: its boards' extremes, somewhat widened; overload at the upper end.

    Between two magnitudes that both occur, the reading passes every value in between: such rows
    reach halfway to their neighbours.
    """
    low, high = sample.shown.min(axis=1), sample.shown.max(axis=1)
    finite = np.where(np.isfinite(sample.shown), sample.shown, np.nan)
    some = np.isfinite(finite).any(axis=1)
    width = np.zeros(len(low))
    width[some] = np.nanmax(finite[some], axis=1) - np.nanmin(finite[some], axis=1)
    low, high = low - BEYOND * width, high + BEYOND * width
    if sample.continuous:
        before, after = np.roll(np.stack([low, high]), 1, axis=1), np.roll(np.stack([low, high]), -1, axis=1)
        before[:, 0], after[:, -1] = np.nan, np.nan
        low = np.fmin(low, np.fmin(_halfway(low, before[0]), _halfway(low, after[0])))
        high = np.fmax(high, np.fmax(_halfway(high, before[1]), _halfway(high, after[1])))
    return low, high


def _halfway(one: Floats, other: Floats) -> Floats:
    """Between two rows; an overloaded neighbour means that every higher value occurs."""
    both = np.isfinite(one) & np.isfinite(other)
    middle = np.where(both, 0.5 * (np.where(both, one, 0.0) + np.where(both, other, 0.0)), other)
    return np.asarray(np.where(np.isnan(other), np.nan, middle))


def fitting_rows(sample: Sample, seen: Seen) -> Ints:
    """Rows (magnitudes) under which the reading may be what was seen."""
    known = ~np.isnan(sample.exact[:, 0])
    if seen.beeps is not None:
        alike = _sounds_alike(sample.exact, seen).mean(axis=1) > LEAST_HEARD
        return np.flatnonzero(known & alike)
    low, high = _limits(sample)
    if seen.value is None:
        return np.flatnonzero(known & np.isinf(sample.shown).any(axis=1))
    inside = (low <= seen.value + seen.rounding) & (seen.value - seen.rounding <= high)
    return np.flatnonzero(known & inside)


def fits(sample: Sample, seen: Seen) -> bool:
    """Whether the reading lies within what the condition can show, at some magnitude."""
    return len(fitting_rows(sample, seen)) > 0


def likeliest(sample: Sample, seen: Seen, sizes: Floats) -> float | None:
    """Of `sizes`, one a row, the magnitude whose nominal reading is the one seen.

    Between two rows it is interpolated in the logarithm. None where the reading does not tell:
    on overload, and for a beep.
    """
    if seen.value is None:
        return None
    middle = sample.exact[:, 0]
    if sample.continuous:
        for k in range(len(middle) - 1):
            a, b = middle[k] - seen.value, middle[k + 1] - seen.value
            if np.isfinite(a) and np.isfinite(b) and a != b and a * b <= 0.0:
                part = a / (a - b)
                return float(sizes[k] ** (1.0 - part) * sizes[k + 1] ** part)
    rows = fitting_rows(sample, seen)
    distance = np.where(np.isfinite(middle[rows]), np.abs(middle[rows] - seen.value), np.inf)
    return float(sizes[rows[int(np.argmin(distance))]])
