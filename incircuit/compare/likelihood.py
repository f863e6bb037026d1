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
_FAR = 1e12


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
    if seen.value is None:
        return float(sample.weights @ np.isinf(sample.exact).mean(axis=1))
    if sample.continuous:
        return _integral(sample, seen)
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


def _integral(sample: Sample, seen: Seen) -> float:
    """The density integrated over the magnitude, interval by interval of the grid, board by board.

    Where a board reads overload at one end of an interval, its readings up to the end of the range are
    taken to fill half of it.
    """
    assert seen.value is not None
    stretched = _stretched(sample.exact)
    one, two = stretched[:-1], stretched[1:]
    known = ~np.isnan(one[:, 0]) & ~np.isnan(two[:, 0])
    ends = np.stack([one[known], two[known]])
    finite = np.isfinite(ends)
    share = finite.mean(axis=0)
    if not share.any():
        return 0.0
    low, high = np.where(finite, ends, min(seen.full_scale, _FAR))
    sigma = np.maximum(np.hypot(seen.sigma, _bandwidth(ends, finite)), 1e-12)[:, None]
    halves = 0.5 * np.concatenate([[0.0], sample.weights, [0.0]])
    weights = (halves[:-1] + halves[1:])[known]
    return float(weights @ (share * _smeared(seen.value, low, high, sigma)).mean(axis=1))


def _stretched(rows: Floats) -> Floats:
    """Rows of a grid of midpoints with the two ends of the whole stretch, by half a step beyond."""
    ends = [np.where(np.isfinite(a) & np.isfinite(b), 1.5 * a - 0.5 * np.where(np.isfinite(b), b, 0.0), a)
            for a, b in ((rows[0], rows[1]), (rows[-1], rows[-2]))]
    return np.vstack([ends[0], rows, ends[1]])


def _bandwidth(ends: Floats, finite: Floats) -> Floats:
    """Width that few boards need to stand for many (Silverman 1986), per interval."""
    number = np.maximum(finite.sum(axis=2), 1)
    values = np.where(finite, ends, 0.0)
    mean = values.sum(axis=2) / number
    spread = np.sqrt((np.where(finite, ends - mean[:, :, None], 0.0) ** 2).sum(axis=2) / number)
    return np.asarray(0.9 * (spread * number**-0.2).max(axis=0))


def _smeared(x: float, low: Floats, high: Floats, sigma: Floats) -> Floats:
    """Density at x of a uniform value between low and high plus a normal error."""
    from scipy.special import erf

    width = np.abs(high - low)
    narrow = width < 0.1 * sigma
    z = (x - 0.5 * (low + high)) / sigma
    point = np.exp(-0.5 * z * z) / (sigma * math.sqrt(2.0 * math.pi))
    root = sigma * math.sqrt(2.0)
    wide = np.abs(erf((x - low) / root) - erf((x - high) / root)) / (2.0 * np.where(narrow, 1.0, width))
    return np.asarray(np.where(narrow, point, wide))


def _limits(sample: Sample) -> tuple[Floats, Floats]:
    """What each row may display: its boards' extremes, somewhat widened; overload at the upper end.

    Between two magnitudes that both occur, the reading passes every value in between: such rows
    reach halfway to their neighbours, and those at either end as far beyond.
    """
    shown = _stretched(sample.shown) if sample.continuous else sample.shown
    low, high = _widened(shown)
    if not sample.continuous:
        return low, high
    lowest = np.fmin(low[1:-1], np.fmin(_halfway(low[1:-1], low[:-2]), _halfway(low[1:-1], low[2:])))
    highest = np.fmax(high[1:-1], np.fmax(_halfway(high[1:-1], high[:-2]), _halfway(high[1:-1], high[2:])))
    for end in (0, -1):
        lowest[end], highest[end] = np.fmin(lowest[end], low[end]), np.fmax(highest[end], high[end])
    return lowest, highest


def _widened(shown: Floats) -> tuple[Floats, Floats]:
    """Extremes of the boards of each row, widened: few boards do not reach what many do.

    By a part of their width, or of its logarithm where that is more, as for leakage over decades.
    """
    low, high = shown.min(axis=1), shown.max(axis=1)
    top = np.where(np.isfinite(shown), shown, -np.inf).max(axis=1)
    some = np.isfinite(low) & np.isfinite(top)
    a, b = np.where(some, low, 1.0), np.where(some, top, 1.0)
    linear = BEYOND * (b - a)
    positive = some & (a > 0.0)
    ratio = np.where(positive, np.where(positive, b, 1.0) / np.where(positive, a, 1.0), 1.0) ** BEYOND
    down = np.maximum(linear, a * (1.0 - 1.0 / ratio))
    up = np.maximum(linear, b * (ratio - 1.0))
    return np.where(some, low - down, low), np.where(some, high + up, high)


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
