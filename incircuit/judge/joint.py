"""Joint probability of several readings under one condition of the board.

The true readings of boards drawn from one condition are taken as jointly normal, with the covariance
of the drawn boards: parts share their spread between readings, so a difference of two readings may be
far better known than either. Ohms are taken by their logarithm (below an ohm as they are), since the
leakage of junctions spreads by factors. The meter's accuracy is in part common to all readings of a
mode, in part each reading's own, like rounding; both are rectangular (GUM 4.3.7). Tolerances state
limits: beyond what the drawn boards and the meter reach, the normal tail is cut. Overload is an event
with a probability of its own, whatever the numbers of the other readings. An unknown magnitude is
integrated over: between two grid points the vector of readings is taken as linear in the magnitude's
logarithm, and the integral of the normal density along that line is closed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from incircuit.circuit.elimination import Bools, Floats, Ints
from incircuit.judge.line import Along, along
from incircuit.judge.observed import Observed, is_linear, on_scale
from incircuit.judge.together import TAIL, Together

IMPOSSIBLE = 1e-7
"""Probability of an overload, or of none, that no drawn board shows and none comes near."""
FAR = 4.0
"""Readings further than this from what the condition predicts, in standard deviations, do not fit."""
COMMON = 0.5
"""Share of the variance of a meter's error that all readings of a mode have in common, where one share has to
stand for all …"""
SHARES = (0.0, 0.8)
"""… and shares that are as likely: one meter repeats itself, an accuracy states limits for every reading, and
ranges have errors of their own; an assumption."""
WIDER = 1.3
"""Limits of a reading are the drawn boards' times this: few boards do not reach the corners."""
LONE, MANY = 1.8, 2.4
"""… from `MANY` deviations between the middle and the farthest board on, and not at all up to `LONE`."""
MARKED = 0.3
"""Half width of a marked tolerance at most, on the scale of the logarithm."""
EDGE = 0.12
"""Beyond the limits the density falls like a normal one of this part of their half width."""


@dataclass(frozen=True, slots=True)
class Fit:
    """How well a condition explains all readings.

    `log_likelihood` is natural, densities in V and ohm; `row` the likeliest magnitude's row and
    `place` where between it and the next (0 to 1); `misses` the distance of each reading from what
    is predicted there, in standard deviations (infinite where overload does not agree); `distance`
    squared that of all numbers together, by their covariance; `peak` the log likelihood there, whatever the
    probability of the magnitude.
    """

    log_likelihood: float
    row: int
    place: float
    misses: tuple[float, ...]
    distance: float = 0.0
    peak: float = 0.0

    @property
    def unknown(self) -> float:
        """What it costs that the magnitude is not known beforehand (natural log)."""
        return self.log_likelihood - self.peak

    @property
    def fits(self) -> bool:
        """Whether every single reading lies where such boards read, and all of them together."""
        limit = chi_squared(max(1, len(self.misses)), 3.72)  # one in ten thousand
        return all(m <= FAR for m in self.misses) and self.distance <= limit


@lru_cache(maxsize=1024)
def chi_squared(count: int, normal: float) -> float:
    """Quantile of chi squared with `count` degrees of freedom, at that of the normal distribution (E. B.
    Wilson, M. M. Hilferty, Proc. Natl. Acad. Sci. 17 (1931) 684)."""
    return count * (1.0 - 2.0 / (9.0 * count) + normal * math.sqrt(2.0 / (9.0 * count))) ** 3


def nothing_fits(count: int) -> Fit:
    """The fit of a condition that cannot be solved."""
    return Fit(-math.inf, 0, 0.0, (math.inf,) * count, math.inf)


def joint_fit(exact: Floats, seen: Sequence[Observed], weights: Floats, continuous: bool,
              at: Floats | None = None, together: Together | None = None) -> Fit:
    """Fit of one condition to all readings.

    `exact` [V or ohm] is (readings, rows, boards): what the meter would measure before its own
    error, infinite on overload, board 0 with nominal parts. `weights` are probabilities of the rows
    or, where the magnitude may lie between rows (`continuous`), of the rows − 1 spans between them;
    they need not sum to 1: magnitudes left out have been found impossible. `at` are the logarithms
    of the magnitudes, evenly spaced where not given; `together` says how the true readings vary together,
    the boards do where it is not given.
    """
    ready = ready_for(exact, seen, continuous)
    if ready is None:
        return nothing_fits(len(seen))
    return fit_of(ready, weights, at, together and together.of(ready.numbers))


@dataclass(frozen=True, slots=True)
class Ready:
    """Readings of a condition on the scale on which they are normal, whatever the meter's errors share.

    `exact` (numbers, rows, boards) of the readings `numbers` that are numbers, `read`; spans go from rows
    `low` to rows `high`; `events` (readings, spans) are log probabilities of overload or none as seen,
    `slope` the log of that of the scale.
    """

    exact: Floats
    read: tuple[Observed, ...]
    numbers: list[int]
    low: Ints
    high: Ints
    events: Floats
    slope: float
    continuous: bool

    @property
    def values(self) -> Floats:
        """(numbers,) what was read."""
        return np.array([s.value for s in self.read], dtype=np.float64)


def ready_for(exact: Floats, seen: Sequence[Observed], continuous: bool) -> Ready | None:
    """All that `joint_fit` needs but how readings vary; None where a condition could not be solved."""
    if np.isnan(exact).any():
        return None
    continuous = continuous and exact.shape[1] > 1
    low, high = _ends_of(exact.shape[1], continuous)
    exact, seen, slope = on_scale(exact, seen)
    events = _events(exact, seen, low, high)
    numbers = [i for i, s in enumerate(seen) if s.value is not None]
    read = tuple(seen[i] for i in numbers)
    return Ready(exact[numbers], read, numbers, low, high, events, slope, continuous)


def fit_of(ready: Ready, weights: Floats, at: Floats | None = None, together: Together | None = None,
           common: float = COMMON) -> Fit:
    """`joint_fit` with a share `common` of the meter's variance common to all readings of a mode."""
    if not len(ready.events):  # every magnitude explains nothing equally well
        return Fit(math.log(max(float(weights.sum()), 1e-300)), 0, 0.0, (), 0.0)
    spans = _spans(ready, together, common, at, ready.continuous)
    logs = np.log(np.maximum(weights, 1e-300)) + ready.events.sum(axis=0)
    if not ready.numbers:
        best = int(np.argmax(logs))
        return Fit(_log_sum(logs), best, 0.0, tuple(spans.misses(best).tolist()), 0.0,
                   float(ready.events[:, best].sum()))
    cut = -0.5 * (spans.edge**2).max(axis=1)  # the worst one: a reading taken again is no further witness
    peaks = ready.events.sum(axis=0) + spans.found.peak + cut
    best = int(np.argmax(peaks))
    total = _log_sum(logs + spans.found.log + cut) + ready.slope
    misses, distance = tuple(spans.misses(best).tolist()), float(spans.found.distance[best])
    return Fit(total, int(ready.low[best]), float(spans.found.place[best]), misses, distance,
               float(peaks[best]) + ready.slope)


def shares(seen: Sequence[Observed]) -> tuple[float, ...]:
    """Shares of a meter's error that readings may share; one stands for all where that says nothing."""
    modes = [s.mode for s in seen]
    return SHARES if len(set(modes)) < len(modes) else (COMMON,)


def mixed(fits: Sequence[Fit], priors: Sequence[float] = ()) -> Fit:
    """One fit of several, as likely beforehand or with `priors`."""
    logs = np.log(priors) if priors else np.full(len(fits), -math.log(len(fits)))
    weighed = [f.log_likelihood + float(x) for f, x in zip(fits, logs, strict=True)]
    best = fits[int(np.argmax(weighed))]
    if math.isinf(max(weighed)):
        return best
    total = _log_sum(np.array(weighed))
    return replace(best, log_likelihood=total, peak=best.peak + total - best.log_likelihood)


def fits_each(exact: Floats, seen: Sequence[Observed], together: Together | None, continuous: bool,
              best: Fit | None = None) -> list[Fit]:
    """Fit of every span between rows (`continuous`), or of every row, by itself, as `joint_fit` has it; their
    likelihoods and peaks are left out (0). `together` says how readings vary at each row, and is taken about
    the board that `best` finds."""
    unknown = np.asarray(np.isnan(exact).any(axis=(0, 2)))
    ready = ready_for(np.where(unknown[:, None], 0.0, exact), seen, continuous)
    assert ready is not None
    low, high = ready.low, ready.high
    together = together and together.of(ready.numbers)
    if together and best:
        together = about_bench(ready, best, together, COMMON)
    lost, spans = unknown[low] | unknown[high], _spans(ready, together, COMMON, None, False)
    found = spans.found
    return [nothing_fits(len(seen)) if lost[k] else
            Fit(0.0, int(low[k]), float(found.place[k]), tuple(spans.misses(k).tolist()),
                float(found.distance[k])) for k in range(len(low))]


def about_bench(ready: Ready, fit: Fit, together: Together, common: float) -> Together:
    """How readings that are numbers vary together about the board that they tell of, where `fit` finds it."""
    low = ready.exact[:, fit.row, 0]
    high = ready.exact[:, min(fit.row + 1, ready.exact.shape[1] - 1), 0]
    with np.errstate(invalid="ignore"):
        between = low + fit.place * (high - low)
    middle = np.where(np.isfinite(between), between, np.where(np.isfinite(low), low, high))
    off = np.where(np.isfinite(middle), ready.values - middle, np.nan)
    return together.around(off, _metered(ready.read, common), fit.row)


def _ends_of(rows: int, continuous: bool) -> tuple[Ints, Ints]:
    """Rows at which spans begin and end."""
    low: Ints = np.arange(rows - 1 if continuous else rows, dtype=np.intp)
    return low, np.asarray(low + 1) if continuous else low


@dataclass(frozen=True, slots=True)
class _Spans:
    """Spans between rows, or rows, against all readings.

    `events` (readings, spans) log probability of overload or none as seen; `numbers` of the readings that
    are numbers, and of those what `found` says of the line, `edge` and `off` (spans, numbers) how far each
    lies beyond its limits, and off, in standard deviations.
    """

    events: Floats
    numbers: list[int]
    found: Along
    edge: Floats
    off: Floats

    def misses(self, span: int) -> Floats:
        """(readings,) how far off each reading is at the best place of a span."""
        found = np.where(self.events[:, span] > math.log(10.0 * IMPOSSIBLE), 0.0, np.inf)
        found[self.numbers] = np.maximum(self.off[span], FAR / 3.0 * self.edge[span])
        return found


def _spans(ready: Ready, together: Together | None, common: float, at: Floats | None, bent: bool) -> _Spans:
    """All about the spans; `together` of the numbers. `bent`: between rows readings need not run straight."""
    exact, low, high = ready.exact, ready.low, ready.high
    if not ready.numbers:
        none, zero = np.zeros((len(low), 0)), np.zeros(len(low))
        return _Spans(ready.events, ready.numbers, Along(zero, zero, zero, zero), none, none)
    middle = exact[:, :, 0].T + (together.shifts() if together else 0.0)
    covariance = _metered(ready.read, common) + (
        together.all() if together else np.stack([sampled(exact[:, k]) for k in range(exact.shape[1])]))
    between = 0.5 * (covariance[low] + covariance[high])
    if bent:
        between = between + _slack(middle, at)
    strays = np.array([1.0 / s.end for s in ready.read])
    found = along(ready.values, middle[low], middle[high], between, strays)
    edge = _excess(exact, ready.read, low, high, found.place)
    off = _misses(ready.values, middle[low], middle[high], found.place, between)
    return _Spans(ready.events, ready.numbers, found, edge, off)


def _events(exact: Floats, seen: Sequence[Observed], low: Ints, high: Ints) -> Floats:
    """Log probability, (readings, spans), that a reading overloads or not as was seen, given those before."""
    over = _overload(exact, np.array([s.end for s in seen]))
    ol = np.array([s.value is None for s in seen], dtype=np.bool_)[:, None]
    as_seen = given_others(np.where(ol, over, 1.0 - over), np.isinf(exact) == ol[:, :, None])
    return np.asarray(np.log(0.5 * (as_seen[:, low] + as_seen[:, high])))


def given_others(alone: Floats, happened: Bools) -> Floats:
    """Probability of each event, (readings, rows), given that one before it which says most about it.

    `alone` are their probabilities by themselves, `happened` (readings, rows, boards) on which drawn boards
    they did. Two readings of one leak overload together: the second is no further witness. A tree of
    conditional probabilities stands for all of them together (C. K. Chow, C. N. Liu, IEEE Trans. Inf. Theory
    14 (1968) 462).
    """
    share, boards = happened.mean(axis=2), happened.shape[2]
    unsure = np.flatnonzero(((share > 0.0) & (share < 1.0)).any(axis=1)).tolist()
    found = alone.copy()
    for k, i in enumerate(unsure[1:], 1):
        before = happened[unsure[:k]]
        both, times = (before & happened[i]).sum(axis=2), before.sum(axis=2)
        given = np.where(times > 0, (both + 0.5) / (times + 1.0), share[i])
        most = np.abs(given - share[i]).argmax(axis=0)
        told = given[most, np.arange(given.shape[1])]
        open_ = (share[i] > 0.0) & (share[i] < 1.0)
        found[i] = np.where(open_, np.minimum(told, 1.0 - 0.5 / boards), alone[i])
    return found


def _overload(exact: Floats, ends: Floats) -> Floats:
    """Probability of overload, (readings, rows): share of boards, or `IMPOSSIBLE` where none comes near."""
    boards = exact.shape[2]
    over = np.isinf(exact)
    share = over.mean(axis=2)
    half = 0.5 / boards
    finite = np.where(over, 0.0, exact).max(axis=2)
    near = (share > 0.0) | (finite > (ends - 0.03 * np.minimum(ends, 1.0))[:, None])
    low = np.where(near, half, IMPOSSIBLE)
    return np.asarray(np.clip(share, low, np.where(share < 1.0, 1.0 - half, 1.0 - IMPOSSIBLE)))


def deviations(exact: Floats) -> Floats:
    """(readings, boards) how far drawn boards lie from the nominal one; NaN where one overloads, 0 for a
    reading whose nominal one does."""
    finite = np.where(np.isfinite(exact), exact, np.nan)
    off = finite[:, 1:] - finite[:, :1]
    return np.where(np.isfinite(exact[:, :1]), off, 0.0)


def sampled(exact: Floats) -> Floats:
    """(readings, readings) covariance of one row as drawn."""
    off = deviations(exact)
    usable = np.isfinite(off).all(axis=0)
    total = np.zeros((len(exact), len(exact)))
    if usable.sum() > 1:
        kept = off[:, usable]
        # leakage has long tails: no drawn board lies further off than `TAIL` deviations
        sigma = np.sqrt((kept**2).mean(axis=1)) + 1e-30
        kept = kept * np.maximum(1.0, np.abs(kept).max(axis=1) / sigma / TAIL)[:, None]
        total += kept @ kept.T / kept.shape[1]
    return total


def _metered(seen: Sequence[Observed], common: float) -> Floats:
    """(numbers, numbers) the meter's common error and each reading's own, rounding included."""
    total = np.zeros((len(seen), len(seen)))
    for mode in {s.mode for s in seen}:
        shared = np.array([s.error * math.sqrt(common / 3.0) if s.mode == mode else 0.0 for s in seen])
        total += np.outer(shared, shared)
    own = [(s.rounding**2 + (1.0 - common) * s.error**2) / 3.0 + 1e-18 for s in seen]
    return np.asarray(total + np.diag(own))


def _slack(middle: Floats, at: Floats | None) -> Floats:
    """(spans, numbers, numbers) What a straight line between rows may be off, f″h²/8, as a variance."""
    rows, count = middle.shape
    place = np.arange(rows, dtype=np.float64) if at is None else at
    bend = np.zeros((rows, count))
    with np.errstate(invalid="ignore"):
        slope = np.diff(middle, axis=0) / np.diff(place)[:, None]
        bend[1:-1] = np.abs(np.diff(slope, axis=0)) * (2.0 / (place[2:] - place[:-2]))[:, None]
    bend = np.where(np.isfinite(bend), bend, 0.0)
    off = np.maximum(bend[:-1], bend[1:]) * (np.diff(place) ** 2)[:, None] / 8.0
    return np.asarray((off**2)[:, :, None] * np.eye(count))


def _excess(exact: Floats, seen: Sequence[Observed], low: Ints, high: Ints, place: Floats) -> Floats:
    """(spans, numbers) How far beyond its limits each reading lies, in widths of the edge; 0 within."""
    finite = np.isfinite(exact)
    least = np.where(finite, exact, np.inf).min(axis=2)
    most = np.where(finite, exact, -np.inf).max(axis=2)
    known = least <= most
    value = np.array([[s.value] for s in seen], dtype=np.float64)
    error = np.array([[s.error + s.rounding] for s in seen])
    bottom, top = np.where(known, least, value), np.where(known, most, value)
    one, other = np.where(known[:, low], low, high), np.where(known[:, high], high, low)

    number = np.arange(len(exact))[:, None]
    least, most = bottom[number, one], top[number, one]
    further = bottom[number, other] - least
    a = least + place * further
    b = most + place * (top[number, other] - most)
    # a row near the limits may be any of its two ends
    wider = _wider(exact, finite, bottom, top, [is_linear(s.mode) for s in seen])
    width = 0.5 * np.maximum(wider[number, one], wider[number, other]) * (b - a) + error
    step = np.abs(further) * 0.05
    off = np.abs(value - 0.5 * (a + b)) - width - step
    return np.asarray((np.maximum(0.0, off) / (EDGE * width + step + 1e-12)).T)


def _wider(exact: Floats, finite: NDArray[np.bool_], bottom: Floats, top: Floats,
           linear: Sequence[bool]) -> Floats:
    """(numbers, rows) How much wider than the drawn boards' the limits are: `WIDER` where many parameters add
    up, nothing where one tolerance rules, for strata reach nearly to its ends. Told by how many deviations
    the farthest board lies off: √3 of a rectangular distribution. Drops of junctions (volts) and leakage
    have no marked tolerance, and no sharp limits."""
    count = np.maximum(finite.sum(axis=2), 1)
    middle = np.where(finite, exact, 0.0).sum(axis=2) / count
    square = np.where(finite, exact - middle[:, :, None], 0.0) ** 2
    deviation = np.sqrt(square.sum(axis=2) / count)
    ratio = 0.5 * (top - bottom) / np.maximum(deviation, 1e-30)
    share = np.clip((ratio - LONE) / (MANY - LONE), 0.0, 1.0)
    vague = np.asarray(linear)[:, None] | (0.5 * (top - bottom) > MARKED)
    return np.asarray(1.0 + (WIDER - 1.0) * np.where(vague, 1.0, share))


def _misses(values: Floats, low: Floats, high: Floats, place: Floats, covariance: Floats) -> Floats:
    """(spans, numbers) How far off each reading is, in standard deviations; infinite where both ends are."""
    a = np.where(np.isfinite(low), low, high)
    b = np.where(np.isfinite(high), high, low)
    known = np.isfinite(a)
    sigma = np.sqrt(np.einsum("kii->ki", covariance))
    at = np.where(known, a, 0.0) + place[:, None] * (np.where(known, b, 0.0) - np.where(known, a, 0.0))
    return np.asarray(np.where(known, np.abs(values - at) / sigma, np.inf))


def _log_sum(logs: Floats) -> float:
    top = float(np.max(logs))
    return top if math.isinf(top) else top + math.log(float(np.exp(logs - top).sum()))
