"""What to lift for each of many faults that do not show in place; suspects in the same surroundings once."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.advise.conditions import Condition
from incircuit.advise.costs import Costs
from incircuit.advise.crew import Progress, crew, in_chunks, once
from incircuit.advise.jumpers import best_jumper
from incircuit.advise.lifts import Lift, cheapest_lift
from incircuit.advise.outcomes import Probe
from incircuit.advise.patches import serial_of
from incircuit.board.model import Part
from incircuit.circuit.build import Circuit
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Channel
from incircuit.parts.structure import skeleton
from incircuit.paths.canonical import form_of
from incircuit.paths.regions import Land, region_of

Name = tuple[str, str]


@dataclass(frozen=True, slots=True)
class _Bench:
    circuit: Circuit
    land: Land
    meter: Meter
    costs: Costs
    parts: dict[str, Part]
    hidden: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Key:
    """`digest` is one for suspects in the same surroundings; `names` are refs and nodes there, in order."""

    digest: str
    names: tuple[str, ...]


def lifts_of(circuit: Circuit, land: Land, meter: Meter, costs: Costs, dark: Sequence[Condition],
             progress: Progress | None = None, workers: int = 0) -> tuple[dict[Name, Lift | None], bool]:
    """For each fault the cheapest act that lays it bare, None where none does; False where stopped early."""
    bench = _Bench(circuit, land, meter, costs, {p.ref: p for p in circuit.board.parts},
                   frozenset(n.name for n in circuit.board.nets if n.hidden))
    found: dict[str, Lift | None] = {}
    keys: list[_Key] = []
    complete = True
    try:
        with crew(bench, len(dark), workers) as run:
            keys = in_chunks(run, _keys, dark)
            pins = [len(bench.parts[c.part].pins) for c in dark]  # as many pairs to read, and jumpers to try
            once(run, [k.digest for k in keys], _solve, dark, found, pins, progress)
    except KeyboardInterrupt:
        complete = False
    first: dict[str, _Key] = {}
    for key in keys:
        first.setdefault(key.digest, key)
    return {c.name: _named(found[key.digest], first[key.digest], key)
            for c, key in zip(dark, keys, strict=False) if key.digest in found}, complete


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


def _keys(bench: _Bench, some: Sequence[Condition]) -> list[_Key]:
    return [_key(bench, condition) for condition in some]


def _key(bench: _Bench, condition: Condition) -> _Key:
    part = bench.parts[condition.part]
    nets = tuple(dict.fromkeys(net for _, net in part.pins))
    region = region_of(bench.land, nets[0], nets[1] if len(nets) > 1 else nets[0])
    form = form_of(region.elements, nets)
    refs = list(dict.fromkeys([part.ref, *(region.elements[k].part for k in form.elements)]))
    rank = {ref: n for n, ref in enumerate(refs)}
    works = [_work(bench, bench.parts.get(ref)) for ref in refs]
    number = {region.elements[k].name: n for n, k in enumerate(form.elements)}
    pins = tuple((pin, nets.index(net)) for pin, net in part.pins)
    hidden = sorted(form.nodes[n] for n in bench.hidden & form.nodes.keys())
    owners = [rank[region.elements[k].part] for k in form.elements]
    text = repr((form.rows, owners, works, part.kind, part.words, pins, hidden,
                 serial_of(condition.change, number, form)))
    nodes = sorted(form.nodes, key=lambda n: form.nodes[n])
    return _Key(hashlib.sha256(text.encode()).hexdigest(), (*refs, *nets, *nodes))


def _work(bench: _Bench, part: Part | None) -> tuple[object, ...]:
    if part is None:
        return ()
    return part.kind, part.pin_names, bench.costs.lift(part), bench.costs.remove(part)


def _solve(bench: _Bench, condition: Condition) -> Lift | None:
    found = cheapest_lift(bench.circuit, bench.land, bench.meter, bench.costs, condition)
    gates = any(isinstance(e, Channel) for e in skeleton(bench.parts[condition.part]))
    if found is None and gates:  # an insulated gate shows by what it does
        found = best_jumper(bench.circuit, bench.land, bench.meter, bench.costs, condition)
    return found
