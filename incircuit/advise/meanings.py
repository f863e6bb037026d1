"""What each outcome of a reading would mean: conditions that read alike are one outcome."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from incircuit.advise.outcomes import Outcomes


@dataclass(frozen=True, slots=True)
class Outcome:
    """Displays from `low` to `high` [V or ohm, infinite OL], and the conditions that give them."""

    low: float
    high: float
    conditions: tuple[int, ...]


def outcomes_at(outcomes: Outcomes, probe: int, conditions: Sequence[int]) -> tuple[Outcome, ...]:
    """The outcomes of a reading under some conditions, lowest display first; bands that meet are one."""
    spans = sorted((*outcomes.span(probe, k), k) for k in conditions)
    found: list[Outcome] = []
    for low, high, k in spans:
        if found and not low > found[-1].high:  # also where a band is unknown (NaN)
            last = found[-1]
            found[-1] = Outcome(last.low, max(last.high, high), (*last.conditions, k))
        else:
            found.append(Outcome(low, high, (k,)))
    return tuple(found)
