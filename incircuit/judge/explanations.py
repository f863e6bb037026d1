"""Complete explanations of the story: healthy, one fault, two faults, or a slip of the hand beside them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from incircuit.judge.causes import TEMPER, Cause, total_weight
from incircuit.judge.evidence import LEAK_MISS, Evidence
from incircuit.judge.explanation import Explanation, clipped, failed_in, likeliest, log_prior
from incircuit.judge.joint import FAR, Fit, chi_squared
from incircuit.judge.looks import LEAKAGE_FROM
from incircuit.judge.observed import Observed
from incircuit.judge.pairs import pairs_of
from incircuit.judge.search import Weighed, weigh_all
from incircuit.judge.slips import at_most, one_charge, slips_for
from incircuit.judge.stage import Stage, with_cause

TOLD = 0.01
"""Below this probability nobody asks for the magnitudes of a fault."""
SLIPS_TRIED = 6
UNLIKELY = 5.0
"""Slips this far behind a fault that explains all (natural log units) are not gone into."""
MOST_SLIPS = 2
"""Readings of one story that may be slips, and no more than a third of them."""
FIRST_OF_PAIR = 5
"""Faults tried as the first of two …"""
FIRST_IF_STRAINED, STRAINED, SELDOM = 2, 2.5, 1.645
"""… and where one explains all but leaves a reading further off than this (standard deviations), or all of
them together as far off as one board in twenty (quantile of the normal distribution)."""


def explanations(stage: Stage, seen: Sequence[Observed],
                 causes: Sequence[Cause]) -> tuple[tuple[Explanation, ...], tuple[Weighed, ...]]:
    """All explanations weighed, those that fit first, most probable first; and each single cause's evidence.

    Where a single fault explains all readings, pairs of faults are tried if it leaves one of them far off,
    and slips of the hand on the healthy board; else every pair and slip.
    """
    weighed = weigh_all(stage, seen, causes)
    total = total_weight(causes)
    found = [_of_single(w, total) for w in weighed]
    fitting = [e for e in found if e.fits]
    if not fitting:
        found += _slips(stage, seen, weighed, total)
        found += _one_charge(stage, seen, weighed[0], total)
        found += pairs_of(stage, seen, causes, weighed, total, FIRST_OF_PAIR)
    else:
        lead = max(fitting, key=lambda e: e.log_weight)
        if not weighed[0].fit.fits:
            least = lead.log_weight - UNLIKELY
            found += [e for e in _one_charge(stage, seen, weighed[0], total) if e.log_weight >= least]
            found += _slips(stage, seen, weighed[:1], total, least)
        if lead.faults and (_strain(lead.fit, seen) > STRAINED or _far_in_all(lead.fit, seen)):
            found += pairs_of(stage, seen, causes, weighed, total, FIRST_IF_STRAINED)
    by_cause = {id(w.cause): w for w in weighed}
    return tuple(_with_band(e, by_cause, seen) for e in _normalised(found)), weighed


def _strain(fit: Fit, seen: Sequence[Observed]) -> float:
    """How far off a fit leaves the worst reading; what leakage may decide does not count."""
    return max((m for m, s in zip(fit.misses, seen, strict=True) if m != LEAK_MISS and s.value is not None
                and (s.value < LEAKAGE_FROM or not s.mode.startswith("ohms"))), default=0.0)


def _far_in_all(fit: Fit, seen: Sequence[Observed]) -> bool:
    """Whether all numbers together lie as far off as seldom."""
    return fit.distance > chi_squared(max(1, sum(s.value is not None for s in seen)), SELDOM)


def _with_band(e: Explanation, weighed: Mapping[int, Weighed], seen: Sequence[Observed]) -> Explanation:
    """A single fault worth telling, with the magnitudes that fit."""
    if len(e.faults) != 1 or e.probability < TOLD or e.silent or not e.fits or e.slips:
        return e
    (fault,) = e.faults
    evidence = weighed[id(fault.cause)].evidence
    return replace(e, faults=(replace(fault, band=evidence.band(seen, e.fit)),)) if evidence else e


def _of_single(w: Weighed, total: float) -> Explanation:
    weight = log_prior(w.cause, total) + w.fit.log_likelihood
    return Explanation(failed_in(w, w.fit), (), w.fit, weight, w.silent)


def _slips(stage: Stage, seen: Sequence[Observed], weighed: Sequence[Weighed], total: float,
           least: float = -math.inf) -> Iterator[Explanation]:
    """Single faults and the healthy board with one or two readings that were not what they seem.

    What can have no log weight of `least` is left out.
    """
    loud = [w for w in weighed if w.evidence and not w.silent]
    ranked = sorted(loud, key=likeliest)[:SLIPS_TRIED]
    for w in ranked:
        assert w.evidence is not None
        for without, fit in _leaving_out(w.evidence, seen):
            if log_prior(w.cause, total) + fit.log_likelihood + at_most(stage.scenes, without) < least:
                continue
            size = w.evidence.size(fit)
            circuits = with_cause(stage, w.cause, size) if w.cause else stage.circuits
            whole = slips_for(stage.scenes, circuits, without, stage.notes)
            if whole is not None:
                slips, gained = whole
                weight = log_prior(w.cause, total) + fit.log_likelihood + gained
                yield Explanation(failed_in(w, fit), slips, fit, weight)


def _one_charge(stage: Stage, seen: Sequence[Observed], healthy: Weighed, total: float) -> list[Explanation]:
    """The healthy board with a charge on one capacitor that falsified every reading it does not explain."""
    off = tuple(i for i, miss in enumerate(healthy.fit.misses) if miss > FAR)
    if not off or healthy.evidence is None or (len(off) == 1 < len(seen)):  # a single one is a slip as any
        return []
    fit = healthy.evidence.fit(seen, off) if len(off) < len(seen) else Fit(0.0, 0, 0.0, (0.0,) * len(seen))
    one = one_charge(stage.scenes, stage.circuits, off, stage.notes) if fit.fits else None
    if one is None:
        return []
    return [Explanation((), one[0], fit, log_prior(None, total) + fit.log_likelihood + one[1])]


def _leaving_out(evidence: Evidence, seen: Sequence[Observed]) -> Iterator[tuple[tuple[int, ...], Fit]]:
    """Readings without which the others fit, fewest first, and that fit."""
    count = len(seen)
    if count < 2:
        return
    alone = [((i,), evidence.fit(seen, (i,))) for i in range(count)]
    fitting = [one for one in alone if one[1].fits]
    if fitting or count < MOST_SLIPS * 3:
        yield from fitting
        return
    first = min(alone, key=lambda one: clipped(one[1]))[0][0]
    for i in range(count):
        if i != first:
            fit = evidence.fit(seen, (first, i))
            if fit.fits:
                yield tuple(sorted((first, i))), fit


def _normalised(found: Sequence[Explanation]) -> tuple[Explanation, ...]:
    """Probabilities over what fits; over everything where nothing does."""
    counted = [e for e in found if e.fits] or list(found)
    if not math.isfinite(max((e.log_weight for e in counted), default=0.0)):
        return tuple(found)
    shares = [_shares(counted, power) for power in (1.0, 1.0 / TEMPER, 0.0)]
    shared = [replace(e, probability=shares[0].get(id(e), 0.0), by_rates=shares[1].get(id(e), 0.0),
                      flat=shares[2].get(id(e), 0.0)) for e in found]
    return tuple(sorted(shared, key=lambda e: (not e.fits, -e.probability, -e.log_weight)))


def _shares(counted: Sequence[Explanation], power: float) -> dict[int, float]:
    """Probabilities with the weights of single faults to a power, those of all together kept."""
    causes = {id(f.cause): f.cause for e in counted for f in e.faults}
    logs = {id(e): e.log_weight + (power - 1.0) * sum(math.log(f.cause.weight) for f in e.faults)
            for e in counted}
    if causes:  # or flat weights would weigh against the healthy board
        mean = sum(math.log(c.weight) for c in causes.values()) / len(causes)
        for e in counted:
            logs[id(e)] -= (power - 1.0) * mean * len(e.faults)
    top = max(logs.values())
    total = sum(math.exp(x - top) for x in logs.values())
    return {key: math.exp(x - top) / total for key, x in logs.items()}
