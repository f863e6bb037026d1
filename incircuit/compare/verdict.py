"""From the hypotheses to a verdict that claims no more than the reading shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.compare.hypotheses import Hypothesis
from incircuit.compare.likelihood import Seen
from incircuit.parts.elements import Resistance
from incircuit.predict.blindness import Sight
from incircuit.predict.prediction import Band
from incircuit.predict.question import Question

FAR_AHEAD = 0.9
"""Probability a fault, or the set of faults it cannot be told from, needs before a part is condemned."""
LISTED = 0.005
"""Candidates below this probability are not listed."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A single fault that explains the reading; `magnitude` in ohms or as a factor where it has one."""

    part: str
    fault: str
    probability: float
    fits: bool
    magnitude: float | None


@dataclass(frozen=True, slots=True)
class Verdict:
    """`word` is healthy, explained, failed, undecided or unlisted; `part` and `fault` what it is about.

    `twins` are parts whose fault no in-place reading can tell from the one named.
    """

    word: str
    part: str | None
    fault: str | None
    twins: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    healthy_fits: bool
    healthy_probability: float


def candidates_of(hypotheses: Sequence[Hypothesis]) -> tuple[tuple[Candidate, ...], float]:
    """Faults that fit, most probable first, and the probability that the board is healthy.

    Probabilities are over what fits at all: a hypothesis that cannot give the reading has none.
    """
    weights = [h.weight if h.fits else 0.0 for h in hypotheses]
    total = sum(weights) or 1.0
    listed = [
        Candidate(h.part, h.fault, w / total, h.fits, h.magnitude)
        for h, w in zip(hypotheses[1:], weights[1:], strict=True) if w > 0.0
    ]
    listed.sort(key=lambda c: (-c.probability, c.part, c.fault))
    return tuple(c for c in listed if c.probability >= LISTED), weights[0] / total


def decide(question: Question, hypotheses: Sequence[Hypothesis], alone: Band | None, seen: Seen,
           sights: Sequence[Sight]) -> Verdict:
    """The verdict on the part in question, or on the neighbourhood where there is none.

    `alone` is the band of the part by itself, `sights` what its own hard faults would read.
    """
    candidates, healthy = candidates_of(hypotheses)
    part = question.part.ref if question.part else None
    open_question = Verdict("undecided", part, None, (), candidates, hypotheses[0].fits, healthy)
    if hypotheses[0].fits:
        if part is None:
            return replace(open_question, word="healthy")
        if alone is not None and not _shows(alone, seen):
            return replace(open_question, word="explained")
        blind = [s for s in sights if s.part == part and not s.told]
        return open_question if blind or alone is None else replace(open_question, word="healthy")
    if not candidates:
        return replace(open_question, word="unlisted")
    return _condemn(open_question, hypotheses)


def _shows(alone: Band, seen: Seen) -> bool:
    """Whether the part by itself would read what was read."""
    if seen.beeps is None:
        return alone.holds(seen.value)
    low, high = (float("inf") if x is None else x for x in (alone.low, alone.high))
    return low < seen.beeps_below if seen.beeps else high >= seen.beeps_below


def _condemn(open_question: Verdict, hypotheses: Sequence[Hypothesis]) -> Verdict:
    """Healthy is out: the part in question has failed, a neighbour has, or they are not told apart."""
    candidates, part = open_question.candidates, open_question.part
    by_part: dict[str, float] = {}
    for candidate in candidates:
        by_part[candidate.part] = by_part.get(candidate.part, 0.0) + candidate.probability
    if part is not None and by_part.get(part, 0.0) <= 1.0 - FAR_AHEAD:
        return replace(open_question, word="explained")
    lead = next(c for c in candidates if part in (None, c.part))
    twins = twins_of(hypotheses, lead, candidates)
    if sum(by_part[ref] for ref in (lead.part, *twins)) >= FAR_AHEAD:
        return replace(open_question, word="failed", part=lead.part, fault=lead.fault, twins=twins)
    return open_question


def twins_of(hypotheses: Sequence[Hypothesis], lead: Candidate,
             candidates: Sequence[Candidate]) -> tuple[str, ...]:
    """Other parts with a candidate that joins the same two nodes: one in place of the other changes nothing.

    Two low resistances between the same nodes are the same circuit, whichever part they are in.
    """
    joined = {(h.part, h.fault): _joins(h) for h in hypotheses if h.cases}
    mine = joined.get((lead.part, lead.fault))
    if mine is None:
        return ()
    return tuple(dict.fromkeys(
        c.part for c in candidates if c.part != lead.part and joined.get((c.part, c.fault)) == mine
    ))


def _joins(hypothesis: Hypothesis) -> frozenset[str] | None:
    """The node pair a fault joins by one resistance and nothing else, if it does just that."""
    added = hypothesis.cases[0].change.add
    if hypothesis.fault.split()[0] in ("short", "leaky") and len(added) == 1 \
            and isinstance(added[0], Resistance):
        return frozenset((added[0].a, added[0].b))
    return None
