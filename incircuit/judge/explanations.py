"""Complete explanations of the story: healthy, one fault, two faults, or a slip of the hand beside them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace

from incircuit.judge.causes import TEMPER, Cause, total_weight
from incircuit.judge.evidence import LEAK_MISS, Evidence
from incircuit.judge.joint import FAR, Fit, chi_squared
from incircuit.judge.looks import LEAKAGE_FROM
from incircuit.judge.observed import Observed
from incircuit.judge.search import Weighed, weigh_all, weigh_whole
from incircuit.judge.slips import Slip, at_most, slips_for
from incircuit.judge.stage import Stage, on_circuits, with_cause

HEALTHY = 0.25
"""Of the neighbourhoods read on dead boards, so many are healthy (assumption)."""
PAIR = 0.1
"""Prior of a second fault beside a first: what fails in a power stage seldom fails alone (assumption)."""
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
SECOND_KEPT = 8
"""Faults looked at closely as the second of two, for each first."""
CLIPPED = 30.0
"""A reading that a fault leaves unexplained counts at most this much (squared deviations)."""


@dataclass(frozen=True, slots=True)
class Failed:
    """One fault of an explanation: `size` [ohm or factor] is the likeliest, `band` what else fits."""

    cause: Cause
    size: float | None
    band: tuple[float, float] | None


    @property
    def rounded(self) -> float | None:
        """The size to an eighth of what else fits: the same for stories that tell it alike."""
        if self.size is None or self.band is None:
            return self.size
        low, high = self.band
        step = 2.0 ** math.ceil(math.log2(max(math.log(high / low) / 8.0, 1e-3)))
        return math.exp(step * round(math.log(self.size) / step))


@dataclass(frozen=True, slots=True)
class Explanation:
    """What may be the case, with its posterior probability.

    `faults` is empty for the healthy board, `slips` say which readings were not what they seem.
    `silent`: no reading changes with its faults. `log_weight` is prior times likelihood, natural log;
    `by_rates` is the probability with the handbook's rates as they are, not tempered, `flat` that with
    every fault as frequent as any other.
    """

    faults: tuple[Failed, ...]
    slips: tuple[Slip, ...]
    fit: Fit
    log_weight: float
    silent: bool = False
    probability: float = 0.0
    by_rates: float = 0.0
    flat: float = 0.0

    @property
    def fits(self) -> bool:
        """Whether it explains every reading."""
        return self.fit.fits


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
        found += _pairs(stage, seen, causes, weighed, total, FIRST_OF_PAIR)
    else:
        lead = max(fitting, key=lambda e: e.log_weight)
        if not weighed[0].fit.fits:
            found += _slips(stage, seen, weighed[:1], total, lead.log_weight - UNLIKELY)
        if lead.faults and (_strain(lead.fit, seen) > STRAINED or _far_in_all(lead.fit, seen)):
            found += _pairs(stage, seen, causes, weighed, total, FIRST_IF_STRAINED)
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
    weight = _prior(w.cause, total) + w.fit.log_likelihood
    return Explanation(_failed(w, w.fit), (), w.fit, weight, w.silent)


def _prior(cause: Cause | None, total: float) -> float:
    """Log prior of a single cause; of the healthy board for None."""
    if cause is None:
        return math.log(HEALTHY)
    return math.log((1.0 - HEALTHY) * cause.weight / total + 1e-300)


def _failed(w: Weighed, fit: Fit) -> tuple[Failed, ...]:
    if w.cause is None:
        return ()
    size = None if w.silent or w.evidence is None else w.evidence.size(fit)
    return (Failed(w.cause, size, None),)


def _pairs(stage: Stage, seen: Sequence[Observed], causes: Sequence[Cause],
           weighed: Sequence[Weighed], total: float, most: int) -> Iterator[Explanation]:
    """Pairs whose first fault explains some readings that the healthy board does not.

    Beside the likeliest first fault every other is tried; beside the next ones only what shows by itself.
    """
    at_rest = weighed[0].fit.misses
    drawn = [w for w in weighed[1:] if w.evidence and not w.silent and _helps(w.fit.misses, at_rest)]
    ranked = _told_apart(sorted(drawn, key=_likeliest))[:most]
    silent = {id(w.cause) for w in weighed[1:] if w.silent}
    tried: set[str] = set()
    for k, alike in enumerate(ranked):
        for first, part in _tries(alike):
            others = [c for c in causes if (c.who == part if part else not c.part or c.who != _who(first))
                      and (not k or id(c) not in silent)]
            for pair, names in _beside_first(stage, seen, first, others, alike, total, tried):
                tried |= names
                yield from pair


def _who(w: Weighed) -> str:
    return w.cause.who if w.cause else ""


def _tries(alike: Sequence[Weighed]) -> Iterator[tuple[Weighed, str]]:
    """A first fault to try all others beside but its own part's; and one like it, of another part, to try
    that part's beside."""
    yield alike[0], ""
    other = next((w for w in alike if _who(w) != _who(alike[0])), None)
    if other and _who(alike[0]):
        yield other, _who(alike[0])


def _beside_first(stage: Stage, seen: Sequence[Observed], first: Weighed, others: Sequence[Cause],
                  alike: Sequence[Weighed], total: float,
                  tried: Set[str]) -> Iterator[tuple[list[Explanation], set[str]]]:
    """Pairs of a first fault and what explains the rest beside it, by every name the first goes by."""
    assert first.cause is not None
    size, misses = _robust(first, seen)
    beside = on_circuits(stage, with_cause(stage, first.cause, size))
    for second in weigh_whole(beside, seen, others, misses, SECOND_KEPT):
        cause = second.cause
        if cause is None or not second.fit.fits:
            continue
        by_name = {_pair_name(w, cause): w for w in (first, *alike) if not _who(w) or _who(w) != cause.who}
        new = {name: w for name, w in by_name.items() if name not in tried}
        if new:
            pair = _pair(stage, seen, first, size, second, total)
            yield [_renamed(pair, first, w) for w in new.values()], set(new)


def _pair_name(one: Weighed, other: Cause) -> str:
    assert one.cause is not None
    return " + ".join(sorted(f"{c.who} {c.fault}" for c in (one.cause, other)))


def _told_apart(ranked: Sequence[Weighed]) -> list[list[Weighed]]:
    """Those that read otherwise than the ones before, each with its like: one circuit by several names."""
    found: dict[tuple[float, ...], list[Weighed]] = {}
    for w in ranked:
        found.setdefault(tuple(round(m, 3) for m in w.fit.misses), []).append(w)
    return list(found.values())


def _helps(misses: Sequence[float], at_rest: Sequence[float]) -> bool:
    """Whether a fault changes a reading that is far off without it."""
    return any(there > FAR and math.isfinite(here) and not math.isclose(here, there, rel_tol=1e-3)
               for here, there in zip(misses, at_rest, strict=True))


def _robust(w: Weighed, seen: Sequence[Observed]) -> tuple[float | None, tuple[float, ...]]:
    """The magnitude that leaves fewest readings open, and how far off it leaves each.

    The best fit leaves all of them a little.
    """
    assert w.evidence is not None
    if not w.evidence.sized or len(seen) < 3 or w.fit.fits:
        return w.size, w.fit.misses
    best = min(w.evidence.at_each(seen), key=lambda f: (sum(m > FAR for m in f.misses), _clipped(f)))
    return w.evidence.sizes[best.row], best.misses


def _pair(stage: Stage, seen: Sequence[Observed], one: Weighed, size: float | None, second: Weighed,
          total: float) -> Explanation:
    """The pair with the first fault's magnitude found again beside the second: neither is known."""
    assert one.cause is not None
    assert second.cause is not None
    first, fit, band, unknown = one.cause, second.fit, None, one.fit.unknown
    if first.sized:
        circuits = with_cause(stage, second.cause, second.size)
        again = weigh_all(on_circuits(stage, circuits), seen, [first])[1]
        if again.evidence and again.fit.fits:
            unknown, band = again.fit.unknown, again.evidence.band(seen, again.fit)
            if again.fit.peak > fit.peak:
                fit, size = again.fit, again.size
    likelihood = fit.peak + unknown + second.fit.unknown
    parts = (Failed(first, size, band), *_failed(second, second.fit))
    weight = (_prior(first, total) + math.log(PAIR) + math.log(second.cause.weight / total + 1e-300))
    return Explanation(parts, (), replace(fit, log_likelihood=likelihood), weight + likelihood)


def _renamed(pair: Explanation, first: Weighed, like: Weighed) -> Explanation:
    """A pair with its first fault by another name, or by its own."""
    assert first.cause is not None
    assert like.cause is not None
    known, other = pair.faults
    more = like.fit.unknown - first.fit.unknown
    fit = replace(pair.fit, log_likelihood=pair.fit.log_likelihood + more)
    weight = pair.log_weight + more + math.log(like.cause.weight / first.cause.weight)
    return Explanation((replace(known, cause=like.cause), other), (), fit, weight)


def _likeliest(w: Weighed) -> tuple[bool, float, str, str]:
    """Sorting key: the board without a fault first, then what leaves least open, then by name."""
    name = (w.cause.who, w.cause.fault) if w.cause else ("", "")
    return w.cause is not None, round(_clipped(w.fit), 6), *name


def _clipped(fit: Fit) -> float:
    """What a fit leaves open; of what it leaves far off only little more counts than that it does."""
    return sum(min(m * m, CLIPPED) + 0.1 * math.log1p(min(m, 1e6)) for m in fit.misses)


def _slips(stage: Stage, seen: Sequence[Observed], weighed: Sequence[Weighed], total: float,
           least: float = -math.inf) -> Iterator[Explanation]:
    """Single faults and the healthy board with one or two readings that were not what they seem.

    What can have no log weight of `least` is left out.
    """
    loud = [w for w in weighed if w.evidence and not w.silent]
    ranked = sorted(loud, key=_likeliest)[:SLIPS_TRIED]
    for w in ranked:
        assert w.evidence is not None
        for without, fit in _leaving_out(w.evidence, seen):
            if _prior(w.cause, total) + fit.log_likelihood + at_most(stage.scenes, without) < least:
                continue
            size = w.evidence.size(fit)
            circuits = with_cause(stage, w.cause, size) if w.cause else stage.circuits
            whole = slips_for(stage.scenes, circuits, without, stage.notes)
            if whole is not None:
                slips, gained = whole
                weight = _prior(w.cause, total) + fit.log_likelihood + gained
                yield Explanation(_failed(w, fit), slips, fit, weight)


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
    first = min(alone, key=lambda one: _clipped(one[1]))[0][0]
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
