"""Find the hypotheses that explain all readings: a coarse look at every fault, then a fine one at the few.

Readings that do not change under a fault say nothing about it; such hypotheses keep the likelihood of
the healthy board (or of the first fault) and the prior decides, as it should.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.judge.causes import Cause, magnitudes, span_weights
from incircuit.judge.joint import Fit, Observed, joint_fit
from incircuit.judge.scenes import Scene
from incircuit.judge.stage import Plan, exact_of

COARSE = 13
"""Magnitudes of the first look, over the whole range."""
FINE = 17
"""Magnitudes of the second, over the spans around the best."""
FIRST_BOARDS = 96
BOARDS = 96
KEPT_BEHIND = 16.0
"""Natural log units a hypothesis may lie behind the best after the first look and still be kept."""
MOST_KEPT = 28
SAME = 1e-6
"""Relative change of a reading below which a fault changes nothing."""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A cause with its evidence. `size` is its likeliest magnitude [ohm or factor], `band` what else
    fits. `silent`: no reading changes with it. `cause` None is the board without a (further) fault.
    """

    cause: Cause | None
    fit: Fit
    size: float | None = None
    band: tuple[float, float] | None = None
    silent: bool = False


def weigh_all(scenes: Sequence[Scene], seen: Sequence[Observed], causes: Sequence[Cause],
              circuits: Sequence[Circuit] | None = None, floor: float = -math.inf) -> tuple[Weighed, ...]:
    """The board as it is first, then every cause in order.

    `circuits` are the scenes' own with an earlier fault in them. Causes whose first look stays below
    `floor` (log likelihood) get no second.
    """
    healthy, _ = exact_of(scenes, (), FIRST_BOARDS, circuits)
    base = joint_fit(healthy, seen, np.ones(1), False)
    plans: list[Plan] = [(cause, magnitudes(cause, COARSE)) for cause in causes]
    _, nominal = exact_of(scenes, plans, 0, circuits)
    rough: list[Fit | None] = []
    for (cause, sizes), exact in zip(plans, nominal, strict=True):
        if _same(exact, healthy[:, :, :1]):
            rough.append(None)
        else:
            drawn = _like_healthy(exact, healthy)
            rough.append(joint_fit(drawn, seen, span_weights(cause, sizes), cause.sized))
    kept = _kept(rough, base, floor)
    fine = _fine(scenes, seen, [(plans[k], rough[k]) for k in kept], circuits)
    found = [Weighed(None, base)]
    for k, cause in enumerate(causes):
        first = rough[k]
        if first is None:
            found.append(Weighed(cause, base, silent=True))
        elif k in kept:
            found.append(fine[kept.index(k)])
        else:
            found.append(Weighed(cause, first, plans[k][1][first.row]))
    return tuple(found)


def _same(exact: Floats, healthy: Floats) -> bool:
    """Whether no reading changes at any magnitude."""
    both = np.isinf(exact) & np.isinf(healthy)
    with np.errstate(invalid="ignore"):
        close = np.isfinite(healthy) & (np.abs(exact - healthy) <= SAME * (np.abs(healthy) + 1e-3))
    return bool(np.all(both | close))


def _like_healthy(exact: Floats, healthy: Floats) -> Floats:
    """Boards for a condition known only at its nominal: those of the healthy board, in proportion.

    Where the healthy reading is OL nothing is known of the spread: 5 % stand for it, alternating.
    """
    boards = healthy.shape[2]
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = healthy / healthy[:, :, :1]
    stand_in = 1.0 + 0.05 * np.cos(np.arange(boards) * math.pi) * (np.arange(boards) > 0)
    usable = np.isfinite(ratio) & (ratio > 0.2) & (ratio < 5.0)
    return np.asarray(exact * np.where(usable, ratio, stand_in))


def _kept(rough: Sequence[Fit | None], base: Fit, floor: float) -> list[int]:
    """Numbers of the causes worth a fine look."""
    scores = {k: f.log_likelihood for k, f in enumerate(rough) if f is not None}
    least = max(floor, max([base.log_likelihood, *scores.values()]) - KEPT_BEHIND)
    ranked = sorted(scores, key=lambda k: (-scores[k], k))[:MOST_KEPT]
    return [k for k in ranked if scores[k] >= least]


def _fine(scenes: Sequence[Scene], seen: Sequence[Observed], few: Sequence[tuple[Plan, Fit | None]],
          circuits: Sequence[Circuit] | None) -> list[Weighed]:
    """The kept causes on drawn boards, at magnitudes around the likeliest, twice closer each time."""
    plans = [_closer(plan, fit) for plan, fit in few]
    fits: list[Fit] = []
    for boards in (24, BOARDS):
        _, exacts = exact_of(scenes, plans, boards, circuits)
        fits = [joint_fit(exact, seen, span_weights(cause, sizes), cause.sized)
                for (cause, sizes), exact in zip(plans, exacts, strict=True)]
        if boards != BOARDS:
            plans = [_closer(plan, fit) for plan, fit in zip(plans, fits, strict=True)]
    found = []
    for (cause, sizes), exact, fit in zip(plans, exacts, fits, strict=True):
        band = _band(exact, seen, sizes) if cause.sized else None
        found.append(Weighed(cause, fit, _size(sizes, fit, cause.sized), band))
    return found


def _closer(plan: Plan, fit: Fit | None) -> Plan:
    """The magnitudes of the spans around the likeliest, `FINE` of them."""
    cause, sizes = plan
    if not cause.sized or fit is None:
        return plan
    low = sizes[max(0, fit.row - 1)]
    high = sizes[min(len(sizes) - 1, fit.row + 2)]
    if low is None or high is None:
        return plan
    return cause, tuple(float(m) for m in np.geomspace(low, high, FINE))


def _size(sizes: Sequence[float | None], fit: Fit, sized: bool) -> float | None:
    here = sizes[fit.row]
    if here is None or not sized:
        return here
    after = sizes[min(fit.row + 1, len(sizes) - 1)] or here
    return float(here * (after / here) ** fit.place)


def _band(exact: Floats, seen: Sequence[Observed], sizes: Sequence[float | None]) -> tuple[float, float] | None:
    """The magnitudes at which every reading fits by itself."""
    fitting = [m for k, m in enumerate(sizes) if m is not None
               and joint_fit(exact[:, k:k + 1], seen, np.ones(1), False).fits]
    return (min(fitting), max(fitting)) if fitting else None
