"""How the readings of one condition vary together, linear about the board that is on the bench.

What a parameter does to a reading is no straight line where junctions leak: a leak hardly moves a reading
that resistors rule, and rules it where it is large. Of two such readings the straight lines go another way
than the curves, and a sound board would look impossible between them. So each reading is a polynomial of what
moves it, and taken as linear about the parameters that the readings themselves tell of.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.spread import LEFT, VARIANCE, combined, left_over

DEGREE = 3
"""Of the polynomial a reading is of what moves it."""
LEAST_BOARDS, LESS = 24, 0.7
"""A reading is bent if so many boards show it, and that leaves so much less of its variance."""
BLIND = 1e6
"""Variance of the error of a reading that tells nothing."""
ROUNDS = 4
"""In which the board on the bench is found."""
TAIL = 2.8
"""Of this many standard deviations, if drawn boards lie further off, the deviation is raised."""
_POWERS = np.arange(DEGREE + 1)
_STRAIGHT = (_POWERS == 1).astype(np.float64)
_ENDS = np.linspace(-1.0, 1.0, 21)


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
        unit = self.wider[:, row]
        blind = np.diag(np.where(np.isnan(off), BLIND, 0.0))
        errors = errors / np.outer(unit, unit) + blind
        covariance, shift = self.curves.around(np.nan_to_num(off) / unit, errors, self.covariance)
        return replace(self, covariance=covariance, shift=shift)


@dataclass(frozen=True, slots=True)
class Curves:
    """How parameters move readings: linearly by `effect` (readings, parameters) into one number for each, and
    by the polynomial `bend` (readings, `DEGREE` + 1) of that number; `rest` (readings, readings) is left.
    """

    effect: Floats
    bend: Floats
    rest: Floats

    def of(self, readings: Sequence[int]) -> Curves:
        """The same for some of the readings."""
        kept = list(readings)
        return Curves(self.effect[kept], self.bend[kept], self.rest[np.ix_(kept, kept)])

    def around(self, off: Floats, errors: Floats, first: Floats) -> tuple[Floats, Floats]:
        """Covariance and shift, linear about the parameters that readings `off` the nominal one tell of (the
        iterated Kalman update: B. M. Bell, F. W. Cathey, IEEE Trans. Autom. Control 38 (1993) 294); `first`
        is the covariance to begin with."""
        covariance, moved, shift = first, self.effect, np.zeros(len(off))
        for _ in range(ROUNDS):
            told = VARIANCE * moved.T @ np.linalg.solve(covariance + errors, off - shift)
            at = (self.effect @ np.clip(told, -1.0, 1.0))[:, None]
            slope = (self.bend[:, 1:] * _POWERS[1:] * at ** _POWERS[:-1]).sum(axis=1)
            shift = (self.bend * at ** _POWERS).sum(axis=1) - slope * at[:, 0]
            moved = slope[:, None] * self.effect
            covariance = VARIANCE * moved @ moved.T + self.rest
        return covariance, shift


@dataclass(frozen=True, slots=True)
class Moved:
    """What moves readings: `effect` and `rest` as `explained` has them, `bend` and `left` as `curved`."""

    effect: Floats
    rest: Floats
    bend: Floats
    left: Floats


def together(off: Floats, moved: Moved, least: Floats, wider: Floats) -> Together:
    """How readings vary together that lie `off` (readings, boards) the nominal one, each by the deviation
    `least` (readings,) at least; `wider` is handed on."""
    covariance = combined(moved.effect, moved.rest)
    with np.errstate(invalid="ignore"):
        farthest = np.nanmax(np.abs(np.where(np.isfinite(off), off, 0.0)), axis=1)
    tails = np.maximum(1.0, farthest / (np.sqrt(np.diag(covariance)) + 1e-30) / TAIL)
    whole = _at_least(covariance, least) * tails[:, None] * tails
    straight = (moved.bend == _STRAIGHT).all(axis=1)
    if straight.all():
        return Together(whole, wider)
    spread = np.sqrt((moved.left**2).sum(axis=1)) + 1e-30
    beyond = np.abs(moved.left).max(axis=1) * np.sqrt(np.isfinite(off).sum(axis=1)) / spread / TAIL
    further = np.where(straight, tails, np.maximum(1.0, beyond))
    effect = np.where(straight, tails, 1.0)[:, None] * moved.effect
    rest = _at_least(left_over(moved.left) * further[:, None] * further, least)
    return Together(whole, wider, Curves(effect, moved.bend, rest))


def _at_least(covariance: Floats, least: Floats) -> Floats:
    """A covariance with no deviation below the least."""
    found, own = covariance.copy(), np.arange(len(least))
    found[own, own] = np.maximum(found[own, own], least**2)
    return found


def curved(deviation: Floats, axes: Floats, effect: Floats, rest: Floats) -> tuple[Floats, Floats]:
    """Polynomials of what parameters do together to each reading, (readings, `DEGREE` + 1), and what these
    leave, of unit weight, (readings, boards). Straight where little is bent, or a polynomial turned round."""
    along = effect @ axes
    bend, left = np.tile(_STRAIGHT, (len(effect), 1)), rest.copy()
    for i, (x, y) in enumerate(zip(along, deviation, strict=True)):
        known, size = np.isfinite(y), float(np.abs(effect[i]).sum())
        if not size or known.sum() < LEAST_BOARDS or (rest[i] ** 2).sum() <= LEFT * (x**2).mean():
            continue
        weights = np.linalg.lstsq((x[known, None] / size) ** _POWERS, y[known], rcond=None)[0]
        over = y[known] - (x[known, None] / size) ** _POWERS @ weights
        free = max(known.sum() - DEGREE - np.count_nonzero(effect[i]), 1.0)
        slope = (weights[1:] * _POWERS[1:] * _ENDS[:, None] ** _POWERS[:-1]).sum(axis=1)
        if (slope > 0.0).all() and (over**2).sum() / free < LESS * (rest[i] ** 2).sum():
            bend[i] = weights / size**_POWERS
            left[i] = 0.0
            left[i, known] = over / np.sqrt(free)
    return bend, left
