"""What a reading cannot see: faults under which it stays what the healthy board shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter
from incircuit.predict.faulty import Case, cases_of, measure_cases
from incircuit.predict.measure import Ask, Shows
from incircuit.predict.prediction import Band, band_of, display
from incircuit.predict.question import Question

BOARDS = 128
"""Boards drawn for the band under a fault."""
BATCH = 48
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
          healthy: Band) -> tuple[Sight, ...]:
    """For each part and hard fault, the reading it would give; in order of the parts.

    `healthy` is the band of the healthy board. Boards are drawn only for faults that change the
    nominal reading enough to be seen at all.
    """
    cases = [c for ref in parts for c in cases_of(question.circuit, ref) if c.defect.word in HARD]
    if not cases:
        return ()
    nominal = _measured(question, meter, ask, cases, 0)
    seen = [k for k, shows in enumerate(nominal) if not _reads_healthy(shows, healthy)]
    bands: dict[int, Band] = {}
    for start in range(0, len(seen), BATCH):
        batch = seen[start:start + BATCH]
        drawn = _measured(question, meter, ask, [cases[k] for k in batch], BOARDS)
        bands |= {k: band_of(shows) for k, shows in zip(batch, drawn, strict=True)}
    return tuple(
        Sight(case.part.ref, case.name, display(meter, ask.mode, shows, 0), bands.get(k),
              k in bands and not overlap(healthy, bands[k]))
        for k, (case, shows) in enumerate(zip(cases, nominal, strict=True))
    )


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
