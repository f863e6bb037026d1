"""Find the hypotheses that explain all readings: every fault on the nominal board, the few on drawn ones.

First each fault at its most severe: where no reading moves, it is silent, keeps the likelihood of the
board without it and the prior decides, as it should. Then some magnitudes of the others, with generous
limits; only what may fit is looked at closely, ever closer around its likeliest magnitude, and drawn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.causes import Cause, magnitudes, severe, span_weights
from incircuit.judge.joint import (
    TAIL,
    Fit,
    Observed,
    deviations,
    joint_fit,
    nothing_fits,
    scaled,
    steepness,
    stray,
)
from incircuit.judge.reference import narrowed
from incircuit.judge.spread import Together, covariance_of
from incircuit.judge.stage import Plan, Sizes, Stage, axes_at, exact_on, healthy_on

COARSE = 11
"""Magnitudes of the first look, over the whole range."""
FINER = 7
"""Further magnitudes within the spans around the best, each time."""
ROUNDS = 2
BOARDS = 64
SAME = 1e-6
"""Relative change of a reading below which a fault changes nothing."""
GENEROUS = 0.08
"""Spread of a reading under a fault not drawn yet, at least: of ohms as a part, of volts with a quarter of
it on top [V]."""
ANYTHING, LEAK_MISS, LEAK_WIDTH, LEAK_REACH = 0.01, 3.0, 0.5, 3.0
"""Share of boards of which leakage reads anything, counted as a miss by so much, where the drawn boards'
logarithms differ by more than that and one lies no further off than the last; assumptions."""
LEAKAGE, LEAKAGE_FROM = 0.6, 1e5
"""Above so many ohms a reading may be the leakage of junctions: its logarithm spreads by this."""
MOST_SPREAD = 1.5
HOPELESS = 6.0
"""Distance at most counted for one reading in the first look, in such spreads."""
BEHIND = 36.0
"""How far a fault may lie behind the best after the first look (squared distance)."""
LEAST_KEPT = 6
"""The nearest faults are looked at closely however far they lie: one may explain its part beside another."""
MOST_KEPT = 40
CLOSE = 0.04
"""Spread of a reading, as a part of it, while magnitudes are narrowed down …"""
CLOSE_BEHIND = 40.0
"""… and how far a fault may then lie behind the best (squared distance)."""
_STAND_IN = 0.05
MOST_WIDER = 1e3


@dataclass(frozen=True, slots=True)
class Evidence:
    """Readings of a condition at all its magnitudes: `exact` (readings, rows, boards + 1)."""

    exact: Floats
    sizes: Sizes
    weights: Floats
    sized: bool
    together: Together | None = None

    def fit(self, seen: Sequence[Observed], without: Sequence[int] = ()) -> Fit:
        """Fit to all readings but some; those miss by nothing.

        Leakage near the meter's highest voltage reads anything: a share of boards, `ANYTHING`, does.
        """
        found = self._fit(seen, without)
        any_ = [i for i in range(len(seen)) if i not in without and found.misses[i] > LEAK_MISS
                and self._leaks(i, seen[i], found.row)]
        if not any_:
            return found
        other = self._fit(seen, (*without, *any_))
        cost = sum(math.log(ANYTHING) + stray(seen[i]) for i in any_)
        if other.log_likelihood + cost <= found.log_likelihood:
            return found
        misses = tuple(LEAK_MISS if i in any_ else m for i, m in enumerate(other.misses))
        return replace(other, log_likelihood=other.log_likelihood + cost, misses=misses)

    def _leaks(self, reading: int, seen: Observed, row: int) -> bool:
        """Whether leakage, not resistors, decides what is read: it spreads more than any tolerance."""
        if seen.value is None or not seen.mode.startswith(("ohms", "cont")) or seen.value < LEAKAGE_FROM:
            return False
        boards = self.exact[reading, row]
        boards = np.log(boards[np.isfinite(boards) & (boards > LEAKAGE_FROM)])
        return bool(len(boards) and float(np.ptp(boards)) > LEAK_WIDTH
                    and float(np.abs(boards - math.log(seen.value)).min()) < LEAK_REACH)

    def _fit(self, seen: Sequence[Observed], without: Sequence[int]) -> Fit:
        kept = [i for i in range(len(seen)) if i not in without]
        at = np.log([float(m or 1.0) for m in self.sizes]) if self.sized else None
        found = joint_fit(self.exact[kept], [seen[i] for i in kept], self.weights, self.sized, at,
                          self.together.of(kept) if self.together else None)
        if not without:
            return found
        misses = [0.0] * len(seen)
        for i, miss in zip(kept, found.misses, strict=True):
            misses[i] = miss
        return Fit(found.log_likelihood, found.row, found.place, tuple(misses), found.distance)

    def size(self, fit: Fit) -> float | None:
        """The likeliest magnitude."""
        here = self.sizes[fit.row]
        if here is None or not self.sized:
            return here
        after = self.sizes[min(fit.row + 1, len(self.sizes) - 1)] or here
        return float(here * (after / here) ** fit.place)

    def at(self, row: int, seen: Sequence[Observed]) -> Fit:
        """Fit of one magnitude to all readings."""
        both = self.together and Together(self.together.covariance, self.together.wider[:, row:row + 1])
        return joint_fit(self.exact[:, row:row + 1], seen, np.ones(1), False, None, both)

    def band(self, seen: Sequence[Observed]) -> tuple[float, float] | None:
        """The magnitudes at which every reading fits by itself; None where there is no size."""
        if not self.sized:
            return None
        fitting = []
        for k in range(len(self.sizes) - 1):
            at = np.log([float(m or 1.0) for m in self.sizes[k:k + 2]])
            both = self.together and Together(self.together.covariance, self.together.wider[:, k:k + 2])
            fit = joint_fit(self.exact[:, k:k + 2], seen, np.ones(1), True, at, both)
            if fit.fits:
                fitting += [float(m) for m in self.sizes[k:k + 2] if m is not None]
        return (min(fitting), max(fitting)) if fitting else None


@dataclass(frozen=True, slots=True)
class Weighed:
    """A cause with its evidence, None where it is far off. `silent`: no reading changes with it. `cause`
    None is the board without a (further) fault."""

    cause: Cause | None
    fit: Fit
    evidence: Evidence | None = None
    silent: bool = False

    @property
    def size(self) -> float | None:
        """The likeliest magnitude [ohm or factor]."""
        return self.evidence.size(self.fit) if self.evidence else None


def weigh_all(stage: Stage, seen: Sequence[Observed], causes: Sequence[Cause],
              most: int = MOST_KEPT) -> tuple[Weighed, ...]:
    """The board as it is first, then every cause in order; for `most` causes boards are drawn."""
    healthy = healthy_on(stage, BOARDS)
    edge = _at_the_edge(healthy, seen)
    at_rest = narrowed(edge[:, None, :], seen, stage.good)
    own = Evidence(at_rest, (None,), np.ones(1), False, _together(stage, None, edge, at_rest, seen))
    base = own.fit(seen)
    found: dict[int, Weighed] = {}
    moved = _moved(stage, causes, healthy)
    loud = list(moved)
    plans: list[Plan] = [(causes[k], magnitudes(causes[k], COARSE)) for k in loud]
    nominal = [e[:, :, 0] for e in exact_on(stage, plans, 0, healthy, list(moved.values()))]
    scale = _generous(healthy, seen)
    distances = [_distances(e, seen, scale, causes[k].sized) for k, e in zip(loud, nominal, strict=True)]
    kept = _kept(distances)
    for k in loud:
        found[k] = Weighed(causes[k], nothing_fits(len(seen)))
    close = np.maximum(0.5 * scale, [_least_spread(s, CLOSE) for s in seen])
    looks = [Look(causes[loud[i]], moved[loud[i]], plans[i][1], nominal[i], close) for i in kept]
    for look, weighed in _drawn(stage, seen, _refined(stage, seen, looks, healthy), healthy, most):
        found[causes.index(look.cause)] = weighed
    silent = (Weighed(c, base, own, silent=True) for c in causes)
    return (Weighed(None, base, own), *(found.get(k, s) for k, s in enumerate(silent)))


def _moved(stage: Stage, causes: Sequence[Cause], healthy: Floats) -> dict[int, frozenset[int]]:
    """Numbers of the causes that move any reading, at their most severe, and of the readings they move."""
    plans: list[Plan] = [(c, severe(c)) for c in causes]
    found = {}
    for k, exact in enumerate(exact_on(stage, plans, 0, healthy)):
        moved = np.flatnonzero(~_same(exact, healthy[:, None, :1]))
        if len(moved):
            found[k] = frozenset(int(i) for i in moved)
    return found


def _same(exact: Floats, healthy: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Readings that no magnitude changes."""
    with np.errstate(invalid="ignore"):
        close = np.isfinite(healthy) & (np.abs(exact - healthy) <= SAME * (np.abs(healthy) + 1e-3))
    same = (np.isinf(exact) & np.isinf(healthy)) | close | np.isnan(exact)
    return np.asarray(same.all(axis=(1, 2)))


def _generous(healthy: Floats, seen: Sequence[Observed], least: float = GENEROUS) -> Floats:
    """Spread of each reading on its scale: the healthy board's, and no less than it may be under a fault."""
    found = np.empty(len(seen))
    for i, s in enumerate(seen):
        finite = healthy[i][np.isfinite(healthy[i])]
        on_scale = scaled(finite, s.mode)
        worst = float(np.abs(on_scale - on_scale[:1]).max()) if len(finite) else 0.0
        found[i] = np.clip(worst, _least_spread(s, least), MOST_SPREAD)
    return found


def _least_spread(s: Observed, part: float) -> float:
    if s.value is None:
        return part
    if s.mode.startswith(("diode", "volts")):
        return part * abs(s.value) + 0.25 * part
    return LEAKAGE if s.value > LEAKAGE_FROM and s.mode.startswith(("ohms", "cont")) else part


def _distances(nominal: Floats, seen: Sequence[Observed], scale: Floats, sized: bool) -> Floats:
    """Least squared distance of the readings from each span of magnitudes, or from each magnitude."""
    low, high = (nominal[:, :-1], nominal[:, 1:]) if sized else (nominal, nominal)
    total = np.zeros(low.shape[1])
    for i, s in enumerate(seen):
        least, most = np.minimum(low[i], high[i]), np.maximum(low[i], high[i])
        if s.value is None:
            off = np.where(most > 0.85 * s.end, 0.0, HOPELESS)
        else:
            value, one, other = (scaled(np.asarray(x), s.mode) for x in (s.value, least, most))
            reach = scaled(np.asarray(abs(s.value) + s.error + s.rounding), s.mode)
            spread = scale[i] + reach - abs(value)
            with np.errstate(invalid="ignore"):
                off = np.maximum(0.0, np.maximum(one - value, value - other)) / spread
            off = np.where(np.isfinite(off), np.minimum(off, HOPELESS), HOPELESS)
        total += np.where(np.isnan(low[i]) | np.isnan(high[i]), HOPELESS, off) ** 2
    return total


def _kept(distances: Sequence[Floats]) -> list[int]:
    """Numbers of the faults worth a close look."""
    scores = [float(d.min()) for d in distances]
    limit = _limit(scores, BEHIND)
    return [k for k, score in enumerate(scores) if score <= limit]


def _limit(scores: Sequence[float], behind: float) -> float:
    """Score up to which faults are kept: so far behind the best, or that of the last of the nearest few."""
    ranked = sorted(scores)[:LEAST_KEPT]
    return max(ranked[0] + behind, ranked[-1]) if ranked else 0.0


@dataclass(frozen=True, slots=True)
class Look:
    """A fault on the nominal board: the readings it `moves`, and all readings at some magnitudes.

    `spread` is what readings may spread at least, each on its scale.
    """

    cause: Cause
    moves: frozenset[int]
    sizes: Sizes
    nominal: Floats
    spread: Floats

    def distances(self, seen: Sequence[Observed], rows: bool = False) -> Floats:
        """Squared distance of each span of magnitudes, or of each of the `rows`."""
        return _distances(self.nominal, seen, self.spread, self.cause.sized and not rows)


def _refined(stage: Stage, seen: Sequence[Observed], looks: Sequence[Look], healthy: Floats) -> list[Look]:
    """Looks with further magnitudes in the spans that come nearest to the readings; the few nearest ones."""
    now = list(looks)
    for _ in range(ROUNDS):
        more = [_closer(look, seen) for look in now]
        extra = exact_on(stage, [(look.cause, m) for look, m in zip(now, more, strict=True)], 0, healthy,
                         [look.moves for look in now])
        now = [_merged(look, m, e[:, :, 0]) for look, m, e in zip(now, more, extra, strict=True)]
        least = [float(look.distances(seen).min()) for look in now]
        limit = _limit(least, CLOSE_BEHIND)
        now = [look for look, d in zip(now, least, strict=True) if d <= limit]
    return now


def _closer(look: Look, seen: Sequence[Observed]) -> Sizes:
    """Further magnitudes inside the spans that come nearest to the readings."""
    if not look.cause.sized:
        return ()
    distances = look.distances(seen)
    near = np.flatnonzero(distances <= distances.min() + 4.0)
    if len(near) > 5:  # the readings hardly tell its size
        return ()
    found: list[float] = []
    for k in near:
        low, high = float(look.sizes[k] or 0.0), float(look.sizes[k + 1] or 0.0)
        found += [float(m) for m in np.geomspace(low, high, FINER + 2)[1:-1]]
    return tuple(found)


def _drawn(stage: Stage, seen: Sequence[Observed], looks: Sequence[Look], healthy: Floats,
           most: int) -> list[tuple[Look, Weighed]]:
    """Many boards at the best magnitude of the `most` nearest looks, and what they say.

    For the others the boards of the healthy one stand, in proportion.
    """
    # ties by name: the order of a board's lines means nothing
    ranked = sorted(looks, key=lambda look: (
        round(float(look.distances(seen).min()), 6), look.cause.who, look.cause.fault))
    at: list[Plan] = [(look.cause, (look.sizes[_best_row(look, seen)],)) for look in ranked[:most]]
    boards = [b[:, 0] for b in exact_on(stage, at, BOARDS, healthy, [look.moves for look in ranked[:most]])]
    found = []
    for k, look in enumerate(ranked):
        some = _at_the_edge(boards[k] if k < len(boards) else healthy, seen)
        whole = _spread_out(look.nominal, some, seen)
        plan = at[k] if k < len(boards) else None
        evidence = Evidence(narrowed(whole, seen, stage.good), look.sizes,
                            span_weights(look.cause, look.sizes), look.cause.sized,
                            _together(stage, plan, some, whole, seen))
        found.append((look, Weighed(look.cause, evidence.fit(seen), evidence)))
    return found


def _best_row(look: Look, seen: Sequence[Observed]) -> int:
    """The magnitude nearest to the readings: boards are drawn there."""
    distances = look.distances(seen, rows=True)
    near = np.flatnonzero(distances <= distances.min() + 1.0)
    return int(near[len(near) // 2])


def _merged(look: Look, more: Sizes, extra: Floats) -> Look:
    if not more:
        return look
    every = [float(m or 0.0) for m in (*look.sizes, *more)]
    order = np.argsort(every, kind="stable")
    nominal = np.concatenate([look.nominal, extra], axis=1)[:, order]
    return Look(look.cause, look.moves, tuple(every[k] for k in order), nominal, look.spread)


def _spread_out(nominal: Floats, drawn: Floats, seen: Sequence[Observed]) -> Floats:
    """(readings, rows, boards + 1) boards of every row, in proportion to those drawn at one of them.

    Where that one reads overload nothing is known of the spread: 5 % stand for it, alternating.
    """
    boards = drawn.shape[1]
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = drawn / drawn[:, :1]
    stand_in = 1.0 + _STAND_IN * np.cos(np.arange(boards) * math.pi) * (np.arange(boards) > 0)
    usable = np.isfinite(drawn[:, :1]) & (np.abs(drawn[:, :1]) > 1e-12)
    ratio = np.where(usable, ratio, stand_in)
    exact = np.asarray(nominal[:, :, None] * ratio[:, None, :])
    edge = np.isinf(nominal)[:, :, None] & np.isfinite(drawn[:, :1])[:, None, :]
    exact = np.where(edge & (drawn > 0.5 * _ends(seen)[:, None])[:, None, :], drawn[:, None, :], exact)
    for i, s in enumerate(seen):
        if s.value is None:
            exact[i] = np.where(exact[i] > s.end, np.inf, exact[i])
    return exact


def _together(stage: Stage, plan: Plan | None, drawn: Floats, whole: Floats,
              seen: Sequence[Observed]) -> Together | None:
    """How readings vary together, by boards `drawn` with a plan's fault, (readings, boards + 1), and at each
    magnitude of `whole`, (readings, rows, boards + 1). None where a good board narrows the parts."""
    if stage.good is not None:
        return None
    curves = np.stack([scaled(x, s.mode) for x, s in zip(drawn, seen, strict=True)])
    off = deviations(curves)
    together = covariance_of(off, axes_at(stage, plan, drawn.shape[1] - 1))
    lone = np.isinf(drawn[:, 0]) | (np.abs(drawn[:, 0]) <= 1e-12)
    together[lone, lone] = np.maximum(together[lone, lone], _STAND_IN**2 / 2.0)
    slope = np.stack([steepness(x[:, 0], s.mode) for x, s in zip(whole, seen, strict=True)])
    at_drawn = np.array([steepness(x[:1], s.mode)[0] for x, s in zip(drawn, seen, strict=True)])
    with np.errstate(invalid="ignore", divide="ignore"):
        wider = np.where(np.isfinite(slope) & np.isfinite(at_drawn[:, None]) & (at_drawn[:, None] > 0.0),
                         slope / at_drawn[:, None], 1.0)
    with np.errstate(invalid="ignore"):
        farthest = np.nanmax(np.abs(np.where(np.isfinite(off), off, 0.0)), axis=1)
    deviation = np.sqrt(np.diag(together)) + 1e-30
    tails = np.maximum(1.0, farthest / deviation / TAIL)
    return Together(together * tails[:, None] * tails, np.minimum(wider, MOST_WIDER))


def _at_the_edge(drawn: Floats, seen: Sequence[Observed]) -> Floats:
    """Readings whose nominal board overloads while others do not: the nominal one stands at the end."""
    edge = np.isinf(drawn[:, 0]) & (np.isfinite(drawn).mean(axis=1) > 0.03)
    found = drawn.copy()
    found[edge, 0] = _ends(seen)[edge]
    return found


def _ends(seen: Sequence[Observed]) -> Floats:
    return np.array([s.end for s in seen])
