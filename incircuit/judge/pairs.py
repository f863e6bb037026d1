"""Explanations by two faults: beside each that explains a part of the readings, what explains the rest."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence, Set
from dataclasses import replace

from incircuit.judge.causes import Cause
from incircuit.judge.explanation import Explanation, Failed, clipped, failed_in, likeliest, log_prior
from incircuit.judge.joint import FAR
from incircuit.judge.observed import Observed
from incircuit.judge.search import Weighed, weigh_all, weigh_whole
from incircuit.judge.stage import Stage, on_circuits, with_cause

PAIR = 0.1
"""Prior of a second fault beside a first: what fails in a power stage seldom fails alone (assumption)."""
SECOND_KEPT = 8
"""Faults looked at closely as the second of two, for each first."""
WORTH = 1.0
"""Where the first explains all readings alone, a second has to explain them better by this (natural log
units): else it says no more than that anything may have failed beside."""

Key = tuple[float, ...]


def pairs_of(stage: Stage, seen: Sequence[Observed], causes: Sequence[Cause],
           weighed: Sequence[Weighed], total: float, most: int) -> Iterator[Explanation]:
    """Pairs whose first fault explains some readings that the healthy board does not.

    Beside the likeliest first fault every other is tried; beside the next ones only what shows by itself.
    """
    at_rest = weighed[0].fit.misses
    drawn = [w for w in weighed[1:] if w.evidence and not w.silent and _helps(w.fit.misses, at_rest)]
    ranked = _told_apart(sorted(drawn, key=likeliest))[:most]
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
    least = first.fit.peak + WORTH if first.fit.fits else -math.inf
    again: dict[Key, Weighed] = {}
    for second in weigh_whole(beside, seen, others, misses, SECOND_KEPT):
        cause = second.cause
        if cause is None or not second.fit.fits or second.fit.peak + second.fit.unknown < least:
            continue
        by_name = {_pair_name(w, cause): w for w in (first, *alike) if not _who(w) or _who(w) != cause.who}
        new = {name: w for name, w in by_name.items() if name not in tried}
        if new:
            key = _reads(second)
            if first.cause.sized and key not in again:
                again[key] = _found_again(stage, seen, first.cause, second)
            pair = _pair(seen, first, size, second, again.get(key), total)
            yield [_renamed(pair, first, w) for w in new.values()], set(new)


def _pair_name(one: Weighed, other: Cause) -> str:
    assert one.cause is not None
    return " + ".join(sorted(f"{c.who} {c.fault}" for c in (one.cause, other)))


def _told_apart(ranked: Sequence[Weighed]) -> list[list[Weighed]]:
    """Those that read otherwise than the ones before, each with its like: one circuit by several names."""
    found: dict[Key, list[Weighed]] = {}
    for w in ranked:
        found.setdefault(_reads(w), []).append(w)
    return list(found.values())


def _reads(w: Weighed) -> Key:
    """What is one circuit by several names has in common."""
    return tuple(round(m, 3) for m in w.fit.misses)


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
    best = min(w.evidence.at_each(seen), key=lambda f: (sum(m > FAR for m in f.misses), clipped(f)))
    return w.evidence.sizes[best.row], best.misses


def _found_again(stage: Stage, seen: Sequence[Observed], first: Cause, second: Weighed) -> Weighed:
    """The first fault's magnitude beside the second."""
    assert second.cause is not None
    return weigh_all(on_circuits(stage, with_cause(stage, second.cause, second.size)), seen, [first])[1]


def _pair(seen: Sequence[Observed], one: Weighed, size: float | None, second: Weighed, again: Weighed | None,
          total: float) -> Explanation:
    """The pair, with the first fault's magnitude as found `again` beside the second: neither is known."""
    assert one.cause is not None
    assert second.cause is not None
    first, fit, band, unknown = one.cause, second.fit, None, one.fit.unknown
    if again and again.evidence and again.fit.fits:
        unknown, band = again.fit.unknown, again.evidence.band(seen, again.fit)
        if again.fit.peak > fit.peak:
            fit, size = again.fit, again.size
    likelihood = fit.peak + unknown + second.fit.unknown
    parts = (Failed(first, size, band), *failed_in(second, second.fit))
    weight = (log_prior(first, total) + math.log(PAIR) + math.log(second.cause.weight / total + 1e-300))
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
