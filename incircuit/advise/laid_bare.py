"""What to lift for each of many faults that do not show in place: part by part, and parts in the same
surroundings once."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from incircuit.advise.conditions import Condition, changes_on
from incircuit.advise.costs import Costs
from incircuit.advise.crew import Progress, crew, in_chunks, once
from incircuit.advise.jumpers import Joints, best_jumpers, joints_of
from incircuit.advise.lifts import Lift, alone, around, cheapest_lifts, off_board
from incircuit.advise.outcomes import Outcomes, Probe
from incircuit.advise.pairs import pads_of
from incircuit.advise.patches import serial_of
from incircuit.board.model import Part
from incircuit.board.state import pad_node
from incircuit.circuit.build import Circuit
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Channel
from incircuit.parts.structure import skeleton
from incircuit.paths.canonical import form_of
from incircuit.paths.regions import Land

Name = tuple[str, str]
Dark = tuple[str, tuple[Condition, ...]]
"""A part and its faults that do not show."""


@dataclass(frozen=True, slots=True)
class _Bench:
    """The board; `like` names for each dark part the first that is the same by itself, `bare` keeps what
    those read."""

    circuit: Circuit
    land: Land
    meter: Meter
    costs: Costs
    parts: dict[str, Part]
    hidden: frozenset[str]
    like: dict[str, Dark]
    joints: Joints
    bare: dict[str, Outcomes] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Key:
    """`digest` is one for parts in the same surroundings; `names` are refs and nodes there, in order."""

    digest: str
    names: tuple[str, ...]


def lifts_of(circuit: Circuit, land: Land, meter: Meter, costs: Costs, dark: Sequence[Condition],
             progress: Progress | None = None, workers: int = 0) -> tuple[dict[Name, Lift | None], bool]:
    """For each fault the cheapest act that lays it bare, None where none does; False where stopped early."""
    by_part: dict[str, list[Condition]] = {}
    for condition in dark:
        by_part.setdefault(condition.part, []).append(condition)
    jobs: list[Dark] = [(ref, tuple(some)) for ref, some in by_part.items()]
    found: dict[str, tuple[Lift | None, ...]] = {}
    keys: list[_Key] = []
    complete = True
    try:
        bench = _Bench(circuit, land, meter, costs, {p.ref: p for p in circuit.board.parts},
                       frozenset(n.name for n in circuit.board.nets if n.hidden), _alike(circuit, jobs),
                       joints_of(circuit))
        with crew(bench, len(dark), workers) as run:
            keys = in_chunks(run, _keys, jobs)
            pins = [len(bench.parts[ref].pins) for ref, _ in jobs]  # pairs to read, jumpers to try
            once(run, [k.digest for k in keys], _solve, jobs, found, pins, progress)
    except KeyboardInterrupt:
        complete = False
    first: dict[str, _Key] = {}
    for key in keys:
        first.setdefault(key.digest, key)
    return {c.name: _named(lift, first[key.digest], key)
            for (_, some), key in zip(jobs, keys, strict=False) if key.digest in found
            for c, lift in zip(some, found[key.digest], strict=True)}, complete


def _alike(circuit: Circuit, jobs: Sequence[Dark]) -> dict[str, Dark]:
    """For each part the first one that reads alike by itself, sound and with the same faults."""
    first: dict[str, Dark] = {}
    found: dict[str, Dark] = {}
    for ref, some in jobs:
        lone, part = off_board(circuit, ref), circuit.board.part(ref)
        form = form_of(lone.elements, [pad_node(ref, pin) for pin in part.pin_names])
        number = {lone.elements[k].name: n for n, k in enumerate(form.elements)}
        serials = [serial_of(what, number, form) for what in changes_on(lone, some)]
        found[ref] = first.setdefault(repr((form.rows, part.pin_names, serials)), (ref, some))
    return found


def _bare(bench: _Bench, ref: str) -> Outcomes:
    """What a part by itself reads: solved for the first of its like, read back under its own pins."""
    other, some = bench.like[ref]
    if other not in bench.bare:
        bench.bare[other] = alone(bench.circuit, bench.meter, other, some)
    found = bench.bare[other]
    own = {pad_node(other, pin): pad_node(ref, pin) for pin in bench.parts[other].pin_names}
    return replace(found, probes=tuple(Probe(own[p.red], own[p.black], p.mode) for p in found.probes))


def _named(lift: Lift | None, solved: _Key, here: _Key) -> Lift | None:
    """A lift found for one suspect under the names of another."""
    if lift is None or solved is here:
        return lift
    to = dict(zip(solved.names, here.names, strict=True))

    def node(name: str) -> str:
        ref, blank, pin = name.partition(" ")
        return to.get(name, f"{to.get(ref, ref)}{blank}{pin}" if blank else name)

    probe = Probe(node(lift.probe.red), node(lift.probe.black), lift.probe.mode)
    jumper = node(lift.jumper[0]), node(lift.jumper[1])
    return replace(lift, part=to[lift.part], probe=probe, jumper=jumper,
                   leads=tuple((to[ref], pin) for ref, pin in lift.leads))


def _keys(bench: _Bench, some: Sequence[Dark]) -> list[_Key]:
    return [_key(bench, *one) for one in some]


def _key(bench: _Bench, ref: str, some: Sequence[Condition]) -> _Key:
    part = bench.parts[ref]
    nets = tuple(dict.fromkeys(net for _, net in part.pins))
    region = around(bench.land, part)
    form = form_of(region.elements, nets)
    refs = list(dict.fromkeys([ref, *(region.elements[k].part for k in form.elements)]))
    rank = {other: n for n, other in enumerate(refs)}
    works = [_work(bench, bench.parts.get(other)) for other in refs]
    number = {region.elements[k].name: n for n, k in enumerate(form.elements)}
    pins = tuple((pin, nets.index(net)) for pin, net in part.pins)
    hidden = sorted(form.nodes[n] for n in bench.hidden & form.nodes.keys())
    owners = [rank[region.elements[k].part] for k in form.elements]
    text = repr((form.rows, owners, works, part.kind, part.words, pins, hidden,
                 [serial_of(c.change, number, form) for c in some]))
    nodes = sorted(form.nodes, key=lambda n: form.nodes[n])
    return _Key(hashlib.sha256(text.encode()).hexdigest(), (*refs, *nets, *nodes))


def _work(bench: _Bench, part: Part | None) -> tuple[object, ...]:
    if part is None:
        return ()
    return part.kind, part.pin_names, bench.costs.lift(part), bench.costs.remove(part)


def _solve(bench: _Bench, one: Dark) -> tuple[Lift | None, ...]:
    ref, some = one
    found = cheapest_lifts(bench.circuit, bench.land, bench.meter, bench.costs, ref, some, _bare(bench, ref))
    dark = [k for k, lift in enumerate(found) if lift is None]
    if dark and any(isinstance(e, Channel) for e in skeleton(bench.parts[ref])):  # it shows by what it does
        region, nets = around(bench.land, bench.parts[ref]), {net for _, net in bench.parts[ref].pins}
        pads = [p for p in pads_of(bench.circuit.board, region.nodes) if p in nets]
        lifts = best_jumpers(bench.circuit, bench.joints, region, bench.meter, bench.costs, ref, pads,
                             [some[k].change for k in dark], [(0, n) for n in range(1, len(dark) + 1)])
        for k, lift in zip(dark, lifts, strict=True):
            found[k] = lift
    return tuple(found)
