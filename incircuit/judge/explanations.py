"""Complete explanations of the story: healthy, one fault, two faults, or a slip of the hand beside them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from incircuit.judge.causes import Cause, total_rate, with_fault
from incircuit.judge.joint import FAR, IMPOSSIBLE, Fit, Observed
from incircuit.judge.scenes import Scene
from incircuit.judge.search import Weighed, weigh_all
from incircuit.judge.slips import Slip, slipped

HEALTHY = 0.5
"""A neighbourhood read on a dead board is as likely healthy as not (assumption)."""
PAIR = 0.1
"""Prior of a second, independent fault beside a first (assumption)."""
SLIPS_TRIED = 8
FIRST_OF_PAIR = 8
"""Faults tried as the first of two."""
LEAST_GAIN = 3.0
"""A second fault must raise the log likelihood by this to be looked at closely."""
CLIPPED = 30.0
"""A reading that a fault leaves unexplained counts at most this much (squared deviations)."""


@dataclass(frozen=True, slots=True)
class Failed:
    """One fault of an explanation: `size` [ohm or factor] is the likeliest, `band` what else fits."""

    cause: Cause
    size: float | None
    band: tuple[float, float] | None


@dataclass(frozen=True, slots=True)
class Explanation:
    """What may be the case, with its posterior probability.

    `faults` is empty for the healthy board, `slips` say which readings were not what they seem.
    `silent`: no reading changes with its faults. `log_weight` is prior times likelihood, natural log.
    """

    faults: tuple[Failed, ...]
    slips: tuple[Slip, ...]
    fit: Fit
    log_weight: float
    silent: bool = False
    probability: float = 0.0

    @property
    def fits(self) -> bool:
        """Whether it explains every reading."""
        return self.fit.fits


def explanations(scenes: Sequence[Scene], seen: Sequence[Observed],
                 causes: Sequence[Cause]) -> tuple[Explanation, ...]:
    """All explanations weighed, those that fit first, most probable first.

    Pairs of faults are tried only where neither the healthy board nor a single fault explains all
    readings, slips where no fault does.
    """
    weighed = weigh_all(scenes, seen, causes)
    total = total_rate(causes)
    found = [_of_single(w, total) for w in weighed]
    if not any(e.fits for e in found):
        slips = list(_slips(scenes, seen, found))
        found += _pairs(scenes, seen, causes, weighed, total)
        found += slips
    return _normalised(found)


def _of_single(w: Weighed, total: float) -> Explanation:
    if w.cause is None:
        return Explanation((), (), w.fit, math.log(HEALTHY) + w.fit.log_likelihood)
    weight = math.log((1.0 - HEALTHY) * w.cause.rate / total + 1e-300)
    return Explanation((Failed(w.cause, w.size, w.band),), (), w.fit, weight + w.fit.log_likelihood, w.silent)


def _pairs(scenes: Sequence[Scene], seen: Sequence[Observed], causes: Sequence[Cause],
           weighed: Sequence[Weighed], total: float) -> Iterator[Explanation]:
    """Pairs whose first fault explains some readings that the healthy board does not."""
    ranked = sorted((w for w in weighed[1:] if not w.silent), key=lambda w: _clipped(w.fit))
    tried: set[str] = set()
    for first in ranked[:FIRST_OF_PAIR]:
        assert first.cause is not None
        circuits = [with_fault(s, first.cause, first.size) for s in scenes]
        others = [c for c in causes if not c.part or c.part != first.cause.part]
        floor = first.fit.log_likelihood + LEAST_GAIN
        for second in weigh_all(scenes, seen, others, circuits, floor)[1:]:
            if second.cause is None or second.silent or not math.isfinite(second.fit.log_likelihood):
                continue
            name = " + ".join(sorted(f"{c.part} {c.fault}" for c in (first.cause, second.cause)))
            if name in tried or not second.fit.fits:
                continue
            tried.add(name)
            yield _refined(scenes, seen, first, second, total)


def _refined(scenes: Sequence[Scene], seen: Sequence[Observed], first: Weighed, second: Weighed,
             total: float) -> Explanation:
    """The pair with the first fault's magnitude found again beside the second."""
    assert first.cause is not None
    assert second.cause is not None
    fit, size, band = second.fit, first.size, first.band
    if first.cause.sized:
        circuits = [with_fault(s, second.cause, second.size) for s in scenes]
        again = weigh_all(scenes, seen, [first.cause], circuits)[1]
        if again.fit.log_likelihood > fit.log_likelihood:
            fit, size, band = again.fit, again.size, again.band
    rates = first.cause.rate / total * second.cause.rate / total
    parts = (Failed(first.cause, size, band), Failed(second.cause, second.size, second.band))
    weight = math.log((1.0 - HEALTHY) * PAIR * rates + 1e-300)
    return Explanation(parts, (), fit, weight + fit.log_likelihood)


def _clipped(fit: Fit) -> float:
    return sum(min(m * m, CLIPPED) for m in fit.misses)


def _slips(scenes: Sequence[Scene], seen: Sequence[Observed],
           found: Sequence[Explanation]) -> Iterator[Explanation]:
    """The explanations that leave fewest readings open, with a slip for each of those."""
    loud = [e for e in found if len(e.faults) <= 1 and not e.silent]
    ranked = sorted(loud, key=lambda e: (sum(m > FAR for m in e.fit.misses), _open(e, seen) - e.log_weight))
    for e in ranked[:SLIPS_TRIED]:
        circuits = [with_fault(s, f.cause, f.size) for s in scenes for f in e.faults]
        whole = slipped(scenes, circuits or [s.circuit for s in scenes], seen, e.fit)
        if whole is not None:
            slips, fit, gained = whole
            # without the slipped readings, which have a probability of their own
            yield Explanation(e.faults, slips, fit, e.log_weight - _open(e, seen) + gained)


def _open(e: Explanation, seen: Sequence[Observed]) -> float:
    """What the readings an explanation leaves open contribute to its log likelihood, roughly."""
    return sum(
        math.log(IMPOSSIBLE) - (0.0 if s.value is None else math.log(s.end)) if math.isinf(miss)
        else -0.5 * miss * miss - math.log(max(s.rounding, 1e-9))
        for miss, s in zip(e.fit.misses, seen, strict=True) if miss > FAR
    )


def _normalised(found: Sequence[Explanation]) -> tuple[Explanation, ...]:
    """Probabilities over what fits; over everything where nothing does."""
    counted = [e for e in found if e.fits] or list(found)
    top = max((e.log_weight for e in counted), default=0.0)
    if not math.isfinite(top):
        return tuple(found)
    weights = {id(e): math.exp(e.log_weight - top) for e in counted}
    total = sum(weights.values())
    shared = [replace(e, probability=weights.get(id(e), 0.0) / total) for e in found]
    return tuple(sorted(shared, key=lambda e: (not e.fits, -e.probability, -e.log_weight)))
