"""Healthy and every single fault near a reading, each with how well it explains what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.compare.likelihood import Sample, Seen, density, fits, fitting_rows, likeliest
from incircuit.compare.screen import (
    Group,
    continuous,
    effect,
    exact_readings,
    groups_of,
    look,
    ranges_for,
)
from incircuit.meter.profile import Meter
from incircuit.parts import prior
from incircuit.predict.faulty import Case
from incircuit.predict.measure import Ask
from incircuit.predict.question import Question

BOARDS = 64
"""Drawn boards per fault and magnitude …"""
FEWER = 16
"""… and where a healthy board explains the reading, so that nothing is to be condemned."""
HEALTHY_BOARDS = 512
"""Drawn healthy boards: their tails decide whether a part is suspected at all."""
HEALTHY_PRIOR = 0.5
"""The neighbourhood under the probes of a dead board is as likely healthy as not (assumption)."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One condition with its evidence. `cases` are its magnitudes, empty for the healthy board.

    `blind`: the reading is what it would be without the fault. `magnitude` is the most likely one
    [ohm or factor], `span` the least and the largest that fit; None where there is none or where the
    reading does not tell.
    """

    cases: tuple[Case, ...]
    prior: float
    density: float
    fits: bool
    blind: bool = False
    magnitude: float | None = None
    span: tuple[float, float] | None = None

    @property
    def weight(self) -> float:
        """Prior times likelihood; not normalised."""
        return self.prior * self.density

    @property
    def part(self) -> str:
        """The part's ref; empty for the healthy board."""
        return self.cases[0].part.ref if self.cases else ""

    @property
    def fault(self) -> str:
        """The fault as typed; empty for the healthy board."""
        return self.cases[0].name if self.cases else ""


def weigh(question: Question, meter: Meter, ask: Ask, seen: Seen,
          parts: Sequence[str]) -> tuple[Hypothesis, ...]:
    """Healthy first, then every single fault of `parts`, in their order."""
    groups = groups_of(question, parts)
    whole = Ask(ask.mode, ask.swapped, ranges_for(meter, ask.mode, seen.value))
    healthy = _sample(*exact_readings(question, meter, whole, (), HEALTHY_BOARDS))
    priors = [prior(g[0].part, g[0].defect) for g in groups]
    total = sum(priors) or 1.0
    found = [Hypothesis((), HEALTHY_PRIOR, density(healthy, seen), fits(healthy, seen))]
    samples = _samples(question, meter, whole, seen, groups, healthy)
    for group, weight, sample in zip(groups, priors, samples, strict=True):
        share = (1.0 - HEALTHY_PRIOR) * weight / total
        if sample is None:
            found.append(Hypothesis(group, share, found[0].density, found[0].fits, blind=True))
        else:
            found.append(_judged(group, sample, share, seen))
    return tuple(found)


def _samples(question: Question, meter: Meter, ask: Ask, seen: Seen, groups: Sequence[Group],
             healthy: Sample) -> list[Sample | None]:
    """Readings under each fault, None where the reading is blind to it; equal circuits solved once."""
    first_of: dict[tuple[object, ...], int] = {}
    stands_for = [first_of.setdefault(tuple(effect(c.change) for c in g), k) for k, g in enumerate(groups)]
    unique = [k for k, first in enumerate(stands_for) if k == first]
    found = look(question, meter, ask, seen, [groups[k] for k in unique], healthy.exact[0])
    wanted = [(i, row) for i in sorted(found.rows) for row in found.rows[i]]
    boards = FEWER if fits(healthy, seen) else BOARDS
    exact, shown = exact_readings(question, meter, ask, [groups[unique[i]][row] for i, row in wanted], boards)
    made: dict[int, Sample | None] = {}
    for i, k in enumerate(unique):
        if i in found.blind:
            made[k] = None
            continue
        own = [n for n, (other, _) in enumerate(wanted, start=1) if other == i]
        blank = _blank(groups[k], found.rough[i], found.quiet[i], healthy, seen, boards)
        blank.exact[list(found.rows[i])], blank.shown[list(found.rows[i])] = exact[own], shown[own]
        for row, other in found.like[i].items():
            blank.exact[row], blank.shown[row] = blank.exact[other], blank.shown[other]
        made[k] = blank
    return [made[first] for first in stands_for]


def _sample(exact: Floats, shown: Floats) -> Sample:
    return Sample(exact, shown, np.ones(1), False)


def _blank(group: Group, rough: Floats, quiet: Sequence[int], healthy: Sample, seen: Seen,
           boards: int) -> Sample:
    """A row per magnitude, without numbers where the first look ruled the reading out.

    For a beep `rough` stands there, which tells all that is asked; where the fault changes nothing,
    healthy boards do.
    """
    if seen.beeps is None:
        rough = np.full(len(group), np.nan)
    true = np.repeat(rough[:, None], boards + 1, axis=1)
    read = true.copy()
    stride = HEALTHY_BOARDS // boards
    true[list(quiet)], read[list(quiet)] = healthy.exact[0, ::stride], healthy.shown[0, ::stride]
    return Sample(true, read, np.array([c.weight for c in group]), continuous(group))


def _judged(group: Group, sample: Sample, weight: float, seen: Seen) -> Hypothesis:
    fitting = fits(sample, seen)
    sizes = [c.magnitude for c in group]
    magnitude, span = None, None
    if fitting and sizes[0] is not None:
        known = np.array(sizes, dtype=np.float64)
        rows = fitting_rows(sample, seen)
        span = (float(known[rows].min()), float(known[rows].max()))
        magnitude = likeliest(sample, seen, known)
    return Hypothesis(group, weight, density(sample, seen), fitting, False, magnitude, span)
