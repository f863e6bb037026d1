"""One explanation of the story: what may be the case, how probable beforehand and after."""

from __future__ import annotations

import math
from dataclasses import dataclass

from incircuit.judge.causes import Cause
from incircuit.judge.joint import Fit
from incircuit.judge.search import Weighed
from incircuit.judge.slips import Slip

HEALTHY = 0.25
"""Of the neighbourhoods read on dead boards, so many are healthy (assumption)."""
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


def log_prior(cause: Cause | None, total: float) -> float:
    """Log prior of a single cause; of the healthy board for None."""
    if cause is None:
        return math.log(HEALTHY)
    return math.log((1.0 - HEALTHY) * cause.weight / total + 1e-300)


def failed_in(w: Weighed, fit: Fit) -> tuple[Failed, ...]:
    """The fault of a single cause at its likeliest magnitude; none for the board without one."""
    if w.cause is None:
        return ()
    size = None if w.silent or w.evidence is None else w.evidence.size(fit)
    return (Failed(w.cause, size, None),)


def likeliest(w: Weighed) -> tuple[bool, float, str, str]:
    """Sorting key: the board without a fault first, then what leaves least open, then by name."""
    name = (w.cause.who, w.cause.fault) if w.cause else ("", "")
    return w.cause is not None, round(clipped(w.fit), 6), *name


def clipped(fit: Fit) -> float:
    """What a fit leaves open; of what it leaves far off only little more counts than that it does."""
    return sum(min(m * m, CLIPPED) + 0.1 * math.log1p(min(m, 1e6)) for m in fit.misses)
