"""What readings show on a board of any size, pair of pads by pair: solved in the neighbourhood of the pads.

Neighbourhoods that are the same but for names are solved once.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.advise.crew import Progress, crew, in_chunks, once
from incircuit.advise.limits import Limits, limits_between
from incircuit.circuit.build import Circuit
from incircuit.errors import SolveError
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Capacitance, Change, nodes_of
from incircuit.paths.canonical import Form, ends_of, form_of, kind_of
from incircuit.paths.regions import Land, Region, land_of, region_of
from incircuit.predict.measure import Ask
from incircuit.predict.movable import ground_of

Pads = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Chart:
    """A board and the changes looked at. `at` are the numbers of the changes at each node that is no rail,
    `on_rails` those that touch rails alone, by rails; `wide`: changes anywhere in a neighbourhood count, not
    only those at the pads and one part further; `sure`: see `limits_between`."""

    circuit: Circuit
    land: Land
    changes: tuple[Change, ...]
    at: Mapping[str, tuple[int, ...]]
    on_rails: Mapping[frozenset[str], tuple[int, ...]]
    meter: Meter
    asks: tuple[Ask, ...]
    wide: bool
    sure: bool


@dataclass(frozen=True, slots=True)
class Patch:
    """The readings between two pads, in the order of the asks: limits as in `limits_between`, column 0 the
    board as it is, column k + 1 the change number `changes[k]`; all others read as column 0."""

    pair: Pads
    changes: tuple[int, ...]
    limits: Limits


def chart_of(circuit: Circuit, changes: Sequence[Change], meter: Meter, asks: Sequence[Ask],
             wide: bool = True, sure: bool = True) -> Chart:
    """Prepare a board."""
    land = land_of(circuit.elements)
    by_name = {e.name: e for e in land.elements}
    at: dict[str, list[int]] = {}
    on_rails: dict[frozenset[str], list[int]] = {}
    for k, what in enumerate(changes):
        touched = {n for name in what.remove if name in by_name for n in nodes_of(by_name[name])}
        touched |= {n for e in what.add if not isinstance(e, Capacitance) for n in nodes_of(e)}
        inner = (touched & land.near.keys()) - land.rails
        for node in sorted(inner):
            at.setdefault(node, []).append(k)
        if touched and not inner:
            on_rails.setdefault(frozenset(touched & land.rails), []).append(k)
    return Chart(circuit, land, tuple(changes), {n: tuple(some) for n, some in at.items()},
                 {rails: tuple(some) for rails, some in on_rails.items()}, meter, tuple(asks), wide, sure)


def patch_of(chart: Chart, pair: Pads) -> Patch:
    """Solve the neighbourhood of a pair of pads. Raises SolveError where the board as it is cannot be."""
    region = region_of(chart.land, *pair)
    return _solved(chart, region, pair, candidates(chart, region, pair))


def _solved(chart: Chart, region: Region, pair: Pads, some: Sequence[int]) -> Patch:
    stand = replace(chart.circuit, elements=region.elements)
    ground = ground_of(region.elements, *pair, chart.meter, chart.asks, stand.state.celsius)
    lanes = {k: found for k in some if (found := ground.moves(chart.changes[k]))}
    changes = [chart.changes[k] for k in lanes]
    limits = limits_between(stand, changes, *pair, chart.meter, chart.asks, chart.sure, list(lanes.values()))
    return Patch(pair, tuple(lanes), limits)


def candidates(chart: Chart, region: Region, pair: Pads) -> tuple[int, ...]:
    """Numbers of the changes that may move a reading in a neighbourhood."""
    land = chart.land
    nodes, rails = region.nodes | set(pair), set(pair) <= land.rails
    on = region.nodes & land.rails if chart.wide else frozenset(pair)
    if not chart.wide and not rails and land.rails:
        around = (land.elements[k] for pad in pair for k in land.near.get(pad, ()))
        nodes = frozenset({*pair, *(n for e in around for n in nodes_of(e))})
    found = {k for n in nodes for k in chart.at.get(n, ())}
    if chart.wide or rails:
        found |= {k for at, some in chart.on_rails.items() if at & on and at <= region.nodes for k in some}
    scaled = {e.name for e in region.elements} - region.single
    return tuple(k for k in sorted(found) if not chart.changes[k].remove & scaled)


@dataclass(frozen=True, slots=True)
class Key:
    """What a pair of pads will read, but for names: pairs with one `digest` read alike, the change number
    `changes[k]` of one as that of the other."""

    digest: str
    changes: tuple[int, ...]


def key_of(chart: Chart, pair: Pads) -> Key:
    """The key of a pair of pads."""
    region = region_of(chart.land, *pair)
    form = form_of(region.elements, pair)
    number = {region.elements[k].name: n for n, k in enumerate(form.elements)}
    some = candidates(chart, region, pair)
    listed = sorted((repr(serial_of(chart.changes[k], number, form)), k) for k in some)
    text = repr((form.rows, [serial for serial, _ in listed]))
    return Key(hashlib.sha256(text.encode()).hexdigest(), tuple(k for _, k in listed))


def serial_of(what: Change, number: Mapping[str, int], form: Form) -> tuple[object, ...]:
    """A change on a form: what goes by number, what comes by kind and nodes, new nodes in order."""
    new: dict[str, int] = {}
    added = []
    for e in what.add:
        if not isinstance(e, Capacitance):
            ends = ends_of(e, what.add, 0)
            nodes = tuple(form.nodes.get(n, -1 - new.setdefault(n, len(new))) for n in ends)
            added.append((kind_of(e), nodes))
    return tuple(sorted(number[n] for n in what.remove if n in number)), tuple(added)


@dataclass(frozen=True, slots=True)
class Done:
    """Patches of the pairs done, in their order; `complete` is False where it was stopped by
    KeyboardInterrupt; `solved` is how many different neighbourhoods there were."""

    patches: tuple[Patch, ...]
    complete: bool
    solved: int


def patches_of(chart: Chart, pairs: Sequence[Pads], progress: Progress | None = None,
               workers: int = 0) -> Done:
    """Patches of all pairs, on all processors (or as many as `workers`)."""
    found: dict[str, Patch] = {}
    keys: list[Key] = []
    complete = True
    try:
        with crew(chart, len(pairs), workers) as run:
            keys = in_chunks(run, _keys, pairs)
            jobs = list(zip(pairs, keys, strict=True))
            once(run, [k.digest for k in keys], _solve, jobs, found, [len(k.changes) for k in keys], progress)
    except KeyboardInterrupt:
        complete = False
    patches = tuple(replace(found[key.digest], pair=pair,
                            changes=tuple(key.changes[n] for n in found[key.digest].changes))
                    for pair, key in zip(pairs, keys, strict=False) if key.digest in found)
    return Done(patches, complete, len(found))


def _keys(chart: Chart, pairs: Sequence[Pads]) -> list[Key]:
    return [key_of(chart, pair) for pair in pairs]


def _solve(chart: Chart, job: tuple[Pads, Key]) -> Patch:
    """The patch of a pair, its changes numbered by their place in the key; nothing known, where nothing could
    be proven."""
    pair, key = job
    place = {k: n for n, k in enumerate(key.changes)}
    try:
        patch = _solved(chart, region_of(chart.land, *pair), pair, key.changes)
    except SolveError:
        unknown = np.full((len(chart.asks), 1), np.nan)
        return Patch(pair, (), (unknown, unknown, unknown))
    return replace(patch, changes=tuple(place[k] for k in patch.changes))
