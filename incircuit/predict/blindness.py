"""What a reading cannot see: faults under which it stays what the healthy board shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter
from incircuit.predict.faulty import cases_of, measure_cases
from incircuit.predict.measure import Ask, Shows
from incircuit.predict.prediction import Band, band_of, display
from incircuit.predict.question import Question

BOARDS = 128
HARD = ("open", "short")
"""The defects a reading is asked about: the two ends of every soft one."""


@dataclass(frozen=True, slots=True)
class Sight:
    """What a reading would be under one hard fault, and whether that is told from healthy."""

    part: str
    fault: str
    shown: Shown
    band: Band
    told: bool


def overlap(a: Band, b: Band) -> bool:
    """Whether two bands share a value; an overloaded side reaches up to OL."""
    a_low, a_high = _ends(a)
    b_low, b_high = _ends(b)
    return a_low <= b_high and b_low <= a_high


def _ends(band: Band) -> tuple[float, float]:
    infinite = float("inf")
    return (infinite if band.low is None else band.low, infinite if band.high is None else band.high)


def sight(question: Question, meter: Meter, ask: Ask, parts: Sequence[str]) -> tuple[Sight, ...]:
    """For each part and hard fault, the reading it would give; in order of the parts."""
    cases = [c for ref in parts for c in cases_of(question.circuit, ref) if c.defect.word in HARD]
    bench = measure_cases(question.circuit, cases, question.red_node, question.black_node, meter, [ask],
                          BOARDS)
    shows = bench.shows[ask]
    healthy = band_of(_slice(shows, 0))
    found = []
    for k, case in enumerate(cases, start=1):
        own = _slice(shows, k)
        band = band_of(own)
        found.append(Sight(case.part.ref, case.name, display(meter, ask.mode, own, 0), band,
                           not overlap(healthy, band)))
    return tuple(found)


def _slice(shows: Shows, condition: int) -> Shows:
    cut = slice(condition * (BOARDS + 1), (condition + 1) * (BOARDS + 1))
    return Shows(shows.exact[cut], shows.value[cut], shows.range[cut], shows.lane[cut])
