"""Healthy and every single fault near a reading, each with how well it explains what was read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from incircuit.compare.likelihood import Sample, Seen, density, fits, likeliest_row
from incircuit.meter.profile import Meter
from incircuit.parts import prior
from incircuit.paths.blocks import parts_of
from incircuit.predict.faulty import Case, cases_of, elements_in_reach, measure_cases
from incircuit.predict.measure import Ask, Bench, ranges_of
from incircuit.predict.question import Question

BOARDS = 48
"""Drawn boards per fault and magnitude."""
GRID = 41
"""Magnitudes per fault of unknown size, evenly spaced in the logarithm."""
HEALTHY_PRIOR = 0.5
"""The neighbourhood under the probes of a dead board is as likely healthy as not (assumption)."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One condition with its evidence. `cases` are its magnitudes, empty for the healthy board."""

    cases: tuple[Case, ...]
    sample: Sample
    prior: float
    density: float
    fits: bool
    magnitude: float | None

    @property
    def weight(self) -> float:
        """Prior times likelihood; not normalised."""
        return self.prior * self.density

    @property
    def part(self) -> str:
        return self.cases[0].part.ref if self.cases else ""

    @property
    def fault(self) -> str:
        return self.cases[0].name if self.cases else ""


def ranges_for(meter: Meter, mode: str, value: float | None) -> tuple[int, ...]:
    """The range a value is read on and the one below it (which must not have fitted)."""
    scales = ranges_of(meter, mode)
    last = len(scales) - 1
    on = last if value is None else next((k for k, r in enumerate(scales) if value <= r.full_scale), last)
    return tuple(range(max(0, on - 1), on + 1))


def suspects(question: Question) -> tuple[str, ...]:
    """Parts that can matter to the reading, the part in question first."""
    first = (question.part.ref,) if question.part else ()
    everything = [c for p in question.circuit.board.parts for c in cases_of(question.circuit, p.ref)]
    reach = elements_in_reach(question.circuit, everything, question.red_node, question.black_node)
    return tuple(dict.fromkeys([*first, *parts_of(reach)]))


def weigh(question: Question, meter: Meter, ask: Ask, seen: Seen,
          parts: Sequence[str]) -> tuple[Hypothesis, ...]:
    """Healthy first, then every single fault of `parts`, in their order."""
    circuit = question.circuit
    cases = [c for ref in parts for c in cases_of(circuit, ref, GRID)]
    narrowed = Ask(ask.mode, ask.swapped, ranges_for(meter, ask.mode, seen.value))
    bench = measure_cases(circuit, cases, question.red_node, question.black_node, meter, [narrowed], BOARDS)
    groups = [tuple(g) for _, g in groupby(cases, key=lambda c: (c.part.ref, c.name))]
    weights = [prior(g[0].part, g[0].defect) for g in groups]
    total = sum(weights) or 1.0
    found = [_judged((), _rows(bench, narrowed, 0, ()), HEALTHY_PRIOR, seen)]
    row = 1
    for group, weight in zip(groups, weights, strict=True):
        sample = _rows(bench, narrowed, row, group)
        found.append(_judged(group, sample, (1.0 - HEALTHY_PRIOR) * weight / total, seen))
        row += len(group)
    return tuple(found)


def _rows(bench: Bench, ask: Ask, first: int, cases: Sequence[Case]) -> Sample:
    """Readings of one hypothesis: a row per magnitude, one row for the healthy board."""
    shows = bench.shows[ask]
    width = BOARDS + 1
    count = max(1, len(cases))
    cut = slice(first * width, (first + count) * width)
    size = cases[0].defect.magnitude if cases else None
    return Sample(
        exact=shows.exact[cut].reshape(count, width),
        shown=shows.value[cut].reshape(count, width),
        weights=np.array([c.weight for c in cases] or [1.0]),
        continuous=count > 1 and size is not None and not size.choices,
    )


def _judged(cases: tuple[Case, ...], sample: Sample, weight: float, seen: Seen) -> Hypothesis:
    magnitude = cases[likeliest_row(sample, seen)].magnitude if cases else None
    return Hypothesis(cases, sample, weight, density(sample, seen), fits(sample, seen), magnitude)
