"""How the readings of one condition vary together, linear about the board that is on the bench.

What a parameter does to a reading is no straight line where junctions leak: a leak hardly moves a reading
that resistors rule, and rules it where it is large. Of two such readings the straight lines go another way
than the curves, and a sound board would look impossible between them. So each reading is a rising curve over
what moves it, and taken as linear about the parameters that the readings themselves tell of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.spread import LEFT, VARIANCE, combined, left_over

PIECES = 8
"""Straight pieces of the curve a reading is over what moves it."""
SMOOTH = 0.3
"""Weight of neighbouring pieces being as steep, beside that of the boards."""
LEAST_BOARDS, LESS = 24, 0.7
"""A reading is bent if so many boards show it, and that leaves so much less of its variance."""
BLIND = 1e6
"""Variance of the error of a reading that tells nothing."""
ABOUT = 0.5
"""Pieces either side of a place over which a curve is taken as straight."""
ROUNDS = 4
"""In which the board on the bench is found."""
TAIL = 2.8
"""Of this many standard deviations, if drawn boards lie further off, the deviation is raised."""
_GRID = np.linspace(-1.0, 1.0, PIECES + 1)


@dataclass(frozen=True, slots=True)
class Together:
    """Covariance of readings, (readings, readings), on the scale on which they are taken as normal, and how
    much wider than that each is at every magnitude of a fault, `wider` (readings, magnitudes).

    `curves` say how the parameters move the readings, where that is known; `shift` (readings,) is what the
    readings of boards like the one on the bench differ from the nominal one, beyond what is linear.
    """

    covariance: Floats
    wider: Floats
    curves: Curves | None = None
    shift: Floats | None = None

    def all(self) -> Floats:
        """(magnitudes, readings, readings) the covariance at every magnitude."""
        k = self.wider.T
        return np.asarray(self.covariance * k[:, :, None] * k[:, None, :])

    def shifts(self) -> Floats | float:
        """(magnitudes, readings) what readings differ from the nominal one at every magnitude."""
        return 0.0 if self.shift is None else np.asarray(self.wider.T * self.shift)

    def times(self, factors: Floats) -> Together:
        """The same with each reading spreading so many times as far."""
        return Together(self.covariance * factors[:, None] * factors, self.wider)

    def of(self, readings: Sequence[int]) -> Together:
        """The same for some of the readings."""
        kept = list(readings)
        return Together(self.covariance[np.ix_(kept, kept)], self.wider[kept],
                        self.curves and self.curves.of(kept),
                        None if self.shift is None else self.shift[kept])

    def around(self, off: Floats, errors: Floats, row: int) -> Together:
        """The same about the board that readings `off` the nominal one at a magnitude tell of, NaN where one
        tells nothing; `errors` (readings, readings) is the covariance of what the meter adds."""
        if self.curves is None:
            return self
        unit = np.maximum(self.wider[:, row], 1e-6)  # nothing spreads by nothing
        blind = np.diag(np.where(np.isnan(off), BLIND, 0.0))
        errors = errors / np.outer(unit, unit) + blind
        covariance, shift = self.curves.around(np.nan_to_num(off) / unit, errors, self.covariance)
        return replace(self, covariance=covariance, shift=shift)


@dataclass(frozen=True, slots=True)
class Curves:
    """How parameters move readings: linearly by `effect` (readings, parameters) into one number for each,
    and by the curve `bend` (readings, `PIECES` + 1) over that number, from −`reach` to `reach` (readings,);
    `rest` (readings, readings) is left.
    """

    effect: Floats
    bend: Floats
    reach: Floats
    rest: Floats

    def of(self, readings: Sequence[int]) -> Curves:
        """The same for some of the readings."""
        kept = list(readings)
        return Curves(self.effect[kept], self.bend[kept], self.reach[kept], self.rest[np.ix_(kept, kept)])

    def _at(self, along: Floats) -> tuple[Floats, Floats]:
        """(readings,) the curves where they are, and their slope thereabouts."""
        place = 0.5 * PIECES * (np.clip(along / self.reach, -1.0, 1.0) + 1.0)
        low, high = _value(self.bend, place - ABOUT), _value(self.bend, place + ABOUT)
        wide = np.minimum(place + ABOUT, PIECES) - np.maximum(place - ABOUT, 0.0)
        return _value(self.bend, place), (high - low) / wide * 0.5 * PIECES / self.reach

    def around(self, off: Floats, errors: Floats, first: Floats) -> tuple[Floats, Floats]:
        """Covariance and shift, linear about the parameters that readings `off` the nominal one tell of (the
        iterated Kalman update: B. M. Bell, F. W. Cathey, IEEE Trans. Autom. Control 38 (1993) 294); `first`
        is the covariance to begin with."""
        covariance, moved, shift = first, self.effect, np.zeros(len(off))
        for _ in range(ROUNDS):
            told = VARIANCE * moved.T @ np.linalg.solve(covariance + errors, off - shift)
            along = self.effect @ np.clip(told, -1.0, 1.0)
            there, slope = self._at(along)
            shift = there - slope * along
            moved = slope[:, None] * self.effect
            covariance = VARIANCE * moved @ moved.T + self.rest
        return covariance, shift


def _value(bend: Floats, place: Floats) -> Floats:
    """(readings,) curves at places of their grid."""
    place = np.clip(place, 0.0, PIECES)
    k = np.minimum(place.astype(np.intp), PIECES - 1)
    rows = np.arange(len(bend))
    return np.asarray(bend[rows, k] + (place - k) * (bend[rows, k + 1] - bend[rows, k]))


@dataclass(frozen=True, slots=True)
class Moved:
    """What moves readings: `effect` and `rest` as `explained` has them, the others as `curved`."""

    effect: Floats
    rest: Floats
    bend: Floats
    reach: Floats
    left: Floats
    straight: Floats


def together(off: Floats, moved: Moved, least: Floats, wider: Floats) -> Together:
    """How readings vary together that lie `off` (readings, boards) the nominal one, each by the deviation
    `least` (readings,) at least; `wider` is handed on."""
    covariance = combined(moved.effect, moved.rest)
    with np.errstate(invalid="ignore"):
        farthest = np.nanmax(np.abs(np.where(np.isfinite(off), off, 0.0)), axis=1)
    tails = np.maximum(1.0, farthest / (np.sqrt(np.diag(covariance)) + 1e-30) / TAIL)
    whole = _at_least(covariance, least) * tails[:, None] * tails
    straight = moved.straight > 0.0
    if straight.all():
        return Together(whole, wider)
    spread = np.sqrt((moved.left**2).sum(axis=1)) + 1e-30
    beyond = np.abs(moved.left).max(axis=1) * np.sqrt(np.isfinite(off).sum(axis=1)) / spread / TAIL
    further = np.where(straight, tails, np.maximum(1.0, beyond))
    k = np.where(straight, tails, 1.0)
    rest = _at_least(left_over(moved.left) * further[:, None] * further, least)
    return Together(whole, wider, Curves(
        moved.effect, k[:, None] * moved.bend, moved.reach, rest))


def _at_least(covariance: Floats, least: Floats) -> Floats:
    """A covariance with no deviation below the least."""
    found, own = covariance.copy(), np.arange(len(least))
    found[own, own] = np.maximum(found[own, own], least**2)
    return found


def curved(deviation: Floats, axes: Floats, effect: Floats,
           rest: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Curves of readings over what parameters do together, (readings, `PIECES` + 1); their reach (readings,);
    what they leave, of unit weight, (readings, boards); and 1 where they are straight, for little is bent."""
    along = effect @ axes
    reach = np.maximum(np.abs(along).max(axis=1), 1e-12)
    bend, left, straight = reach[:, None] * _GRID, rest.copy(), np.ones(len(effect))
    for i, (x, y) in enumerate(zip(along / reach[:, None], deviation, strict=True)):
        known = np.isfinite(y)
        if known.sum() < LEAST_BOARDS or (rest[i] ** 2).sum() <= LEFT * (along[i] ** 2).mean():
            continue
        curve = _rising(x[known], y[known])
        over = y[known] - np.interp(x[known], _GRID, curve)
        free = max(known.sum() - PIECES / 2 - np.count_nonzero(effect[i]), 1.0)
        if (over**2).sum() / free < LESS * (rest[i] ** 2).sum():
            bend[i], straight[i], left[i] = curve, 0.0, 0.0
            left[i, known] = over / np.sqrt(free)
    return bend, reach, left, straight


def _rising(x: Floats, y: Floats) -> Floats:
    """(`PIECES` + 1,) the curve on `_GRID` that never falls and comes nearest to points, smooth where there
    are few."""
    steps = np.clip(0.5 * PIECES * (x[:, None] - _GRID[:-1]), 0.0, 1.0)
    about = steps - steps.mean(axis=0)  # where the curve begins follows from the rest
    same = SMOOTH * np.diff(np.eye(PIECES), axis=0) * np.sqrt(len(x))
    rises = least_positive(about.T @ about + same.T @ same, about.T @ y)
    start = y.mean() - steps.mean(axis=0) @ rises
    return np.asarray(start + np.concatenate([[0.0], np.cumsum(rises)]))


def least_positive(square: Floats, right: Floats) -> Floats:
    """The x ≥ 0 of least x·`square`·x − 2·`right`·x (C. L. Lawson, R. J. Hanson, "Solving Least Squares
    Problems", 1974, ch. 23, from memory). scipy has it, and takes a fifth of a second to import."""
    x, free = np.zeros(len(right)), np.zeros(len(right), dtype=bool)
    least = 1e-12 * float(np.abs(right).max(initial=0.0))
    for _ in range(3 * len(right)):
        slope = np.where(free, -np.inf, right - square @ x)
        if slope.max() <= least:
            break
        free[np.argmax(slope)] = True
        while free.any():
            wanted = np.zeros(len(right))
            wanted[free] = np.linalg.solve(square[np.ix_(free, free)], right[free])
            below = free & (wanted <= 0.0)
            if not below.any():
                x = wanted
                break
            x = x + (x[below] / (x[below] - wanted[below])).min() * (wanted - x)
            free &= x > 1e-14 * np.abs(x).max()
    return x * free
