"""For every part and fault: can it be judged in place, by which reading, and if not, what must be lifted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.advise.conditions import Condition, conditions_of
from incircuit.advise.costs import Costs
from incircuit.advise.lifts import Lift, cheapest_lift
from incircuit.advise.outcomes import Outcomes, Probe, Progress, outcomes_of, pads_of, pairs_of, telling
from incircuit.circuit.build import Circuit
from incircuit.meter.profile import Meter
from incircuit.parts.elements import nodes_of
from incircuit.predict.variants import NO_CHANGE

CLEAR = 0.3
"""Margin from which a reading across the part itself is taken before a clearer one elsewhere."""


@dataclass(frozen=True, slots=True)
class Sight:
    """One fault: the reading that shows it best (None: none in place), how the healthy board and that with
    the fault would read there, low and high [V or ohm, infinite OL], the margin, how many readings show it,
    the faults of other parts that no reading tells from it, and the lift that would do where none does.
    """

    part: str
    fault: str
    best: Probe | None
    healthy: tuple[float, float]
    faulty: tuple[float, float]
    margin: float
    readings: int
    confused: tuple[tuple[str, str], ...]
    lift: Lift | None


@dataclass(frozen=True, slots=True)
class Survey:
    """All faults surveyed; `complete` is False where it was stopped early."""

    sights: tuple[Sight, ...]
    complete: bool = True

    @property
    def visible(self) -> float:
        """Share of the faults that some reading in place shows."""
        return sum(s.best is not None for s in self.sights) / len(self.sights) if self.sights else 1.0


def table_of(circuit: Circuit, meter: Meter, conditions: Sequence[Condition],
             progress: Progress | None = None) -> Outcomes:
    """What every reading in place shows on the board as it is (condition 0) and under each fault.

    On a large board only pairs of pads that share a part are looked at. Stopped by KeyboardInterrupt it
    answers with the pairs done so far and `complete` False.
    """
    pads = pads_of(circuit.board, [n for e in circuit.elements for n in nodes_of(e)])
    changes = [NO_CHANGE, *(c.change for c in conditions)]
    return outcomes_of(circuit, changes, meter, pairs_of(circuit.board, pads), progress=progress)


def survey(circuit: Circuit, meter: Meter, costs: Costs, parts: Sequence[str] = (),
           progress: Progress | None = None) -> Survey:
    """Survey the faults of some parts (default: all). Stops early and says so on KeyboardInterrupt."""
    every = conditions_of(circuit)
    outcomes = table_of(circuit, meter, every, progress)
    apart = _told_apart(outcomes)
    wanted = [k for k, c in enumerate(every, start=1) if not parts or c.part in parts]
    found: list[Sight] = []
    try:
        for n, k in enumerate(wanted):
            if progress:
                progress(n, len(wanted))
            found.append(_sight(circuit, meter, costs, every, outcomes, apart, k))
    except KeyboardInterrupt:
        return Survey(tuple(found), complete=False)
    return Survey(tuple(found), outcomes.complete)


def _sight(circuit: Circuit, meter: Meter, costs: Costs, conditions: Sequence[Condition], outcomes: Outcomes,
           apart: np.ndarray[tuple[int, int], np.dtype[np.bool_]], k: int) -> Sight:
    condition = conditions[k - 1]
    part, fault = condition.name
    showing = sorted(telling(outcomes, k), key=lambda f: _rank(circuit, part, outcomes, k, *f))
    if not showing:
        # what a stopped survey has not come to is not known to need a lift
        lift = cheapest_lift(circuit, meter, costs, condition) if outcomes.complete else None
        return Sight(part, fault, None, (0.0, 0.0), (0.0, 0.0), 0.0, 0, (), lift)
    probe, margin = showing[0]
    confused = tuple(c.name for j, c in enumerate(conditions, start=1) if c.part != part and not apart[k, j])
    return Sight(part, fault, outcomes.probes[probe], outcomes.span(probe, 0), outcomes.span(probe, k),
                 margin, len(showing), confused, None)


def _rank(circuit: Circuit, part: str, outcomes: Outcomes, k: int, at: int,
          margin: float) -> tuple[bool, float, float]:
    """Best first: across the part itself where that shows it well enough, else where it shows best; where
    one is OL, the lower the other the better."""
    nets, probe = {net for _, net in circuit.board.part(part).pins}, outcomes.probes[at]
    own = {probe.red, probe.black} <= nets and margin >= CLEAR
    return not own, -margin, min(outcomes.high[at, 0], outcomes.high[at, k])


def _told_apart(o: Outcomes) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """(conditions, conditions): whether some reading tells two apart."""
    count = o.low.shape[1]
    found = np.zeros((count, count), dtype=bool)
    for low, high in zip(o.low, o.high, strict=True):
        found |= (low[:, None] > high[None, :]) | (low[None, :] > high[:, None])
    return found
