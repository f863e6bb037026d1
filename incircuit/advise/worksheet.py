"""The shortest list of readings in place that shows every fault that can be shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.advise.conditions import Condition, conditions_of
from incircuit.advise.costs import Costs
from incircuit.advise.cover import cover
from incircuit.advise.crew import Progress
from incircuit.advise.meanings import outcomes_at
from incircuit.advise.outcomes import Outcomes, Probe, table_of
from incircuit.advise.pairs import pairs_of
from incircuit.advise.patches import patches_of
from incircuit.advise.survey import chart_for
from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.meter.profile import Meter

Name = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Hint:
    """Displays from `low` to `high` [V or ohm, infinite OL] and the faults (part, fault) they point to."""

    low: float
    high: float
    faults: tuple[Name, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One reading: what the nominal board shows, the band [V or ohm, infinite OL], what else means."""

    probe: Probe
    expected: float
    low: float
    high: float
    hints: tuple[Hint, ...]


@dataclass(frozen=True, slots=True)
class Worksheet:
    """Steps in order. `gap` is how many may be too many (0: proven shortest); `hidden` are faults that no
    reading in place shows, `shown` how many faults the steps show. `complete` as in a survey."""

    steps: tuple[Step, ...]
    gap: int
    shown: int
    hidden: tuple[Name, ...]
    complete: bool = True


def worksheet(circuit: Circuit, meter: Meter, costs: Costs, progress: Progress | None = None,
              workers: int = 0) -> Worksheet:
    """The worksheet of a board in its present state."""
    conditions = conditions_of(circuit)
    chart = chart_for(circuit, meter, conditions, wide=True)
    done = patches_of(chart, pairs_of(circuit, chart.changes), progress, workers)
    outcomes = replace(table_of(done.patches, chart.asks, len(conditions) + 1), complete=done.complete)
    shows = outcomes.shown_by()[:, 1:]
    weights = np.array([c.weight for c in conditions])
    told = shows @ weights / max(float(weights.sum()), 1e-300)
    found = cover(shows, np.asarray(told))
    order = _ordered(outcomes, found.chosen, told, costs)
    visible = np.asarray(shows.any(axis=0))
    hidden = tuple(c.name for c, seen in zip(conditions, visible, strict=True) if not seen)
    steps = tuple(_step(outcomes, probe, conditions) for probe in order)
    return Worksheet(steps, found.gap, int(visible.sum()), hidden, outcomes.complete)


def _ordered(outcomes: Outcomes, chosen: Sequence[int], told: Floats, costs: Costs) -> list[int]:
    """The reading that shows the likeliest faults first, then always the one for which least is moved; of
    several the one that shows the likelier faults."""
    left = sorted(chosen)
    order: list[int] = []
    while left:
        before = outcomes.probes[order[-1]] if order else None
        best = min(left, key=lambda k: (0.0 if before is None else seconds(costs, before, outcomes.probes[k]),
                                        -told[k], k))
        order.append(best)
        left.remove(best)
    return order


def seconds(costs: Costs, before: Probe | None, probe: Probe) -> float:
    """What a reading costs after another one, or as the first [s]."""
    if before is None:
        return costs.reading(2, True)
    moved = (before.red != probe.red) + (before.black != probe.black)
    return costs.reading(moved, before.mode != probe.mode)


def _step(outcomes: Outcomes, probe: int, conditions: Sequence[Condition]) -> Step:
    told = [k for k in range(1, len(conditions) + 1) if outcomes.told(probe, 0, k)]
    hints = tuple(
        Hint(o.low, o.high, tuple(conditions[k - 1].name for k in
                                  sorted(o.conditions, key=lambda k: (-conditions[k - 1].weight, k))))
        for side in _sides(outcomes, probe, told) for o in outcomes_at(outcomes, probe, side))
    return Step(outcomes.probes[probe], float(outcomes.nominal[probe, 0]), *outcomes.span(probe, 0), hints)


def _sides(outcomes: Outcomes, probe: int, told: Sequence[int]) -> tuple[list[int], list[int]]:
    """Conditions that read below the healthy band, and above it."""
    low = outcomes.low[probe, 0]
    below = [k for k in told if outcomes.high[probe, k] < low]
    return below, [k for k in told if k not in set(below)]
