"""What a condition of the board would read, at all its magnitudes, and how well that fits what was read."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.joint import (
    FAR,
    Fit,
    Ready,
    about_bench,
    deviations,
    fit_of,
    fits_each,
    given_others,
    mixed,
    nothing_fits,
    ready_for,
    shares,
)
from incircuit.judge.leakage import ANYTHING, above, decided_by_leakage, leaks_of, spread_by, wider_by
from incircuit.judge.looks import Bools
from incircuit.judge.observed import MOVING, Observed, scaled, steepness
from incircuit.judge.spread import axes_of, explained
from incircuit.judge.stage import Plan, Sizes, Stage, names_at
from incircuit.judge.together import Moved, Together, curved, together

LEAK_MISS = 3.0
"""A reading of leakage that misses by more may be that of a board that leaks as no drawn one; it counts as a
miss by so much."""
STRANGE = 1.5
"""A reading of leakage that misses by more is looked at whether no leak at all reads as much."""
_STAND_IN = 0.05
SELDOM = 0.03
"""Share of drawn boards above which what they do counts though the nominal one does not."""
JUMP, NEXT_TO = 1.3, 0.1
"""A reading jumps between two ranges where the next one begins so many times higher; a magnitude that changes
a reading by more than this part moves it."""
LEAST_HERE = 10
"""Boards that tell how far a reading spreads."""
MOST_WIDER = 1e3
SHORT = 0.2
"""Share of people who leave zeros at the end out (assumption)."""
HOPELESS = 3.0
"""Readings so many times as far off as what fits are not looked at closer."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Readings of a condition at all its magnitudes: `exact` (readings, rows, boards + 1).

    `ceiling` tells what a reading is when nothing leaks [ohm]; `standing` is the log probability of the
    ranges read; `short` are the same readings if zeros were left out of them, where that tells another range.
    """

    exact: Floats
    sizes: Sizes
    weights: Floats
    sized: bool
    together: Together | None = None
    ceiling: Callable[[int], float] | None = None
    standing: float = 0.0
    short: Evidence | None = None

    def fit(self, seen: Sequence[Observed], without: Sequence[int] = ()) -> Fit:
        """Fit to all readings but some; those miss by nothing."""
        found = self._whole(seen, without)
        if self.short is None:
            return found
        return mixed([found, self.short.fit(seen, without)], (1.0 - SHORT, SHORT))

    def _whole(self, seen: Sequence[Observed], without: Sequence[int]) -> Fit:
        """Fit if every digit was typed.

        On a share of boards, `ANYTHING`, one thing leaks as on no drawn board; each such leak counts once.
        """
        found = self._fit(seen, without)
        leaking = [i for i in range(len(seen)) if i not in without
                   and decided_by_leakage(self.exact[i, found.row], seen[i])]
        beyond = [i for i in leaking if found.misses[i] > STRANGE and self._above(i, seen[i], found.row)]
        if beyond:  # the normal law knows no ceiling
            found = replace(found, log_likelihood=found.log_likelihood - 0.5 * FAR**2,
                            misses=tuple(max(m, FAR + 1.0) if i in beyond else m
                                         for i, m in enumerate(found.misses)))
        missed = [i for i in leaking if found.misses[i] > LEAK_MISS]
        other = self._leaking(seen, without, found.row, leaking, missed) if missed else found
        if other.log_likelihood <= found.log_likelihood:
            return found
        could = [i for i in missed if not self._above(i, seen[i], found.row)]
        if could != missed:
            other = self._leaking(seen, without, found.row, leaking, could) if could else found
        return other if other.log_likelihood > found.log_likelihood else found

    def _above(self, reading: int, seen: Observed, row: int) -> bool:
        """Whether a reading is higher than it can be with no leak at all."""
        more = seen.value is not None and seen.value > self.exact[reading, row, 0]
        return more and self.ceiling is not None and above(seen, self.ceiling(reading))

    def _leaking(self, seen: Sequence[Observed], without: Sequence[int], row: int, leaking: Sequence[int],
                 missed: Sequence[int]) -> Fit:
        """Fit where the leaks of missed readings may be anything."""
        boards = self.exact[:, row]
        leaks = [leak for leak in leaks_of(boards, leaking) if set(leak) & set(missed)]
        factors = np.ones(len(seen))
        for leak in leaks:
            factors[list(leak)] = wider_by(boards, leak)
        exact = self.exact.copy()
        for i in np.flatnonzero(factors > 1.0):
            exact[i] = spread_by(exact[i], float(factors[i]))
        loose = replace(self, exact=exact, together=self.together and self.together.times(factors))
        found = loose._fit(seen, without)
        misses = tuple(max(m, LEAK_MISS) if i in missed else m for i, m in enumerate(found.misses))
        cost = len(leaks) * math.log(ANYTHING)
        return replace(found, log_likelihood=found.log_likelihood + cost, peak=found.peak + cost,
                       misses=misses)

    def _fit(self, seen: Sequence[Observed], without: Sequence[int]) -> Fit:
        kept = [i for i in range(len(seen)) if i not in without]
        ready = ready_for(self.exact[kept], [seen[i] for i in kept], self.sized)
        found = self._about(ready, kept) if ready else nothing_fits(len(kept))
        found = replace(found, log_likelihood=found.log_likelihood + self.standing,
                        peak=found.peak + self.standing)
        if not without:
            return found
        misses = [0.0] * len(seen)
        for i, miss in zip(kept, found.misses, strict=True):
            misses[i] = miss
        return replace(found, misses=tuple(misses))

    def _about(self, ready: Ready, kept: Sequence[int]) -> Fit:
        """Fit to the `kept` readings: linear about the nominal board first, then about the one on the bench,
        whatever share of the meter's error they have in common."""
        at = np.log([float(m or 1.0) for m in self.sizes]) if self.sized else None
        together = self.together and self.together.of([kept[i] for i in ready.numbers])

        def fit(share: float) -> Fit:
            found = fit_of(ready, self.weights, at, together, share)
            if together is None or together.curves is None:
                return found
            return fit_of(ready, self.weights, at, about_bench(ready, found, together, share), share)

        first = fit_of(ready, self.weights, at, together)
        if max(first.misses, default=0.0) > HOPELESS * FAR:
            return first
        return mixed([fit(share) for share in shares(ready.read)])

    def size(self, fit: Fit) -> float | None:
        """The likeliest magnitude."""
        here = self.sizes[fit.row]
        if here is None or not self.sized:
            return here
        after = self.sizes[min(fit.row + 1, len(self.sizes) - 1)] or here
        return float(here * (after / here) ** fit.place)

    def at_each(self, seen: Sequence[Observed]) -> list[Fit]:
        """Fit of every magnitude by itself to all readings; likelihoods left out."""
        return fits_each(self.exact, seen, self.together, False)

    def band(self, seen: Sequence[Observed], best: Fit) -> tuple[float, float] | None:
        """The magnitudes at which every reading fits by itself, `best` what fits best; None where there is no
        size."""
        if not self.sized:
            return None
        fits = fits_each(self.exact, seen, self.together, True, best)
        fitting = [float(m) for k, fit in enumerate(fits) if fit.fits
                   for m in self.sizes[k:k + 2] if m is not None]
        return (min(fitting), max(fitting)) if fitting else None


def together_of(stage: Stage, plan: Plan | None, drawn: Floats, whole: Floats,
              seen: Sequence[Observed]) -> Together | None:
    """How readings vary together, by boards `drawn` with a plan's fault, (readings, boards + 1), and at each
    magnitude of `whole`, (readings, rows, boards + 1). None where a good board narrows the parts."""
    if stage.good is not None:
        return None
    off = deviations(np.stack([scaled(x, s.mode) for x, s in zip(drawn, seen, strict=True)]))
    off[[s.value is None for s in seen]] = 0.0  # an event has no deviation
    lone = np.isinf(drawn[:, 0]) | (np.abs(drawn[:, 0]) <= 1e-12)
    slope = np.stack([steepness(np.append(x[:, 0], y[0]), s.mode)
                      for x, y, s in zip(whole, drawn, seen, strict=True)])
    slope, at_drawn = slope[:, :-1], slope[:, -1]
    with np.errstate(invalid="ignore", divide="ignore"):
        wider = np.where(np.isfinite(slope) & np.isfinite(at_drawn[:, None]) & (at_drawn[:, None] > 0.0),
                         slope / at_drawn[:, None], 1.0)
    least = np.where(lone, _STAND_IN / math.sqrt(2.0), 0.0)
    return together(off, _moved_by(stage, plan, off), least, np.minimum(wider, MOST_WIDER))


def _moved_by(stage: Stage, plan: Plan | None, off: Floats) -> Moved:
    """What `explained` and `curved` say of deviations (readings, boards); each found once."""
    names = names_at(stage, plan)
    page = stage.notes.page(("explained", names))
    rows = [row.tobytes() for row in off]
    lacking = {row: n for n, row in enumerate(rows) if page.known(row) is None}
    if lacking:
        some, axes = off[list(lacking.values())], axes_of(names, off.shape[1])
        effect, rest = explained(some, axes)
        found = effect, rest, *curved(some, axes, effect, rest)
        page.now.update(zip(lacking, zip(*found, strict=True), strict=True))
    return Moved(*(np.array(x) for x in zip(*(page.now[row] for row in rows), strict=True)))


def spread_out(nominal: Floats, drawn: Floats, seen: Sequence[Observed], at: int | None = None) -> Floats:
    """(readings, rows, boards + 1) boards of every row, in proportion to those drawn at one of them, number
    `at` where known.

    Where that one reads overload nothing is known of the spread: 5 % stand for it, alternating.
    """
    boards = drawn.shape[1]
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = drawn / drawn[:, :1]
    stand_in = 1.0 + _STAND_IN * np.cos(np.arange(boards) * math.pi) * (np.arange(boards) > 0)
    usable = np.isfinite(drawn[:, :1]) & (np.abs(drawn[:, :1]) > 1e-12)
    ratio = np.where(usable, ratio, stand_in)
    with np.errstate(invalid="ignore"):  # events have no proportion; they are put in below
        exact = np.asarray(nominal[:, :, None] * ratio[:, None, :])
    unknown = np.isnan(nominal)[:, :, None] | np.isnan(ratio)[:, None, :]
    exact = np.where(np.isnan(exact) & ~unknown, np.inf, exact)  # nothing at all, endlessly often
    edge = np.isinf(nominal)[:, :, None] & np.isfinite(drawn[:, :1])[:, None, :]
    # farads overload where the upper voltage is never reached, however little was wanted; where the nominal
    # board stands at the end, or has no capacitance at all, it alone does
    farads = np.array([s.mode.startswith("farads") for s in seen])[:, None, None]
    alone = edge & farads & (drawn[:, :1] >= _ends(seen)[:, None])[:, None, :]
    if at is not None:  # some of its boards do charge
        alone[:, at] |= (edge & farads)[:, at]
    alone |= farads & (np.abs(nominal) <= 1e-12)[:, :, None] & (np.abs(drawn[:, :1]) <= 1e-12)[:, None, :]
    edge &= ~farads
    far = (drawn > 0.5 * _ends(seen)[:, None])[:, None, :]
    exact = np.where(alone | (edge & far), drawn[:, None, :], exact)
    for i, s in enumerate(seen):
        if s.mode == MOVING:  # an event is no number to be put in proportion
            exact[i] = drawn[i]
        elif s.value is None:
            exact[i] = np.where(exact[i] > s.end, np.inf, exact[i])
    return exact


def on_its_range(nominal: Floats, drawn: Floats, seen: Sequence[Observed], alone: Callable[[int], Floats],
                 short: bool = False) -> tuple[Floats, Floats, float]:
    """Nominal readings (readings, rows) and drawn boards (readings, boards + 1) on the range that was read,
    and the log probability that boards stand there.

    A junction reads 390 ohm on one range and 3 kilohm on the next: that drawn boards stand on the lower one
    is an event, like overload, and no tenth of the number; `alone` tells what they read on the range that the
    digits tell. So are boards of which the range read shows nothing: a test current just above what a
    junction leaks reads far more than one just below. What reads on on the next range as on the one before is
    left, and so is what the magnitude of a fault moves: its rows stand now on one range, now on the other.
    `short`: zeros were left out of the numbers that fit the range below, so that their digits tell nothing.
    """
    nominal, drawn = nominal.copy(), drawn.copy()
    stands: list[Bools] = []
    for i, s in enumerate(seen):
        first = drawn[i, 0]
        if not np.isfinite(first) or (np.abs(nominal[i] - first) > NEXT_TO * first).any():
            continue
        if s.start and not (short and s.low) and (drawn[i] <= s.start).any():
            there = alone(i)
            below = _below(drawn[i], s, there)
            if below.any():
                drawn[i] = there
                nominal[i] = there[0]
                stands.append(~below)
        beyond = _beyond(drawn[i], s)
        here = np.isfinite(drawn[i]) & ~beyond
        if beyond.any() and here.sum() >= LEAST_HERE:
            drawn[i, beyond] = np.inf
            if beyond[0]:
                drawn[i, 0] = nominal[i] = np.median(drawn[i][here])
    return nominal, drawn, _log_of_all(stands)


def _log_of_all(events: Sequence[Bools]) -> float:
    """Log probability that all of some events happen, each known on every drawn board."""
    if not events:
        return 0.0
    happened = np.stack(events)[:, None, :]
    alone = np.maximum(happened.mean(axis=2), 0.5 / happened.shape[2])
    return float(np.log(given_others(alone, happened)).sum())


def _below(boards: Floats, s: Observed, alone: Floats) -> Bools:
    """Boards that stand on the range below, where the one read shows them a jump away."""
    with np.errstate(divide="ignore", invalid="ignore"):
        jumps = np.abs(np.log(alone / boards)) > math.log(JUMP)
    return np.asarray((boards <= s.start) & jumps)


def _beyond(boards: Floats, s: Observed) -> Bools:
    """Boards of which the range read shows nothing, where they are a jump away from its end."""
    over = np.isfinite(boards) & (boards > s.end)
    jump = s.value is not None and s.mode.startswith("ohms") and over.any() and (
        boards[over].min() >= JUMP * s.end)
    return np.asarray(over & jump)


def at_the_edge(drawn: Floats, seen: Sequence[Observed]) -> Floats:
    """Readings whose nominal board overloads while others do not: the nominal one stands at the end."""
    edge = np.isinf(drawn[:, 0]) & (np.isfinite(drawn).mean(axis=1) > SELDOM)
    found = drawn.copy()
    found[edge, 0] = _ends(seen)[edge]
    return found


def _ends(seen: Sequence[Observed]) -> Floats:
    return np.array([s.end for s in seen])
