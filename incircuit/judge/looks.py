"""Faults on the nominal board: how far from the readings they are at best, and at which magnitude."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.causes import Cause
from incircuit.judge.joint import WORD, Observed, scaled
from incircuit.judge.stage import Sizes, Stage, exact_on

FINER = 7
"""Further magnitudes within the spans around the best, each time."""
ROUNDS = 2
GENEROUS = 0.08
"""Spread of a reading under a fault not drawn yet, at least: of ohms as a part, of volts with a quarter of
it on top [V]."""
LEAKAGE, LEAKAGE_FROM = 0.6, 1e5
"""Above so many ohms a reading may be the leakage of junctions: its logarithm spreads by this."""
AGAIN = 0.1
"""What a further reading of leakage counts beside the worst one."""
MOST_SPREAD = 1.5
HOPELESS = 6.0
"""Distance at most counted for one reading in the first look, in such spreads."""
NEAR_END = 0.6
"""Part of a mode's end from which boards may overload though the nominal one does not."""
LEAST_KEPT = 6
"""The nearest faults are looked at closely however far they lie: one may explain its part beside another."""
BESIDE_REST = 16.0
"""How far a fault may lie behind the board without one, where that explains all (squared distance): the first
look goes by nominal boards, drawn ones may explain more."""
CLOSE = 0.04
"""Spread of a reading, as a part of it, while magnitudes are narrowed down …"""
CLOSE_BEHIND = 40.0
"""… and how far a fault may then lie behind the best (squared distance)."""


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
        return distances_to(self.nominal, seen, self.spread, self.cause.sized and not rows)


def generous(healthy: Floats, seen: Sequence[Observed], least: float = GENEROUS) -> Floats:
    """Spread of each reading on its scale: the healthy board's, and no less than it may be under a fault."""
    found = np.empty(len(seen))
    for i, s in enumerate(seen):
        finite = healthy[i][np.isfinite(healthy[i])]
        on_scale = scaled(finite, s.mode)
        worst = float(np.abs(on_scale - on_scale[:1]).max()) if len(finite) else 0.0
        found[i] = np.clip(worst, least_spread(s, least), MOST_SPREAD)
    return found


def least_spread(s: Observed, part: float) -> float:
    """What a reading spreads at least, on its scale: by a part of itself, by more where leakage is read."""
    if s.value is None:
        return part
    if s.mode.startswith(("diode", "volts")):
        return part * abs(s.value) + 0.25 * part
    return LEAKAGE if _may_leak(s) else part


def distances_to(nominal: Floats, seen: Sequence[Observed], scale: Floats, sized: bool) -> Floats:
    """Least squared distance of the readings from each span of magnitudes, or from each magnitude.

    The leakage of one junction puts many readings off at once: of those that may be leakage the worst counts,
    the others little.
    """
    low, high = (nominal[:, :-1], nominal[:, 1:]) if sized else (nominal, nominal)
    total, leaks = np.zeros(low.shape[1]), np.zeros(low.shape[1])
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
        squared = np.where(np.isnan(low[i]) | np.isnan(high[i]), HOPELESS, off) ** 2
        if _may_leak(s):
            total += AGAIN * np.minimum(leaks, squared)
            leaks = np.maximum(leaks, squared)
        else:
            total += squared
    return np.asarray(total + leaks)


def _may_leak(s: Observed) -> bool:
    return s.value is not None and s.value > LEAKAGE_FROM and s.mode.startswith(("ohms", "cont"))


def within_reach(nominal: Floats, seen: Sequence[Observed], scale: Floats, sized: bool) -> bool:
    """Whether at some magnitude no reading is hopeless. Leakage may read anything, so it never is."""
    low, high = (nominal[:, :-1], nominal[:, 1:]) if sized else (nominal, nominal)
    held = np.ones(low.shape[1], dtype=np.bool_)
    for i, s in enumerate(seen):
        leaks = np.zeros_like(held)
        if not s.mode.startswith(("diode", "volts", "beep", WORD)):
            leaks = np.maximum(low[i], high[i]) > LEAKAGE_FROM
        unknown = np.isnan(low[i]) | np.isnan(high[i])
        off = distances_to(nominal[i:i + 1], [s], scale[i:i + 1], sized)
        if s.value is None:  # nominal boards need not overload where others do
            off = np.where(np.maximum(low[i], high[i]) > NEAR_END * s.end, 0.0, off)
        held &= leaks | unknown | (off < HOPELESS**2)
        if not held.any():
            return False
    return True


def score_of(healthy: Floats, seen: Sequence[Observed], scale: Floats) -> float:
    """Squared distance of the readings from the nominal board without a fault."""
    return float(distances_to(healthy[:, :1], seen, scale, False)[0])


def limit_of(scores: Sequence[float], behind: float, at_rest: float = -math.inf) -> float:
    """Score up to which faults are kept: so far behind the best, or that of the last of the nearest few.

    `at_rest` is the score of the board without a fault where that explains all: what comes as near is kept.
    """
    ranked = sorted(scores)[:LEAST_KEPT]
    return max(ranked[0] + behind, ranked[-1], at_rest + BESIDE_REST) if ranked else 0.0


def refined(stage: Stage, seen: Sequence[Observed], looks: Sequence[Look], healthy: Floats,
            rests: bool = False) -> list[Look]:
    """Looks with further magnitudes in the spans that come nearest to the readings; the few nearest ones.

    `rests`: the board without a fault explains all.
    """
    now = list(looks)
    at_rest = score_of(healthy, seen, now[0].spread) if rests and now else -math.inf
    for _ in range(ROUNDS):
        more = [_closer(look, seen) for look in now]
        extra = exact_on(stage, [(look.cause, m) for look, m in zip(now, more, strict=True)], 0, healthy,
                         [look.moves for look in now])
        now = [_merged(look, m, e[:, :, 0]) for look, m, e in zip(now, more, extra, strict=True)]
        least = [float(look.distances(seen).min()) for look in now]
        limit = limit_of(least, CLOSE_BEHIND, at_rest)
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


def best_row(look: Look, seen: Sequence[Observed]) -> int:
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
