"""From the hypotheses to a verdict that claims no more than the reading shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.compare.hypotheses import Hypothesis
from incircuit.compare.likelihood import Seen
from incircuit.compare.twins import twin_keys
from incircuit.parts.priors import ASSEMBLY
from incircuit.predict.prediction import Band, Prediction
from incircuit.predict.question import Question, pins_at

FAR_AHEAD = 0.9
"""Probability a fault, or the set of faults it cannot be told from, needs before a part is condemned."""
TEMPER = 0.5
"""Where a verdict must not hang on how often parts fail, priors count by this power only."""
HARD = ("open", "short")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A single fault that fits the reading.

    `magnitude` in ohms or as a factor, the most likely one, and `span` what else fits, where the
    fault has a size and the reading tells something of it. `blind`: the reading is the same without
    the fault, so it speaks neither for nor against it. `favour` is how many times more probable the
    reading is with the fault than on a healthy board; infinite where a healthy board cannot show it.
    `told` is the probability with tempered priors: what the reading says, more than experience.
    """

    part: str
    fault: str
    probability: float
    fits: bool
    magnitude: float | None
    span: tuple[float, float] | None = None
    blind: bool = False
    favour: float = float("inf")
    told: float = 0.0


@dataclass(frozen=True, slots=True)
class Verdict:
    """`word` is healthy, explained, failed, undecided or unlisted; `part` and `fault` what it is about.

    `twins` are parts whose fault no in-place reading can tell from the one named. `hidden` are opens
    and shorts of the part in question, between the probed pins, that would show the same reading.
    """

    word: str
    part: str | None
    fault: str | None
    twins: tuple[str, ...]
    candidates: tuple[Candidate, ...]
    healthy_fits: bool
    healthy_probability: float
    hidden: tuple[str, ...] = ()


def candidates_of(hypotheses: Sequence[Hypothesis]) -> tuple[tuple[Candidate, ...], float]:
    """Faults that fit, most probable first, and the probability that the board is healthy.

    Probabilities are over what fits at all. A healthy board counts with what probability it has,
    also just outside its band: one of a hundred reads there.
    """
    healthy = hypotheses[0]
    shares, told = (_shares(hypotheses, power) for power in (1.0, TEMPER))
    found = [
        Candidate(h.part, h.fault, share, True, h.magnitude, h.span, h.blind,
                  h.density / healthy.density if healthy.density else float("inf"), by_reading)
        for h, share, by_reading in zip(hypotheses[1:], shares[1:], told[1:], strict=True) if h.fits
    ]
    found.sort(key=lambda c: (-c.probability, c.part, c.fault))
    return tuple(found), shares[0]


def _shares(hypotheses: Sequence[Hypothesis], power: float) -> list[float]:
    """Probabilities of all hypotheses with their priors to a power; the healthy board comes first."""
    weights = [h.density * h.prior**power if h.fits or not h.cases else 0.0 for h in hypotheses]
    total = sum(weights) or 1.0
    return [float(w / total) for w in weights]


def decide(question: Question, hypotheses: Sequence[Hypothesis], prediction: Prediction,
           seen: Seen) -> Verdict:
    """The verdict on the part in question, or on the neighbourhood where there is none.

    `prediction` holds the band of the healthy board and of the part alone.
    """
    in_band = shows(prediction.band, seen)
    # a fault that changes nothing fits where a healthy board does, and explains nothing where it does not
    least = _least_density(prediction.band, seen) if in_band else 0.0
    hypotheses = [replace(h, fits=in_band, density=max(h.density, least)) if h.blind or not h.cases else h
                  for h in hypotheses]
    candidates, healthy = candidates_of(hypotheses)
    part = question.part.ref if question.part else None
    verdict = Verdict("undecided", part, None, (), candidates, in_band, healthy)
    if not in_band:
        return _condemn(question, verdict, hypotheses) if candidates else replace(verdict, word="unlisted")
    if part is None:
        return replace(verdict, word="healthy")
    verdict = replace(verdict, hidden=hidden_faults(question, hypotheses))
    if prediction.alone is None:
        return verdict
    if not shows(prediction.alone, seen):
        return replace(verdict, word="explained")
    return verdict if verdict.hidden else replace(verdict, word="healthy")


def _least_density(band: Band, seen: Seen) -> float:
    """What a reading in the band has at least, where few of the drawn healthy boards came near it."""
    if seen.value is None or band.low is None:
        return 0.01 if seen.beeps is None else 0.0
    high = max(seen.full_scale if band.high is None else band.high, seen.value)
    return 0.05 / max(high - band.low, 4.0 * seen.sigma, 1e-12)


def shows(band: Band, seen: Seen) -> bool:
    """Whether what was read lies in a band, to within half of the last digit typed."""
    low, high = (float("inf") if x is None else x for x in (band.low, band.high))
    if seen.beeps is not None:
        return low < seen.beeps_below if seen.beeps else high >= seen.beeps_below
    if seen.value is None:
        return band.holds(None)
    return low <= seen.value + seen.rounding and seen.value - seen.rounding <= high


def hidden_faults(question: Question, hypotheses: Sequence[Hypothesis]) -> tuple[str, ...]:
    """Opens and shorts of the part in question, between the probed pins, that fit the reading too."""
    part = question.part
    if part is None:
        return ()
    near = [set(pins_at(part, question.circuit.state, node)) for node in
            (question.red_node, question.black_node)]
    probed = near[0] | near[1]
    found = []
    for h in hypotheses[1:]:
        if h.part != part.ref or not h.fits or h.cases[0].defect.word not in HARD:
            continue
        pins = set(h.cases[0].defect.pins)
        across = len(pins) == 2 and pins <= probed and bool(pins & near[0]) and bool(pins & near[1])
        if not pins or across or (len(pins) == 1 and pins <= probed):
            found.append(h.fault)
    return tuple(found)


def _condemn(question: Question, verdict: Verdict, hypotheses: Sequence[Hypothesis]) -> Verdict:
    """Healthy is out: the part in question has failed, a neighbour has, or they are not told apart."""
    candidates, part = verdict.candidates, verdict.part
    lead = next((c for c in candidates if part in (None, c.part)), None)
    if lead is not None:
        twins = _twins(question, hypotheses, lead, candidates)
        group = [c for c in candidates if c.part == lead.part or c in twins]
        if _least_share(group) >= FAR_AHEAD:
            named = max(group, key=lambda c: c.probability)
            others = dict.fromkeys(c.part for c in (lead, *twins) if c.part != named.part)
            return replace(verdict, word="failed", part=named.part, fault=named.fault, twins=tuple(others))
    neighbours = [c for c in candidates if c.part != part]
    if part is not None and _least_share(neighbours) >= FAR_AHEAD and not _does_as_well(hypotheses, part):
        return replace(verdict, word="explained")
    return verdict


def _does_as_well(hypotheses: Sequence[Hypothesis], part: str) -> bool:
    """Whether a fault of the part gives the reading about as readily as the best of the neighbours'.

    Then only experience with such parts speaks against it, and that clears nothing.
    """
    mine, best = 0.0, 0.0
    for h in hypotheses[1:]:
        if h.fits and h.part != part:
            best = max(best, h.density)
        elif h.fits and h.cases[0].defect.word not in ASSEMBLY:
            mine = max(mine, h.density)
    return mine > (1.0 - FAR_AHEAD) * best


def _least_share(some: Sequence[Candidate]) -> float:
    """Probability of some candidates, by the reading with priors and with tempered ones: the lesser."""
    return min(sum(c.probability for c in some), sum(c.told for c in some))


def _twins(question: Question, hypotheses: Sequence[Hypothesis], lead: Candidate,
           candidates: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """Candidates of other parts that no reading in place can tell from any of the lead's part."""
    found = twin_keys(question.circuit, [h.cases[0].change if h.cases else None for h in hypotheses],
                      (question.red_node, question.black_node))
    keys = dict(zip(((h.part, h.fault) for h in hypotheses), found, strict=True))
    mine = keys[lead.part, lead.fault]
    return tuple(c for c in candidates if c.part != lead.part and keys[c.part, c.fault] & mine)
