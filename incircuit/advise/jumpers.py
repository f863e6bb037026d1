"""A jumper that tells what no reading in place does: it bypasses a part, or makes a gate's channel conduct.

What is never proposed, because it can hurt a person or a part: a jumper between nets that nothing conducting
joins (it would bridge an isolation), or across a capacitance of `HOLDS` or more (it may still hold charge);
a lead of a potted part; and, anywhere in the advice, any act while a supply is on, any change of charge,
supply or temperature, and a reading on volts. Every act is for a board that is unplugged, with its
capacitors discharged and verified.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from incircuit.advise.costs import Costs
from incircuit.advise.lifts import Act, Lift, lift_of, read_all
from incircuit.advise.outcomes import clearest
from incircuit.advise.patches import Pads
from incircuit.circuit.build import Circuit
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Capacitance, Change, Resistance
from incircuit.paths.blocks import branches
from incircuit.paths.regions import Region

HOLDS = 1e-6
"""A capacitance that may hold a charge worth minding [F]."""
WIRE = 0.05
"""Resistance of a jumper [ohm]; from memory."""
TRIED = 6
"""Jumpers tried."""


@dataclass(frozen=True, slots=True)
class Joints:
    """Which nodes something conducting joins, and the capacitance between two nodes [F]."""

    island: Mapping[str, int]
    held: Mapping[frozenset[str], float]


def best_jumpers(circuit: Circuit, joints: Joints, region: Region, meter: Meter, costs: Costs, ref: str,
                 pads: Sequence[str], changes: Sequence[Change],
                 apart: Sequence[tuple[int, int]]) -> list[Lift | None]:
    """For each two conditions to tell `apart` (numbers of changes from 1, 0 the board as it is) the first
    jumper between some pads with which a reading tells them, None where none does. It is for part `ref`."""
    found: list[Lift | None] = [None] * len(apart)
    for jumper in safe_jumpers(joints, pads):
        left = [k for k, lift in enumerate(found) if lift is None]
        if not left:
            break
        stand = replace(circuit, elements=(*region.elements, Resistance("jumper", "", *jumper, WIRE)))
        pairs = [p for p in combinations(pads, 2) if set(p) != set(jumper)]
        outcomes = read_all(stand, changes, pairs, meter)
        for k in left:
            if best := clearest(outcomes, *apart[k]):
                found[k] = lift_of(Act(costs.clip, ref, jumper=jumper), best, costs)
    return found


def safe_jumpers(joints: Joints, pads: Sequence[str]) -> Iterator[Pads]:
    """Pairs of pads that may be joined on a dead board, `TRIED` at most."""
    found = 0
    for a, b in combinations(pads, 2):
        held = joints.held.get(frozenset((a, b)), 0.0)
        if joints.island.get(a) == joints.island.get(b) and held < HOLDS and found < TRIED:
            found += 1
            yield a, b


def joints_of(circuit: Circuit) -> Joints:
    """What decides on a board which pads may be joined."""
    near: dict[str, list[str]] = {}
    held: dict[frozenset[str], float] = {}
    for e in circuit.elements:
        if isinstance(e, Capacitance):
            ends = frozenset((e.a, e.b))
            held[ends] = held.get(ends, 0.0) + e.farads
        else:
            for a, b in branches(e):
                near.setdefault(a, []).append(b)
                near.setdefault(b, []).append(a)
    island: dict[str, int] = {}
    for number, start in enumerate(near):
        queue = [] if start in island else [start]
        while queue:
            node = queue.pop()
            if node not in island:
                island[node] = number
                queue += near[node]
    return Joints(island, held)
