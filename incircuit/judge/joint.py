"""Joint probability of several readings under one condition of the board.

The true readings of boards drawn from one condition are taken as jointly normal, with the covariance
of the drawn boards: parts share their spread between readings, so a difference of two readings may be
far better known than either. The meter's accuracy is common to all readings of a mode, rounding is
each reading's own; both are rectangular (GUM 4.3.7). Overload is an event with a probability of its
own. An unknown magnitude is integrated over: between two grid points the vector of readings is taken
as linear in the magnitude's logarithm, and the integral of the normal density along that line is
closed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from incircuit.circuit.elimination import Floats

IMPOSSIBLE = 1e-7
"""Probability of an overload, or of none, that no drawn board shows and none comes near."""
FAR = 4.0
"""Readings further than this from what the condition predicts, in standard deviations, do not fit."""


@dataclass(frozen=True, slots=True)
class Observed:
    """One reading: `value` [V or ohm] or None on overload.

    `error` and `rounding` are half widths of the meter's accuracy and of a step of the display,
    `end` [V or ohm] where the mode overloads. Readings of one `mode` share the meter's error.
    """

    value: float | None
    mode: str
    error: float
    rounding: float
    end: float


@dataclass(frozen=True, slots=True)
class Fit:
    """How well a condition explains all readings.

    `log_likelihood` is natural, densities in V and ohm; `row` the likeliest magnitude's row and
    `place` where between it and the next (0 to 1); `misses` the distance of each reading from what
    is predicted there, in standard deviations (infinite where overload does not agree).
    """

    log_likelihood: float
    row: int
    place: float
    misses: tuple[float, ...]

    @property
    def fits(self) -> bool:
        """Whether every single reading lies where such boards read, and all of them together."""
        squares = sum(m * m for m in self.misses)
        count = len(self.misses)
        # 0.999 quantile of chi squared, Wilson and Hilferty 1931
        limit = count * (1.0 - 2.0 / (9.0 * count) + 3.09 * math.sqrt(2.0 / (9.0 * count))) ** 3
        return all(m <= FAR for m in self.misses) and squares <= limit


def joint_fit(exact: Floats, seen: Sequence[Observed], weights: Floats, continuous: bool) -> Fit:
    """Fit of one condition to all readings.

    `exact` [V or ohm] is (readings, rows, boards): what the meter would measure before its own
    error, infinite on overload, board 0 with nominal parts. `weights` are probabilities of the rows
    or, where the magnitude may lie between rows (`continuous`), of the rows − 1 spans between them;
    they need not sum to 1: magnitudes left out have been found impossible.
    """
    events = np.array([_event(exact[i], s) for i, s in enumerate(seen)]).sum(axis=0)
    numbers = [i for i, s in enumerate(seen) if s.value is not None]
    rows = exact.shape[1]
    if not numbers:
        return _without_numbers(exact, seen, events, _row_weights(weights, rows))
    read = np.array([seen[i].value for i in numbers], dtype=np.float64)
    strays = np.array([1.0 / seen[i].end for i in numbers])
    middle = exact[numbers, :, 0].T  # (rows, numbers)
    covariance = np.stack([_covariance(exact[numbers, k], [seen[i] for i in numbers]) for k in range(rows)])
    spans = _spans(rows, continuous)
    best, pieces = (-math.inf, 0, 0.0), []
    for (low, high), weight in zip(spans, weights, strict=True):
        log_density, place, peak = _along(read, middle[low], middle[high],
                                          0.5 * (covariance[low] + covariance[high]), strays)
        event = 0.5 * (events[low] + events[high])
        pieces.append(math.log(max(float(weight), 1e-300)) + log_density + event)
        best = max(best, (peak + event, low, place))
    _, row, place = best
    after = min(row + 1, rows - 1) if continuous else row
    return Fit(_log_sum(pieces), row, place, _misses(exact, seen, numbers, row, after, place, covariance))


def _row_weights(weights: Floats, rows: int) -> Floats:
    """Span weights shared out to the rows at their ends."""
    if len(weights) == rows:
        return weights
    return np.asarray(0.5 * (np.append(weights, 0.0) + np.insert(weights, 0, 0.0)))


def _spans(rows: int, continuous: bool) -> list[tuple[int, int]]:
    if continuous and rows > 1:
        return [(k, k + 1) for k in range(rows - 1)]
    return [(k, k) for k in range(rows)]


def _event(exact: Floats, seen: Observed) -> Floats:
    """Log probability, per row, that the reading overloads or not, as was seen."""
    over = _overload(exact, seen.end)
    return np.log(over if seen.value is None else 1.0 - over)


def _overload(exact: Floats, end: float) -> Floats:
    """Probability of overload per row: the share of boards, or `IMPOSSIBLE` where none comes near."""
    share = np.isinf(exact).mean(axis=1)
    half = 0.5 / exact.shape[1]
    finite = np.where(np.isfinite(exact), exact, 0.0).max(axis=1)
    near = (share > 0.0) | (finite > 0.9 * end)
    low = np.where(near, half, IMPOSSIBLE)
    return np.asarray(np.clip(share, low, np.where(share < 1.0, 1.0 - half, 1.0 - IMPOSSIBLE)))


def _covariance(exact: Floats, seen: Sequence[Observed]) -> Floats:
    """(numbers, numbers) of one row: drawn boards, plus the meter's common error and each rounding."""
    finite = np.where(np.isfinite(exact), exact, np.nan)
    deviation = finite[:, 1:] - finite[:, :1]
    deviation = np.where(np.isfinite(exact[:, :1]), deviation, 0.0)  # an overloaded reading has no spread
    usable = np.isfinite(deviation).all(axis=0)
    count = len(seen)
    total = np.zeros((count, count))
    if usable.sum() > 1:
        kept = deviation[:, usable]
        total += kept @ kept.T / kept.shape[1]
    for mode in {s.mode for s in seen}:
        common = np.array([s.error / math.sqrt(3.0) if s.mode == mode else 0.0 for s in seen])
        total += np.outer(common, common)
    return np.asarray(total + np.diag([s.rounding**2 / 3.0 + 1e-18 for s in seen]))


def _along(read: Floats, low: Floats, high: Floats, covariance: Floats,
           strays: Floats) -> tuple[float, float, float]:
    """Log of the mean normal density along the line from `low` to `high`, where it peaks, and the peak.

    A number read where the condition says OL is a stray: any number of its scale, `strays` [1/unit].
    """
    known = np.isfinite(low) | np.isfinite(high)
    stray = float(np.log(strays[~known]).sum())
    if not known.any():
        return stray, 0.0, stray
    low, high = np.where(np.isfinite(low), low, high)[known], np.where(np.isfinite(high), high, low)[known]
    factor = np.linalg.cholesky(covariance[np.ix_(known, known)])
    d = np.linalg.solve(factor, read[known] - low)
    step = np.linalg.solve(factor, high - low)
    normal = stray - 0.5 * len(d) * math.log(2.0 * math.pi) - float(np.log(np.diag(factor)).sum())
    a, b, c = float(step @ step), float(step @ d), float(d @ d)
    if a < 1e-6:
        return normal - 0.5 * c, 0.0, normal - 0.5 * c
    place = min(1.0, max(0.0, b / a))
    peak = normal - 0.5 * (c - 2.0 * place * b + place * place * a)
    root = math.sqrt(a)
    return normal + _log_integral(root, b / a, c - b * b / a), place, peak


def _log_integral(root: float, centre: float, rest: float) -> float:
    """Log of ∫₀¹ exp(−½(root²(t − centre)² + rest)) dt."""
    from_, to = root * (0.0 - centre), root * (1.0 - centre)
    if from_ > 0.0 or to < 0.0:  # the peak lies outside: integrate the tail from its nearer end
        near, far = (from_, to) if from_ > 0.0 else (-to, -from_)
        inside = _mills(near) - math.exp(-0.5 * (far * far - near * near)) * _mills(far)
        return -0.5 * (rest + near * near) + math.log(max(inside, 1e-300) / root)
    area = 0.5 * (math.erf(to / math.sqrt(2.0)) - math.erf(from_ / math.sqrt(2.0)))
    return -0.5 * rest + math.log(max(area * math.sqrt(2.0 * math.pi) / root, 1e-300))


def _mills(x: float) -> float:
    """exp(x²/2)·∫ₓ^∞ exp(−t²/2) dt, for x ≥ 0."""
    from scipy.special import erfcx

    return float(math.sqrt(math.pi / 2.0) * erfcx(x / math.sqrt(2.0)))


def _misses(exact: Floats, seen: Sequence[Observed], numbers: list[int], row: int, after: int, place: float,
            covariance: npt.NDArray[np.float64]) -> tuple[float, ...]:
    spread = np.sqrt(np.einsum("kii->ki", covariance))
    found = []
    for i, s in enumerate(seen):
        low, high = exact[i, row, 0], exact[i, after, 0]
        if s.value is None:
            over = _overload(exact[i], s.end)
            found.append(0.0 if max(over[row], over[after]) > IMPOSSIBLE * 2 else math.inf)
            continue
        if not (np.isfinite(low) or np.isfinite(high)):
            found.append(math.inf)
            continue
        low, high = (low if np.isfinite(low) else high), (high if np.isfinite(high) else low)
        sigma = float(max(spread[row, numbers.index(i)], spread[after, numbers.index(i)]))
        found.append(float(abs(s.value - (low + place * (high - low))) / sigma))
    return tuple(found)


def _without_numbers(exact: Floats, seen: Sequence[Observed], events: Floats, weights: Floats) -> Fit:
    row = int(np.argmax(events + np.log(np.maximum(weights, 1e-300))))
    logs = [math.log(max(float(w), 1e-300)) + float(e) for w, e in zip(weights, events, strict=True)]
    misses = tuple(0.0 if _overload(exact[i], s.end)[row] > 2 * IMPOSSIBLE else math.inf
                   for i, s in enumerate(seen))
    return Fit(_log_sum(logs), row, 0.0, misses)


def _log_sum(logs: Sequence[float]) -> float:
    top = max(logs)
    return top if math.isinf(top) else top + math.log(sum(math.exp(x - top) for x in logs))
