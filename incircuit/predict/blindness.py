"""What a reading cannot see: faults under which it stays what the healthy board shows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter
from incircuit.predict.faulty import Case, cases_of, measure_cases
from incircuit.predict.measure import Ask, Shows, beside, may_stand_elsewhere
from incircuit.predict.prediction import Band, Prediction, band_of, display
from incircuit.predict.question import Question
from incircuit.predict.reach import reach_of

BOARDS = 64
"""Boards drawn for the band under a fault."""
BATCH = 64
"""Faults drawn in one batch: keeps the working set small on large boards."""
HARD = ("open", "short")
"""The defects a reading is asked about: the two ends of every soft one."""


@dataclass(frozen=True, slots=True)
class Sight:
    """What a reading would be under one hard fault, and whether that is told from healthy.

    `shown` is the display of the otherwise nominal board. `band` is what boards with the fault show;
    None where the nominal one already reads like a healthy board, so that nobody can tell.
    """

    part: str
    fault: str
    shown: Shown
    band: Band | None
    told: bool


def overlap(a: Band, b: Band) -> bool:
    """Whether two bands share a value; an overloaded side reaches up to OL."""
    a_low, a_high = _ends(a)
    b_low, b_high = _ends(b)
    return a_low <= b_high and b_low <= a_high


def _ends(band: Band) -> tuple[float, float]:
    infinite = float("inf")
    return (infinite if band.low is None else band.low, infinite if band.high is None else band.high)


def sight(question: Question, meter: Meter, ask: Ask, parts: Sequence[str],
          healthy: Prediction) -> tuple[Sight, ...]:
    """For each part and hard fault, the reading it would give; in order of the parts.

    `healthy` is the prediction of the healthy board. Only faults that can reach the meter's current
    are solved, and boards are drawn only for those that change the nominal reading enough to be seen.
    """
    cases = [c for ref in parts for c in cases_of(question.circuit, ref) if c.defect.word in HARD]
    nominal = _nominal(question, meter, ask, cases)
    seen = {k: shows for k, shows in nominal.items() if not _reads_healthy(shows, healthy.band)}
    bands = _bands(question, meter, ask, {k: cases[k] for k in seen}, seen)
    return tuple(
        Sight(case.part.ref, case.name,
              display(meter, ask.mode, nominal[k], 0) if k in nominal else healthy.shown, bands.get(k),
              k in bands and not overlap(healthy.band, bands[k]))
        for k, case in enumerate(cases)
    )


def _nominal(question: Question, meter: Meter, ask: Ask, cases: Sequence[Case]) -> dict[int, Shows]:
    """The nominal reading under each case that can move it: those within the meter's block, then those
    that extend it, which need a larger network."""
    reach = reach_of(question)
    touching = [k for k, case in enumerate(cases) if reach.touched_by(case.change)]
    found: dict[int, Shows] = {}
    for within in (True, False):
        group = [k for k in touching if reach.holds(cases[k].change) is within]
        for start in range(0, len(group), BATCH):
            batch = group[start:start + BATCH]
            found |= zip(batch, _measured(question, meter, ask, [cases[k] for k in batch], 0), strict=True)
    return found


def _bands(question: Question, meter: Meter, ask: Ask, cases: Mapping[int, Case],
           nominal: Mapping[int, Shows]) -> dict[int, Band]:
    """The band under each case. First on the ranges beside the one of the nominal reading; on all of them
    where a board was found that may stand on another."""
    found: dict[int, Band] = {}
    groups: dict[Ask, list[int]] = {}
    for k, shows in nominal.items():
        groups.setdefault(beside(meter, ask, int(shows.range[0])), []).append(k)
    for narrowed, group in sorted(groups.items(), key=lambda item: item[0].ranges):
        for k, shows in _drawn(question, meter, narrowed, cases, group):
            if not may_stand_elsewhere(meter, narrowed, shows):
                found[k] = band_of(shows)
    left = [k for k in cases if k not in found]
    return found | {k: band_of(shows) for k, shows in _drawn(question, meter, ask, cases, left)}


def _drawn(question: Question, meter: Meter, ask: Ask, cases: Mapping[int, Case],
           group: Sequence[int]) -> Iterator[tuple[int, Shows]]:
    """Readings on drawn boards with each fault, some faults at a time."""
    for start in range(0, len(group), BATCH):
        batch = group[start:start + BATCH]
        yield from zip(batch, _measured(question, meter, ask, [cases[k] for k in batch], BOARDS), strict=True)


def _measured(question: Question, meter: Meter, ask: Ask, cases: Sequence[Case],
              boards: int) -> list[Shows]:
    """Readings of each case, the nominal board first."""
    bench = measure_cases(question.circuit, cases, question.red_node, question.black_node, meter, [ask],
                          boards)
    shows, width = bench.shows[ask], boards + 1
    cuts = [slice(k * width, (k + 1) * width) for k in range(1, len(cases) + 1)]
    return [Shows(shows.exact[c], shows.value[c], shows.range[c], shows.lane[c]) for c in cuts]


def _reads_healthy(shows: Shows, healthy: Band) -> bool:
    value = float(shows.value[0])
    return healthy.holds(None if value == float("inf") else value)
