"""The best possible plan on a small board, by exhaustive search: the yardstick for following the advice.

The plan is a decision tree. A node is what may still be the case (the sound board and every fault at its
typical size, with the odds `next` starts from); a branch is a reading, a child one of its outcomes:
conditions whose limits meet there share a child. A leaf is a node at which one decision (which parts to
replace) holds `SURE` of the probability, or the sound board `SOUND_SURE`, or that no reading in place divides
further. A reading costs what the table of costs says, probes moved from the reading before. Of all trees the
one of least expected cost is found by recursion over (what is left, the reading before), every reading tried
at every node.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from incircuit.advise.costs import Costs
from incircuit.advise.following import SOUND_SURE, SURE
from incircuit.advise.meanings import outcomes_at
from incircuit.advise.outcomes import Outcomes, outcomes_of
from incircuit.advise.pairs import pairs_of
from incircuit.advise.suspects import Suspect, suspects_of
from incircuit.advise.worksheet import seconds
from incircuit.board import Board
from incircuit.circuit.build import build
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Resistance
from incircuit.predict.variants import NO_CHANGE

Left = frozenset[int]
State = tuple[Left, int]


@dataclass
class Plan:
    """The best tree so far: expected cost times probability and best reading (−1: a leaf) by state."""

    outcomes: Outcomes
    suspects: Sequence[Suspect]
    costs: Costs
    found: dict[State, tuple[float, int]] = field(default_factory=dict)
    split: dict[tuple[Left, int], tuple[Left, ...]] = field(default_factory=dict)

    def cost(self, left: Left, before: int = -1) -> tuple[float, int]:
        """(expected seconds times the probability of `left`, best reading)."""
        state = left, before
        if state not in self.found:
            self.found[state] = (0.0, -1)  # a leaf, unless a reading divides it
            if not self.decided(left):
                tried = [self._with(left, before, k) for k in range(len(self.outcomes.probes))
                         if self._divides(left, k)]
                self.found[state] = min(tried, default=(0.0, -1))
        return self.found[state]

    def _with(self, left: Left, before: int, probe: int) -> tuple[float, int]:
        weight = sum(self.suspects[k].probability for k in left)
        probes = self.outcomes.probes
        own = weight * seconds(self.costs, probes[before] if before >= 0 else None, probes[probe])
        return own + sum(self.cost(child, probe)[0] for child in self.children(left, probe)), probe

    def _divides(self, left: Left, probe: int) -> bool:
        children = self.children(left, probe)
        return len(children) > 1 and len({self.suspects[k].parts for k in left}) > 1

    def children(self, left: Left, probe: int) -> tuple[Left, ...]:
        """What is left after each outcome of a reading."""
        key = left, probe
        if key not in self.split:
            found = outcomes_at(self.outcomes, probe, [k + 1 for k in sorted(left)])
            self.split[key] = tuple(frozenset(c - 1 for c in o.conditions) for o in found)
        return self.split[key]

    def decided(self, left: Left) -> bool:
        """Whether one decision is sure enough."""
        by: dict[frozenset[str], float] = {}
        for k in left:
            by[self.suspects[k].parts] = by.get(self.suspects[k].parts, 0.0) + self.suspects[k].probability
        best = max(by, key=lambda parts: by[parts])
        return by[best] >= (SURE if best else SOUND_SURE) * sum(by.values())

    def for_fault(self, part: str, fault: str) -> float:
        """Seconds the plan takes on a board with one fault."""
        at = next(k for k, s in enumerate(self.suspects) if s.faults == ((part, fault),))
        left, before, spent = frozenset(range(len(self.suspects))), -1, 0.0
        while (probe := self.cost(left, before)[1]) >= 0:
            probes = self.outcomes.probes
            spent += seconds(self.costs, probes[before] if before >= 0 else None, probes[probe])
            left = next(child for child in self.children(left, probe) if at in child)
            before = probe
        return spent

    def tells(self, part: str, fault: str) -> bool:
        """Whether the plan ends with that part as the only decision, the fault being told in place."""
        at = next(k for k, s in enumerate(self.suspects) if s.faults == ((part, fault),))
        if any(self._twins(at, k) for k in range(len(self.suspects))):
            return False
        left, before = frozenset(range(len(self.suspects))), -1
        while (probe := self.cost(left, before)[1]) >= 0:
            left = next(child for child in self.children(left, probe) if at in child)
            before = probe
        return self.decided(left)

    def _twins(self, a: int, b: int) -> bool:
        """Whether faults of two parts put a resistance between the same nodes: their sizes are not known, so
        no reading tells them apart."""
        one, other = self.suspects[a], self.suspects[b]
        if one.parts == other.parts or one.change.remove or other.change.remove:
            return False
        nodes = [[sorted((e.a, e.b)) for e in s.change.add if isinstance(e, Resistance)]
                 for s in (one, other)]
        return bool(nodes[0]) and nodes[0] == nodes[1]


def plan_for(board: Board, meter: Meter, costs: Costs) -> Plan:
    """The best plan for a board, nothing read yet."""
    circuit = build(board)
    suspects = suspects_of(circuit, None)
    outcomes = outcomes_of(circuit, [NO_CHANGE, *(s.change for s in suspects)], meter, pairs_of(circuit))
    return Plan(outcomes, suspects, costs)
