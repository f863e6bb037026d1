"""The cheapest lead to lift where no reading in place can tell: of the suspect, or of what lies beside it.

What does not show on the part alone shows nowhere. What does shows best between two of its pins; there
either a pin of the part is lifted, or whatever else joins the two nodes, where that is cheaper: a minimum
cut of the board weighted with the cost of each lead. Every act is tried out on the neighbourhood.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from incircuit.advise.conditions import Condition, same_on
from incircuit.advise.costs import Costs
from incircuit.advise.limits import limits_between
from incircuit.advise.outcomes import Outcomes, Probe, asks_of, table_of, telling
from incircuit.advise.patches import Pads, Patch
from incircuit.board.model import Part
from incircuit.board.state import State, pad_node
from incircuit.circuit.build import Circuit, elements_of
from incircuit.errors import SolveError
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change, Element
from incircuit.paths.cuts import Lead, cheapest_cut
from incircuit.paths.regions import Land, region_of
from incircuit.predict.movable import ground_of

MASKS = 0.03
"""Parts that carry less than this part of the meter's current across the suspect's nodes hide nothing."""
MOST_LEADS = 3
"""Leads of other parts lifted at once, at most."""


@dataclass(frozen=True, slots=True)
class Lift:
    """Unsolder `leads` (none: take `part` off, or put a `jumper` between two pads), then read `probe`;
    `seconds` for all of it.

    `margin` is the gap between the two conditions there, see `outcomes.telling`; `nominal` and `other` [V or
    ohm, infinite OL] are what the first and the second read.
    """

    part: str
    leads: tuple[Lead, ...]
    probe: Probe
    seconds: float
    margin: float
    nominal: float
    other: float
    jumper: Pads = ("", "")

    @property
    def statements(self) -> tuple[str, ...]:
        """As in a readings file: ``lift R7.1``, ``remove U3``, ``short GATE SW``."""
        if any(self.jumper):
            return (f"short {self.jumper[0]} {self.jumper[1]}",)
        return tuple(f"lift {ref}.{pin}" for ref, pin in self.leads) or (f"remove {self.part}",)

    @property
    def act(self) -> str:
        """In words."""
        return ", ".join(self.statements)


def alone(circuit: Circuit, meter: Meter, condition: Condition) -> tuple[Outcomes, tuple[str, ...]]:
    """What readings on the part off the board show, sound (condition 0) and with the fault; its nodes."""
    part = circuit.board.part(condition.part)
    state = replace(circuit.state, lifted=frozenset((part.ref, pin) for pin in part.pin_names))
    lone = Circuit(circuit.board, state, elements_of(circuit.board, state, part))
    nodes = tuple(pad_node(part.ref, pin) for pin in part.pin_names)
    pairs = [(a, b) for k, a in enumerate(nodes) for b in nodes[k + 1:]]
    return read_all(lone, [same_on(lone, condition)], pairs, meter), nodes


def read_all(circuit: Circuit, changes: Sequence[Change], pairs: Sequence[Pads], meter: Meter) -> Outcomes:
    """Readings between some pads of a small circuit, as it is (condition 0) and under each change."""
    asks = asks_of(meter)
    patches = []
    for pair in pairs:
        try:
            limits = limits_between(circuit, changes, *pair, meter, asks, sure=False)
        except SolveError:
            continue
        patches.append(Patch(pair, tuple(range(len(changes))), limits))
    return table_of(patches, asks, len(changes) + 1)


def cheapest_lift(circuit: Circuit, land: Land, meter: Meter, costs: Costs, condition: Condition,
                  against: Condition | None = None) -> Lift | None:
    """The cheapest act after which one reading tells a fault from healthy, or from another fault; None where
    there is none. Raises nothing: what cannot be solved tells nothing."""
    found: list[Lift] = []
    for one in (condition, against) if against else (condition,):
        assert one is not None
        bare, _ = alone(circuit, meter, one)
        for cost, leads in _acts(circuit, land, meter, costs, one, bare):
            if found and cost >= min(f.seconds for f in found):
                break
            if leads:
                done = _after(circuit, land, meter, costs, (cost, one, leads), condition, against)
            else:
                done = _off_the_board(circuit, bare, costs, (cost, one), condition, against)
            if done is not None:
                found.append(done)
                break
    return min(found, key=lambda f: f.seconds) if found else None


def _acts(circuit: Circuit, land: Land, meter: Meter, costs: Costs, suspect: Condition,
          bare: Outcomes) -> Iterator[tuple[float, tuple[Lead, ...]]]:
    """(seconds, leads; none: the part comes off), cheapest first, of what may lay a suspect bare; `bare` is
    what it reads by itself."""
    part, state = circuit.board.part(suspect.part), circuit.state
    best = next(telling(bare, 1), None)
    if best is None or part.ref in state.removed:
        return
    probe = bare.probes[best[0]]
    pins = [pin for pin in part.pin_names if pad_node(part.ref, pin) in (probe.red, probe.black)]
    own = costs.lift(part)
    acts: list[tuple[float, int, tuple[Lead, ...]]] = []
    if _reachable(part):
        for pin in pins:
            if (part.ref, pin) not in state.lifted:
                acts.append((own, 1, ((part.ref, pin),)))
        acts.append((costs.remove(part), 2, ()))
    cut = _cut(circuit, land, meter, costs, part, (part.net(pins[0]), part.net(pins[1])), own)
    if cut:
        acts.append((sum(costs.lift(circuit.board.part(ref)) for ref, _ in cut), 0, cut))
    for cost, _, leads in sorted(acts, key=lambda a: (a[0], a[1])):
        yield cost, leads


def _cut(circuit: Circuit, land: Land, meter: Meter, costs: Costs, part: Part, nets: Pads,
         most: float) -> tuple[Lead, ...] | None:
    """Leads of other parts that hide the part from the meter, where they cost less than `most`."""
    if nets[0] == nets[1]:
        return None
    beside = _masks(circuit, land, meter, part, nets)
    parts = [p for p in circuit.board.parts if p.ref in beside]
    if not parts or min(costs.lift(p) for p in parts) >= most:
        return None
    at = {lead: pad_node(*lead) for lead in circuit.state.lifted}
    fixed = {p.ref for p in parts if not _reachable(p)}
    cut = cheapest_cut(parts, at, *nets, lambda p: most if p.ref in fixed else costs.lift(p), most)
    return cut if cut and len(cut) <= MOST_LEADS else None


def _reachable(part: Part) -> bool:
    """Whether a lead may be lifted at all: not a connector's, and not one in potting."""
    return part.kind != "connector" and part.option("access") != "potted"


def _masks(circuit: Circuit, land: Land, meter: Meter, part: Part, nets: Pads) -> frozenset[str]:
    """Parts that carry the meter's current between two nodes where the suspect does not."""
    others = [e for e in region_of(land, *nets).elements if e.part != part.ref]
    try:
        ground = ground_of(others, *nets, meter, asks_of(meter), circuit.state.celsius)
    except SolveError:
        return frozenset()
    return frozenset(e.part for e in others if e.part and e.name in ground.amps
                     and bool((ground.amps[e.name] > MASKS * ground.source).any()))


def _after(circuit: Circuit, land: Land, meter: Meter, costs: Costs,
           act: tuple[float, Condition, tuple[Lead, ...]], condition: Condition,
           against: Condition | None) -> Lift | None:
    """What the best reading shows after some leads are lifted, if it tells."""
    cost, suspect, leads = act
    part = circuit.board.part(suspect.part)
    state = replace(circuit.state, lifted=circuit.state.lifted | set(leads))
    nets = tuple(dict.fromkeys(net for _, net in part.pins))
    lifted = _lifted(circuit, land, state, nets, {ref for ref, _ in leads})
    ends = [pad_node(*lead) if lead in state.lifted else part.net(lead[1])
            for lead in ((part.ref, pin) for pin in part.pin_names)]
    pads = list(dict.fromkeys(n for n in ends if _touchable(circuit, n)))
    pairs = [(a, b) for k, a in enumerate(pads) for b in pads[k + 1:]]
    changes = [same_on(lifted, one) for one in (condition, against) if one is not None]
    best = _best(read_all(lifted, changes, pairs, meter), against is not None)
    return _lift(part, leads, cost, costs, best) if best else None


def _off_the_board(circuit: Circuit, bare: Outcomes, costs: Costs, act: tuple[float, Condition],
                   condition: Condition, against: Condition | None) -> Lift | None:
    """The suspect taken off and read by itself, which is `bare`: it is healthy, or it is not."""
    cost, suspect = act
    found = next(telling(bare, 1), None)
    if found is None:
        return None
    probe, margin = found
    healthy, faulty = (float(bare.nominal[probe, k]) for k in (0, 1))
    first, second = (healthy, faulty) if suspect is condition or against is None else (faulty, healthy)
    best = (bare.probes[probe], margin, first, second)
    return _lift(circuit.board.part(suspect.part), (), cost, costs, best)


def _lift(part: Part, leads: tuple[Lead, ...], cost: float, costs: Costs,
          best: tuple[Probe, float, float, float]) -> Lift:
    probe, margin, nominal, other = best
    return Lift(leads[0][0] if leads else part.ref, leads, probe, cost + costs.reading(2, True), margin,
                nominal, other)


def _lifted(circuit: Circuit, land: Land, state: State, nets: Sequence[str], moved: set[str]) -> Circuit:
    """The neighbourhood of some nets with some leads lifted."""
    pair = (nets[0], nets[1] if len(nets) > 1 else nets[0])
    region = region_of(land, *pair).elements
    kept: list[Element] = [e for e in region if e.part not in moved]
    for ref in sorted(moved):
        kept += elements_of(circuit.board, state, circuit.board.part(ref))
    return Circuit(circuit.board, state, tuple(kept))


def _touchable(circuit: Circuit, node: str) -> bool:
    return not any(net.name == node and net.hidden for net in circuit.board.nets)


def _best(outcomes: Outcomes, between_faults: bool) -> tuple[Probe, float, float, float] | None:
    """(probe, margin, first reading, second): healthy and the fault, or the other fault and the one."""
    first, second = (2, 1) if between_faults else (0, 1)
    listed = [*telling(outcomes, 1)]
    if between_faults:
        listed = [f for f in [*listed, *((k, 0.0) for k in range(len(outcomes.probes)))]
                  if outcomes.told(f[0], 1, 2)]
    if not listed:
        return None
    at, margin = listed[0]
    reads = outcomes.nominal[at]
    return outcomes.probes[at], margin, float(reads[first]), float(reads[second])
