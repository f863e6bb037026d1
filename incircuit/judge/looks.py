"""Faults on the nominal board: how far from the readings they are at best, and at which magnitude."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from incircuit.circuit.elimination import Floats, Ints
from incircuit.judge.causes import Cause
from incircuit.judge.moving import aside
from incircuit.judge.observed import MOVING, WORD, Observed, scaled
from incircuit.judge.stage import Sizes, Stage, exact_on

Bools = npt.NDArray[np.bool_]

FINER = 7
"""Further magnitudes within the spans around the best, each time."""
ROUNDS = 2
MOST_NEAR, FAR_OFF = 5, 9.0
"""More spans than these are not looked at closer; if all are this far off (squared distance), then those in
which a display overloads at one end: between number and overload anything may seem to lie."""
GENEROUS = 0.08
"""Spread of a reading under a fault not drawn yet, at least: of ohms as a part, of volts with a quarter of
it on top [V]."""
LEAKAGE, LEAKAGE_FROM = 1.0, 1e5
"""Above so many ohms a reading may be the leakage of junctions: its logarithm spreads by this."""
AGAIN = 0.1
"""What a further reading of leakage counts beside the worst one."""
MOST_SPREAD = 2.0
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


def distances_all(looks: Sequence[Look], seen: Sequence[Observed], rows: bool = False) -> list[Floats]:
    """Squared distance of each span of magnitudes of each look, or of each of the `rows`; all looks allow the
    same spread."""
    if not looks:
        return []
    return distances_of([k.nominal for k in looks], seen, looks[0].spread,
                        [k.cause.sized and not rows for k in looks])


def nearest(looks: Sequence[Look], seen: Sequence[Observed]) -> list[float]:
    """Squared distance of each look at its best."""
    return [float(d.min()) for d in distances_all(looks, seen)]


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
    return LEAKAGE if may_leak(s) else part


def distances_to(nominal: Floats, seen: Sequence[Observed], scale: Floats, sized: bool) -> Floats:
    """Least squared distance of the readings from each span of magnitudes, or from each magnitude."""
    return distances_of([nominal], seen, scale, [sized])[0]


def distances_of(nominal: Sequence[Floats], seen: Sequence[Observed], scale: Floats,
                 sized: Sequence[bool]) -> list[Floats]:
    """The same for many faults at once.

    The leakage of one junction puts many readings off at once: of those that may be leakage the worst counts,
    the others little.
    """
    low, high, ends = _spans(nominal, sized)
    squared = _squared(low, high, seen, scale)
    may = [i for i, s in enumerate(seen) if may_leak(s)]
    total = squared[[i for i in range(len(seen)) if i not in may]].sum(axis=0)
    leaks = np.zeros(len(total))
    for i in may:
        total += AGAIN * np.minimum(leaks, squared[i])
        leaks = np.maximum(leaks, squared[i])
    return np.split(total + leaks, ends)


def _spans(nominal: Sequence[Floats], sized: Sequence[bool]) -> tuple[Floats, Floats, Ints]:
    """Both ends of every span, (readings, spans of all faults), and where the spans of a fault end."""
    low = [x[:, :-1] if s else x for x, s in zip(nominal, sized, strict=True)]
    high = [x[:, 1:] if s else x for x, s in zip(nominal, sized, strict=True)]
    ends = np.cumsum([x.shape[1] for x in low[:-1]], dtype=np.intp)
    return np.concatenate(low, axis=1), np.concatenate(high, axis=1), ends


def _squared(low: Floats, high: Floats, seen: Sequence[Observed], scale: Floats) -> Floats:
    """(readings, spans) squared distance of every reading by itself."""
    least, most = np.minimum(low, high), np.maximum(low, high)
    off = np.empty_like(least)
    for i, s in enumerate(seen):
        if s.value is None:
            nearly = np.sqrt(aside(most[i])) if s.mode == MOVING else 0.0
            off[i] = np.where(most[i] > 0.85 * s.end, nearly, HOPELESS)
            continue
        value, reach = scaled(np.array([s.value, abs(s.value) + s.error + s.rounding]), s.mode).tolist()
        one, other = scaled(least[i], s.mode), scaled(most[i], s.mode)
        with np.errstate(invalid="ignore"):
            off[i] = np.maximum(0.0, np.maximum(one - value, value - other)) / (scale[i] + reach - abs(value))
    # NaN is far, as is infinite where a number was read
    return np.asarray(np.where(off <= HOPELESS, off, HOPELESS) ** 2)


def may_leak(s: Observed) -> bool:
    """Whether a reading is a number so high that leakage may decide it."""
    return s.value is not None and s.value > LEAKAGE_FROM and s.mode.startswith(("ohms", "cont"))


def within_reach(nominal: Sequence[Floats], seen: Sequence[Observed], scale: Floats,
                 sized: Sequence[bool]) -> list[Bools]:
    """Of each fault the magnitudes, or spans of them, where no reading is hopeless.

    Leakage may read anything, so it never is.
    """
    low, high, ends = _spans(nominal, sized)
    off = _squared(low, high, seen, scale)
    most = np.maximum(low, high)
    held = (off < HOPELESS**2) | np.isnan(most)
    for i, s in enumerate(seen):
        if not s.mode.startswith(("diode", "volts", "beep", WORD)):
            held[i] |= most[i] > LEAKAGE_FROM
        if s.value is None:  # nominal boards need not overload where others do
            held[i] |= most[i] > NEAR_END * s.end
    return np.split(held.all(axis=0), ends)


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
        more = [_closer(look, d) for look, d in zip(now, distances_all(now, seen), strict=True)]
        extra = exact_on(stage, [(look.cause, m) for look, m in zip(now, more, strict=True)], 0, healthy,
                         [look.moves for look in now])
        now = [_merged(look, m, e[:, :, 0]) for look, m, e in zip(now, more, extra, strict=True)]
        least = nearest(now, seen)
        limit = limit_of(least, CLOSE_BEHIND, at_rest)
        now = [look for look, d in zip(now, least, strict=True) if d <= limit]
    return now


def _closer(look: Look, distances: Floats) -> Sizes:
    """Further magnitudes inside the spans that come nearest to the readings, by the spans' distances."""
    if not look.cause.sized:
        return ()
    near = np.flatnonzero(distances <= distances.min() + 4.0)
    if len(near) > MOST_NEAR:  # the readings hardly tell its size, or a display overloads on the way
        over = np.isinf(look.nominal)
        crossing = (over[:, near] != over[:, near + 1]).any(axis=0)
        near = near[crossing & (distances.min() > FAR_OFF)]
    if len(near) > MOST_NEAR:
        return ()
    found: list[float] = []
    for k in near:
        low, high = float(look.sizes[k] or 0.0), float(look.sizes[k + 1] or 0.0)
        found += [float(m) for m in np.geomspace(low, high, FINER + 2)[1:-1]]
    return tuple(found)


def best_rows(looks: Sequence[Look], seen: Sequence[Observed]) -> list[int]:
    """The magnitude of each nearest to the readings: boards are drawn there."""
    near = [np.flatnonzero(d <= d.min() + 1.0) for d in distances_all(looks, seen, rows=True)]
    return [int(n[len(n) // 2]) for n in near]


def _merged(look: Look, more: Sizes, extra: Floats) -> Look:
    if not more:
        return look
    every = [float(m or 0.0) for m in (*look.sizes, *more)]
    order = np.argsort(every, kind="stable")
    nominal = np.concatenate([look.nominal, extra], axis=1)[:, order]
    return Look(look.cause, look.moves, tuple(every[k] for k in order), nominal, look.spread)
