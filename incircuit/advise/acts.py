"""The cheapest act by hand after which one reading tells two ways apart in which the board may be.

A jumper, a lead lifted, of the suspects or of what stands beside them, or a suspect taken off: cheapest
first, each tried out in the neighbourhood with both ways the board may be, whatever else they have in common.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from incircuit.advise.charging import charging_outcomes
from incircuit.advise.costs import Costs
from incircuit.advise.jumpers import WIRE, joints_of, safe_jumpers
from incircuit.advise.lifts import (
    Act,
    Lift,
    around,
    lift_of,
    lifted,
    own_acts,
    read_all,
    state_after,
    touchable,
)
from incircuit.advise.outcomes import Clearest, Outcomes, clearest
from incircuit.advise.suspects import Suspect, change_on
from incircuit.board.model import Part
from incircuit.board.state import pad_node
from incircuit.circuit.build import Circuit, build
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Resistance
from incircuit.paths.regions import Land, Region
from incircuit.predict.variants import NO_CHANGE

TRIED = 40
"""Acts tried."""
PADS = 7
"""Pads between which is read after an act."""
CLEAR = 0.3
"""Margin from which a reading across a part is taken before a clearer one elsewhere."""


def cheapest_act(circuit: Circuit, land: Land, meter: Meter, costs: Costs, one: Suspect,
                 other: Suspect) -> Lift | None:
    """The cheapest act that tells two ways apart, None where none of those tried does; `nominal` of it is
    what the other reads, `other` what the one does."""
    parts = _between(circuit, one, other)
    if not parts:
        return None
    region, refs = around(land, *parts), {p.ref for p in parts}
    ways = [_near(circuit, region, way) for way in (one, other)]
    for act in _acts(circuit, region, costs, parts)[:TRIED]:
        outcomes = _tried(circuit, region, meter, parts, act, ways)
        ends = _ends(circuit, act, parts)
        best = _clear(outcomes, ends) if outcomes else None
        if best is None and act.leads and act.part in refs:
            best = _clear(_charged(circuit, act, (one, other), meter), ends)
        if best:
            return lift_of(act, best, costs)
    return None


def _between(circuit: Circuit, one: Suspect, other: Suspect) -> list[Part]:
    """Parts on the board of which the two say different things, in the order they are suspected."""
    differ = set(one.faults) ^ set(other.faults)
    refs = dict.fromkeys(part for part, _ in (*one.faults, *other.faults) if part)
    said = {part for part, _ in differ}
    by_ref = {p.ref: p for p in circuit.board.parts}
    return [by_ref[ref] for ref in refs
            if ref in said and ref in by_ref and ref not in circuit.state.removed]


def _near(circuit: Circuit, region: Region, way: Suspect) -> Suspect:
    """The faults of a way that lie in a neighbourhood."""
    inside = {e.part for e in region.elements if e.name in region.single}
    sizes = way.sizes or (None,) * len(way.faults)
    kept = [(fault, size) for fault, size in zip(way.faults, sizes, strict=True)
            if fault[0] in inside or not circuit.of_part(fault[0])]
    return replace(way, faults=tuple(f for f, _ in kept), sizes=tuple(s for _, s in kept))


def _acts(circuit: Circuit, region: Region, costs: Costs, parts: Sequence[Part]) -> list[Act]:
    """What may be done about some parts and beside them, cheapest first; of equal ones what is nearest."""
    nodes = list(dict.fromkeys(n for p in parts for n in _nodes(circuit, p)))
    pads = [n for n in nodes if touchable(circuit, n)]
    found = [Act(costs.clip, parts[0].ref, jumper=pair) for pair in safe_jumpers(joints_of(circuit), pads)]
    inside, own = {e.part for e in region.elements if e.name in region.single}, {p.ref for p in parts}
    for part in (*parts, *(p for p in circuit.board.parts if p.ref in inside - own)):
        acts = own_acts(circuit, costs, part, [pin for pin, net in part.pins if net in nodes])
        found += [act for act in acts if part.ref in own or not act.off]
    return sorted(found, key=lambda act: act.seconds)


def _nodes(circuit: Circuit, part: Part) -> list[str]:
    return [pad_node(part.ref, pin) if (part.ref, pin) in circuit.state.lifted else net
            for pin, net in part.pins]


def _ends(circuit: Circuit, act: Act, parts: Sequence[Part]) -> list[set[str]]:
    """The nodes of each part after an act."""
    state = state_after(circuit, act.leads)
    return [set(_nodes(replace(circuit, state=state), part)) for part in parts]


def _tried(circuit: Circuit, region: Region, meter: Meter, parts: Sequence[Part], act: Act,
           ways: Sequence[Suspect]) -> Outcomes | None:
    """What is read after an act: condition 1 the first way the board may be, 2 the second."""
    state = state_after(circuit, act.leads)
    stand = lifted(circuit, region, state, {ref for ref, _ in act.leads})
    if any(act.jumper):
        stand = replace(stand, elements=(*stand.elements, Resistance("jumper", "", *act.jumper, WIRE)))
    changes = [change_on(stand, way) for way in ways]
    moved = [circuit.board.part(ref) for ref in dict.fromkeys(ref for ref, _ in act.leads)]
    nodes = [n for p in (*moved, *parts) for n in (*_nodes(stand, p), *(net for _, net in p.pins))]
    pads = [n for n in dict.fromkeys(nodes) if touchable(circuit, n)][:PADS]
    pairs = [pair for pair in combinations(pads, 2) if set(pair) != set(act.jumper)]
    if any(c is None for c in changes) or not pairs:
        return None
    return read_all(stand, [c for c in changes if c is not None], pairs, meter)


def _charged(circuit: Circuit, act: Act, ways: Sequence[Suspect], meter: Meter) -> Outcomes:
    """What farads and esr show after leads of a part in question are lifted."""
    stand = build(circuit.board, state_after(circuit, act.leads))
    changes = [change_on(stand, way) or NO_CHANGE for way in ways]
    return charging_outcomes(stand, changes, [1.0] * len(changes), meter)


def _clear(outcomes: Outcomes, across: Sequence[set[str]]) -> Clearest | None:
    """The reading that tells the two ways apart: across a part where that is clear enough, a number either
    way rather than OL, which a bad contact shows as well, then the clearest."""
    def before(k: int, margin: float) -> tuple[bool, bool]:
        own = margin >= CLEAR and any(set(outcomes.probes[k].pair) <= ends for ends in across)
        return own, bool(np.isfinite(outcomes.nominal[k, 1:]).all())

    return clearest(outcomes, 2, 1, before)
