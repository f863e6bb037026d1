"""A jumper that tells two faults apart: it bypasses a part, or brings a gate or base to where it conducts.

What is never proposed, because it can hurt a person or a part: a jumper between nets that nothing conducting
joins (it would bridge an isolation), or across a capacitance of `HOLDS` or more (it may still hold charge);
a lead of a potted part; and, anywhere in the advice, any act while a supply is on, any change of charge,
supply or temperature, and a reading on volts. Every act is for a board that is unplugged, with its
capacitors discharged and verified.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from incircuit.advise.conditions import Condition
from incircuit.advise.costs import Costs
from incircuit.advise.lifts import Lift, read_all
from incircuit.advise.outcomes import telling
from incircuit.advise.pairs import pads_of
from incircuit.advise.patches import Pads
from incircuit.circuit.build import Circuit
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Capacitance, Resistance
from incircuit.paths.blocks import branches
from incircuit.paths.regions import Land, region_of

HOLDS = 1e-6
"""A capacitance that may hold a charge worth minding [F]."""
WIRE = 0.05
"""Resistance of a jumper [ohm]; from memory."""
TRIED = 6
"""Jumpers tried."""


def best_jumper(circuit: Circuit, land: Land, meter: Meter, costs: Costs, one: Condition,
                other: Condition | None = None) -> Lift | None:
    """The first jumper near a fault with which a reading tells it from another, or from healthy; None where
    none does."""
    board = circuit.board
    refs = [c.part for c in (one, other) if c]
    nets = tuple(dict.fromkeys(net for ref in refs for _, net in board.part(ref).pins))
    rival = 2 if other else 0
    region = region_of(land, nets[0], nets[1] if len(nets) > 1 else nets[0])
    pads = [p for p in pads_of(board, region.nodes) if p in nets]
    for jumper in list(_safe(circuit, pads))[:TRIED]:
        wire = Resistance("jumper", "", *jumper, WIRE)
        stand = replace(circuit, elements=(*region.elements, wire))
        pairs = [p for p in combinations(pads, 2) if set(p) != set(jumper)]
        outcomes = read_all(stand, [c.change for c in (one, other) if c], pairs, meter)
        apart = [k for k in range(len(outcomes.probes)) if outcomes.told(k, 1, rival)]
        if apart:
            margins = dict(telling(outcomes, 1))
            at = max(apart, key=lambda k: (margins.get(k, 0.0), -k))
            reads = outcomes.nominal[at]
            return Lift(one.part, (), outcomes.probes[at], costs.clip + costs.reading(2, True),
                        margins.get(at, 0.0), float(reads[rival]), float(reads[1]), jumper)
    return None


def _safe(circuit: Circuit, pads: Sequence[str]) -> Iterator[Pads]:
    """Pairs of pads that may be joined on a dead board."""
    island = _islands(circuit)
    for a, b in combinations(pads, 2):
        held = sum(e.farads for e in circuit.elements if isinstance(e, Capacitance) and {e.a, e.b} == {a, b})
        if island.get(a) == island.get(b) and held < HOLDS:
            yield a, b


def _islands(circuit: Circuit) -> dict[str, int]:
    """Which nodes something conducting joins."""
    near: dict[str, list[str]] = {}
    for e in circuit.elements:
        if not isinstance(e, Capacitance):
            for a, b in branches(e):
                near.setdefault(a, []).append(b)
                near.setdefault(b, []).append(a)
    found: dict[str, int] = {}
    for number, start in enumerate(near):
        queue = [] if start in found else [start]
        while queue:
            node = queue.pop()
            if node not in found:
                found[node] = number
                queue += near[node]
    return found
