"""The cheapest lead to lift where no reading in place shows a fault: of the part, or of what lies beside it.

What does not show on the part alone shows nowhere. What does shows best between two of its pins; there
either a pin of the part is lifted, or whatever else joins the two nodes, where that is cheaper: a minimum
cut of the board weighted with the cost of each lead. Every act is tried out on the neighbourhood.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from incircuit.advise.conditions import Condition, changes_on
from incircuit.advise.costs import Costs
from incircuit.advise.limits import limits_between
from incircuit.advise.outcomes import Clearest, Outcomes, Probe, asks_of, clearest, table_of
from incircuit.advise.patches import Pads, Patch
from incircuit.board.model import Part
from incircuit.board.state import State, pad_node
from incircuit.circuit.build import Circuit, elements_of
from incircuit.errors import SolveError
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change, Element
from incircuit.paths.cuts import Lead, cheapest_cut
from incircuit.paths.regions import Land, Region, region_of
from incircuit.predict.movable import ground_of

MASKS = 0.03
"""Parts that carry less than this part of the meter's current across the suspect's nodes hide nothing."""
MOST_LEADS = 3
"""Leads of other parts lifted at once, at most."""
INFINITE = float("inf")


@dataclass(frozen=True, slots=True)
class Act:
    """What is done by hand, in so many `seconds`: leads lifted, all that are left of a part where it comes
    `off`, or a `jumper` put between two pads."""

    seconds: float
    part: str
    leads: tuple[Lead, ...] = ()
    jumper: Pads = ("", "")
    off: bool = False


def own_acts(circuit: Circuit, costs: Costs, part: Part, pins: Collection[str]) -> Iterator[Act]:
    """What lays a part bare by itself: one of some pins lifted, or taken off; nothing where it cannot be."""
    if not reachable(part):
        return
    left = tuple((part.ref, pin) for pin in part.pin_names if (part.ref, pin) not in circuit.state.lifted)
    for lead in left:
        if lead[1] in pins:
            yield Act(costs.lift(part), part.ref, (lead,))
    if len(left) > 1:
        yield Act(costs.remove(part), part.ref, left, off=True)


@dataclass(frozen=True, slots=True)
class Lift:
    """Unsolder `leads`, all of a part's where it comes `off`, or put a `jumper` between two pads; then read
    `probe`; `seconds` for all of it.

    `margin` is the gap between the two conditions there, see `outcomes.margin_of`; `nominal` and `other` [V
    or ohm, infinite OL] are what the first and the second read.
    """

    part: str
    leads: tuple[Lead, ...]
    probe: Probe
    seconds: float
    margin: float
    nominal: float
    other: float
    jumper: Pads = ("", "")
    off: bool = False

    @property
    def statements(self) -> tuple[str, ...]:
        """As in a readings file: ``lift R7.1``, ``short GATE SW``. A part taken off to be read by itself has
        all its pins lifted: once it is removed, its pads are those of the board."""
        if any(self.jumper):
            return (f"short {self.jumper[0]} {self.jumper[1]}",)
        return tuple(f"lift {ref}.{pin}" for ref, pin in self.leads)

    @property
    def act(self) -> str:
        """In words."""
        said = ", ".join(self.statements)
        return f"take {self.part} off ({said})" if self.off else said


def lift_of(act: Act, reading: Clearest, costs: Costs) -> Lift:
    """An act by hand and the reading after it."""
    seconds = act.seconds + costs.reading(2, True)
    return Lift(act.part, act.leads, reading.probe, seconds, reading.margin, reading.one, reading.other,
                act.jumper, act.off)


def alone(circuit: Circuit, meter: Meter, ref: str, conditions: Sequence[Condition]) -> Outcomes:
    """What readings on a part off the board show, sound (condition 0) and with each of its faults."""
    lone = off_board(circuit, ref)
    part = circuit.board.part(ref)
    nodes = [pad_node(ref, pin) for pin in part.pin_names]
    return read_all(lone, changes_on(lone, conditions), [*combinations(nodes, 2)], meter)


def off_board(circuit: Circuit, ref: str) -> Circuit:
    """A part by itself, all its pins lifted."""
    part = circuit.board.part(ref)
    state = replace(circuit.state, lifted=frozenset((ref, pin) for pin in part.pin_names))
    return Circuit(circuit.board, state, elements_of(circuit.board, state, part))


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


def cheapest_lifts(circuit: Circuit, land: Land, meter: Meter, costs: Costs, ref: str,
                   conditions: Sequence[Condition], bare: Outcomes) -> list[Lift | None]:
    """For each fault of a part the cheapest act after which one reading tells it from healthy; `bare` is what
    `alone` gives for them."""
    bench = _Bench(circuit, land, meter, costs, circuit.board.part(ref), tuple(conditions), bare)
    return [_cheapest(bench, k) for k in range(1, len(conditions) + 1)]


@dataclass(frozen=True, slots=True)
class _Bench:
    """A part in its surroundings and the conditions to tell; `bare` is what it reads by itself. `cuts` and
    `tried` keep what was found out, by nets and by leads lifted."""

    circuit: Circuit
    land: Land
    meter: Meter
    costs: Costs
    part: Part
    conditions: tuple[Condition, ...]
    bare: Outcomes
    cuts: dict[Pads, tuple[Lead, ...] | None] = field(default_factory=dict)
    tried: dict[tuple[Lead, ...], Outcomes] = field(default_factory=dict)


def _cheapest(bench: _Bench, k: int) -> Lift | None:
    """The cheapest act after which a reading shows condition `k`; the part by itself must show it."""
    for act in _acts(bench, k):
        best = clearest(bench.bare if act.off else _after(bench, act.leads), 0, k)
        if best:
            return lift_of(act, best, bench.costs)
    return None


def _acts(bench: _Bench, shows: int) -> list[Act]:
    """What may lay the part bare, cheapest first; of equal ones what leaves the part alone."""
    circuit, part, costs = bench.circuit, bench.part, bench.costs
    best = clearest(bench.bare, 0, shows)
    if best is None or part.ref in circuit.state.removed:
        return []
    ends = best.probe.red, best.probe.black
    pins = [pin for pin in part.pin_names if pad_node(part.ref, pin) in ends]
    nets = part.net(pins[0]), part.net(pins[1])
    if nets not in bench.cuts:
        bench.cuts[nets] = _cut(circuit, bench.land, bench.meter, costs, part, nets, costs.lift(part))
    cut = bench.cuts[nets]
    found = [*own_acts(circuit, costs, part, pins)]
    if cut:
        found.insert(0, Act(sum(costs.lift(circuit.board.part(ref)) for ref, _ in cut), cut[0][0], cut))
    return sorted(found, key=lambda act: act.seconds)


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
    fixed = {p.ref for p in parts if not reachable(p)}
    cut = cheapest_cut(parts, at, *nets, lambda p: most if p.ref in fixed else costs.lift(p), most)
    return cut if cut and len(cut) <= MOST_LEADS else None


def reachable(part: Part) -> bool:
    """Whether a lead may be lifted at all: not a connector's, and not one in potting."""
    return part.kind != "connector" and part.option("access") != "potted"


def _masks(circuit: Circuit, land: Land, meter: Meter, part: Part, nets: Pads) -> frozenset[str]:
    """Parts that carry the meter's current between two nodes where the suspect does not."""
    others = [e for e in around(land, part).elements if e.part != part.ref]
    try:
        ground = ground_of(others, *nets, meter, asks_of(meter), circuit.state.celsius)
    except SolveError:
        return frozenset()
    return frozenset(e.part for e in others if e.part and e.name in ground.amps
                     and bool((ground.amps[e.name] > MASKS * ground.source).any()))


def _after(bench: _Bench, leads: tuple[Lead, ...]) -> Outcomes:
    """What readings between the part's own pins show after some leads are lifted."""
    if leads not in bench.tried:
        circuit, part = bench.circuit, bench.part
        state = state_after(circuit, leads)
        stand = lifted(circuit, around(bench.land, part), state, {ref for ref, _ in leads})
        ends = [pad_node(*lead) if lead in state.lifted else part.net(lead[1])
                for lead in ((part.ref, pin) for pin in part.pin_names)]
        pads = list(dict.fromkeys(n for n in ends if touchable(circuit, n)))
        changes = changes_on(stand, bench.conditions)
        bench.tried[leads] = read_all(stand, changes, [*combinations(pads, 2)], bench.meter)
    return bench.tried[leads]


def around(land: Land, *parts: Part) -> Region:
    """The neighbourhood of a part or some: their own pieces of the board and what is near."""
    nets = list(dict.fromkeys(net for part in parts for _, net in part.pins))
    pieces: dict[int, str] = {}
    for net in nets:
        if net in land.piece:
            pieces.setdefault(land.piece[net], net)
    first = list(dict.fromkeys([*pieces.values(), *(n for n in nets if n in land.piece), *nets]))
    return region_of(land, first[0], first[min(1, len(first) - 1)])


def state_after(circuit: Circuit, leads: Collection[Lead]) -> State:
    """The state of a board with some more leads lifted."""
    return replace(circuit.state, lifted=circuit.state.lifted | set(leads))


def lifted(circuit: Circuit, region: Region, state: State, moved: set[str]) -> Circuit:
    """A neighbourhood with some leads lifted."""
    kept: list[Element] = [e for e in region.elements if e.part not in moved]
    for ref in sorted(moved):
        kept += elements_of(circuit.board, state, circuit.board.part(ref))
    return Circuit(circuit.board, state, tuple(kept))


def touchable(circuit: Circuit, node: str) -> bool:
    """Whether a probe reaches a node."""
    return not any(net.name == node and net.hidden for net in circuit.board.nets)
