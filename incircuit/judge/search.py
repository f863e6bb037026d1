"""Find the hypotheses that explain all readings: every fault on the nominal board, the few on drawn ones.

First each fault at its most severe: where no reading moves, it is silent, keeps the likelihood of the
board without it and the prior decides, as it should. Then some magnitudes of the others, with generous
limits; only what may fit is looked at closely, ever closer around its likeliest magnitude, and drawn.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.causes import Cause, magnitudes, severe, span_weights
from incircuit.judge.evidence import Evidence, at_the_edge, on_its_range, spread_out, together_of
from incircuit.judge.joint import Fit, nothing_fits
from incircuit.judge.leakage import sealed
from incircuit.judge.looks import (
    BESIDE_REST,
    CLOSE,
    LEAST_KEPT,
    Bools,
    Look,
    best_rows,
    distances_of,
    generous,
    least_spread,
    limit_of,
    nearest,
    refined,
    score_of,
    within_reach,
)
from incircuit.judge.observed import Observed
from incircuit.judge.reference import narrowed
from incircuit.judge.stage import (
    Plan,
    Stage,
    changed,
    exact_on,
    healthy_on,
    on_range_alone,
    prepare,
    stage_of,
)

COARSE = 11
"""Magnitudes of the first look, over the whole range."""
BOARDS = 64
SAME = 1e-6
"""Relative change of a reading below which a fault changes nothing."""
BEHIND = 36.0
"""How far a fault may lie behind the best after the first look (squared distance)."""
MOST_KEPT = 40
FEW = 8
"""Of so few causes all magnitudes of the first look are solved at once: there calls cost, not arithmetic."""


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
              most: int = MOST_KEPT, whole: bool = False) -> tuple[Weighed, ...]:
    """The board as it is first, then every cause in order; for `most` causes boards are drawn.

    `whole`: only what may explain all readings matters, see `weigh_whole`.
    """
    few = len(causes) <= FEW
    prepare(stage, [(c, (*severe(c), *magnitudes(c, COARSE)) if few else severe(c)) for c in causes], BOARDS)
    healthy = healthy_on(stage, BOARDS)
    own = _evidence(stage, seen, None, healthy[:, :1], healthy, None)
    base = own.fit(seen)
    found: dict[int, Weighed] = {}
    scale = generous(healthy, seen)
    at_rest = score_of(healthy, seen, scale) if base.fits else -math.inf
    moved, near = _moved(stage, seen, causes, healthy, scale, at_rest)
    for k in moved:
        found[k] = Weighed(causes[k], nothing_fits(len(seen)))
    loud = [k for k in moved if k in near]
    plans: list[Plan] = [(causes[k], magnitudes(causes[k], COARSE)) for k in loud]
    nominal = [e[:, :, 0] for e in exact_on(stage, plans, 0, healthy, [moved[k] for k in loud])]
    kept = _kept(nominal, seen, scale, [causes[k].sized for k in loud], at_rest, whole)
    close = np.maximum(0.5 * scale, [least_spread(s, CLOSE) for s in seen])
    looks = [Look(causes[loud[i]], moved[loud[i]], plans[i][1], nominal[i], close) for i in kept]
    for look, weighed in _drawn(stage, seen, refined(stage, seen, looks, healthy, base.fits), healthy, most):
        found[causes.index(look.cause)] = weighed
    silent = (Weighed(c, base, own, silent=True) for c in causes)
    return (Weighed(None, base, own), *(found.get(k, s) for k, s in enumerate(silent)))


def weigh_whole(stage: Stage, seen: Sequence[Observed], causes: Sequence[Cause], misses: Sequence[float],
                most: int) -> tuple[Weighed, ...]:
    """Those causes that may explain all readings, weighed like `weigh_all`; the board as it is left out.

    `misses` say how far off each reading is without a further cause: where one is farthest, most causes are
    ruled out, and need not be solved elsewhere.
    """
    left = list(causes)
    held: dict[Cause, Bools] = {}
    order = sorted(range(len(stage.scenes)), reverse=True,
                   key=lambda k: max(misses[t.number] for t in stage.scenes[k].readings))
    for k in order:
        numbers = [t.number for t in stage.scenes[k].readings]
        plans: list[Plan] = [(c, severe(c)) for c in left]
        prepare(stage, plans, BOARDS, [k])
        healthy = healthy_on(stage, BOARDS, [k])
        rows = [_with_rest(c, e[numbers, :, 0], healthy[numbers, 0]) for c, e in
                zip(left, exact_on(stage, plans, 0, healthy, only=[k]), strict=True)]
        there = [seen[n] for n in numbers]
        masks = within_reach(rows, there, generous(healthy[numbers], there), [c.sized for c in left])
        for cause, mask in zip(left, masks, strict=True):
            held[cause] = held[cause] & mask if cause in held else mask
        left = [c for c in left if held[c].any()]
        if not left:
            return ()
    return tuple(w for w in weigh_all(stage, seen, left, most, whole=True)[1:] if w.evidence and not w.silent)


def _with_rest(cause: Cause, rows: Floats, healthy: Floats) -> Floats:
    """(readings, magnitudes) at the most severe magnitudes, what the board as it is reads between them."""
    return np.insert(rows, 1, healthy, axis=1) if cause.sized else rows


def _moved(stage: Stage, seen: Sequence[Observed], causes: Sequence[Cause], healthy: Floats,
           scale: Floats, at_rest: float) -> tuple[dict[int, frozenset[int]], frozenset[int]]:
    """Numbers of the causes that move any reading, at their most severe, and of the readings they move; and
    which of them may come near.

    At milder magnitudes a reading lies between that at the most severe one and that of the board as it is.
    """
    plans: list[Plan] = [(c, severe(c)) for c in causes]
    moved, rows, numbers = {}, [], []
    for k, exact in enumerate(exact_on(stage, plans, 0, healthy)):
        there = np.flatnonzero(~_same(exact, healthy[:, None, :1]))
        if len(there):
            moved[k] = frozenset(there.tolist())
            numbers.append(k)
            rows.append(_with_rest(causes[k], exact[:, :, 0], healthy[:, 0]))
    sized = [causes[k].sized for k in numbers]
    if not numbers:
        return moved, frozenset()
    least = [float(d.min()) for d in distances_of(rows, seen, scale, sized)]
    most = sorted(float(d.min()) for d in distances_of(rows, seen, scale, [False] * len(rows)))
    limit = max(most[:LEAST_KEPT][-1], most[0] + BEHIND, at_rest + BESIDE_REST)
    return moved, frozenset(k for k, d in zip(numbers, least, strict=True) if d <= limit)


def _same(exact: Floats, healthy: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Readings that no magnitude changes."""
    with np.errstate(invalid="ignore"):
        close = np.isfinite(healthy) & (np.abs(exact - healthy) <= SAME * (np.abs(healthy) + 1e-3))
    same = (np.isinf(exact) & np.isinf(healthy)) | close | np.isnan(exact)
    return np.asarray(same.all(axis=(1, 2)))


def _kept(nominal: Sequence[Floats], seen: Sequence[Observed], scale: Floats, sized: Sequence[bool],
          at_rest: float, whole: bool) -> list[int]:
    """Numbers of the faults worth a close look."""
    if not nominal:
        return []
    scores = [float(d.min()) for d in distances_of(nominal, seen, scale, sized)]
    limit = limit_of(scores, BEHIND, at_rest)
    kept = [k for k, score in enumerate(scores) if score <= limit]
    if not whole or not kept:
        return kept
    held = within_reach([nominal[k] for k in kept], seen, scale, [sized[k] for k in kept])
    return [k for k, mask in zip(kept, held, strict=True) if mask.any()]


def _drawn(stage: Stage, seen: Sequence[Observed], looks: Sequence[Look], healthy: Floats,
           most: int) -> list[tuple[Look, Weighed]]:
    """Many boards at the best magnitude of the `most` nearest looks, and what they say.

    For the others the boards of the healthy one stand, in proportion.
    """
    # ties by name: the order of a board's lines means nothing
    order = sorted(zip(nearest(looks, seen), looks, strict=True), key=lambda pair: (
        round(pair[0], 6), pair[1].cause.who, pair[1].cause.fault))
    ranked = [look for _, look in order]
    best: list[Plan] = [(look.cause, (look.sizes[row],))
                        for look, row in zip(ranked, best_rows(ranked, seen), strict=True)]
    at = best[:most]
    boards = [b[:, 0] for b in exact_on(stage, at, BOARDS, healthy, [look.moves for look in ranked[:most]])]
    found = []
    for k, look in enumerate(ranked):
        plan = at[k] if k < len(boards) else None
        drawn_ = boards[k] if plan else healthy
        evidence = _evidence(stage, seen, look, look.nominal, drawn_, plan, best[k][1][0])
        found.append((look, Weighed(look.cause, evidence.fit(seen), evidence)))
    return found


def _evidence(stage: Stage, seen: Sequence[Observed], look: Look | None, nominal: Floats, boards: Floats,
              plan: Plan | None, size: float | None = None) -> Evidence:
    """What the cause of a look, or none, says of all readings: `nominal` (readings, sizes), `boards`
    (readings, boards + 1) drawn with a plan's fault or without one; `size` its magnitude there."""
    cause, sizes = (look.cause, look.sizes) if look else (None, (None,))

    def alone(i: int) -> Floats:
        return on_range_alone(stage, i, plan if look and i in look.moves else None, BOARDS)

    def made(short: bool) -> tuple[Floats, Floats, float]:
        return on_its_range(nominal, boards, seen, alone, short)

    def evidence(there: Floats, some: Floats, standing: float) -> Evidence:
        some = at_the_edge(some, seen)
        row = sizes.index(size) if plan else None
        whole = spread_out(there, some, seen, row) if cause else some[:, None, :]
        weights = span_weights(cause, sizes) if cause else np.ones(1)
        return Evidence(narrowed(whole, seen, stage.good), sizes, weights, bool(cause and cause.sized),
                        together_of(stage, plan, some, whole, seen), _ceiling(stage, cause, size), standing)

    typed = made(False)
    found = evidence(*typed)
    if not any(s.low for s in seen):
        return found
    other = made(True)
    return found if np.array_equal(typed[1], other[1]) else replace(found, short=evidence(*other))


def _ceiling(stage: Stage, cause: Cause | None, size: float | None) -> Callable[[int], float]:
    """What a reading is with a cause and without any leak [ohm], solved where it is asked for."""
    def highest(number: int) -> float:
        k, taken = next((k, t) for k, s in enumerate(stage.scenes) for t in s.readings if t.number == number)
        scene, now = stage.scenes[k], stage.circuits[k]
        if not scene.resting:
            return math.inf
        faulty = changed(stage.notes, scene, now, cause, size) if cause else now
        circuit = stage.notes.page(stage.notes.key(faulty)).once("sealed", lambda: sealed(faulty))
        alone = stage_of([replace(scene, readings=(replace(taken, number=0),))], stage.notes, [circuit])
        return float(healthy_on(alone, 0)[0, 0])
    return highest
