"""Where every device's conductance goes in the equations: entries, stamps, and both elimination plans.

The nodes that meet only resistances are eliminated first, once per set of resistances; what is left
are the ports, on which the iteration works.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np

from incircuit.circuit.elimination import Ints, Plan, make_plan
from incircuit.circuit.tables import Tables, make_tables, pairs_of

KEPT = 256
"""Layouts kept: some 50 kB each."""

Entry = tuple[int, int, int, int]
"""(row, column, source, sign): W[row, column] += sign·stack[source]."""


@dataclass(frozen=True, slots=True)
class Ends:
    """Node numbers at the ends of every element, in the order of the network's tuples of elements.

    Resistances `ra`, `rb`; junctions anode `ja`, cathode `jk`; couplings: index of the controlling
    junction `cj`, nodes `cs` (source) and `ck` (sink); channels `md`, `mg`, `ms`; companions of
    capacitances `xa`, `xb`.
    """

    ra: Ints
    rb: Ints
    ja: Ints
    jk: Ints
    cj: Ints
    cs: Ints
    ck: Ints
    md: Ints
    mg: Ints
    ms: Ints
    xa: Ints
    xb: Ints


@dataclass(frozen=True, slots=True)
class Stamp:
    """Where conductances go: entry k of a stack of conductances adds sign[k]·stack[source[k]] to slot[k]."""

    slot: Ints
    source: Ints
    sign: Ints


@dataclass(frozen=True, slots=True)
class Layout:
    """Both plans and what leads into them.

    `linear` eliminates the nodes that meet only resistances, `ports` are the node numbers that stay,
    `port` eliminates those. `base_from` are the slots of `linear` that describe the reduced network,
    `base_to` their slots in `port`. The stack of `port_stamp` is: junctions, couplings, channel gm,
    channel gds, gate leak, companions, source.
    """

    linear: Plan
    ports: Ints
    port: Plan
    base_from: Ints
    base_to: Ints
    linear_stamp: Stamp
    port_stamp: Stamp
    tables: Tables


def lay_out(size: int, red: int, ends: Ends) -> Layout:
    """The layout of a network of `size` nodes (the reference node is number `size`). The last ones are kept:
    boards repeat their stages."""
    return _kept(size, red, *(getattr(ends, field.name).tobytes() for field in fields(Ends)))


@lru_cache(maxsize=KEPT)
def _kept(size: int, red: int, *rows: bytes) -> Layout:
    return _laid_out(size, red, Ends(*(np.frombuffer(row, dtype=np.intp).copy() for row in rows)))


def _laid_out(size: int, red: int, ends: Ends) -> Layout:
    entries, passive = _device_entries(size, red, ends)
    ports = sorted({i for i, _, _, _ in entries} | {j for _, j, _, _ in entries if j != size})
    resistive: list[Entry] = []
    couples = pairs_of(ends.ra, ends.rb)
    for k, (i, j) in enumerate(zip(couples.first.tolist(), couples.second.tolist(), strict=True)):
        resistive += [(i, j, k, 1), (j, i, k, 1)]
    linear = make_plan(size, [(i, j) for i, j, _, _ in resistive if size not in (i, j)], ports)
    local = {node: p for p, node in enumerate(ports)}
    reduced = [(i, j) for (i, j) in linear.slot_of if i in local and j in local]
    pairs = reduced + [(i, j) for i, j, _, _ in entries if j != size]
    controlled = (*ends.cs.tolist(), *ends.ck.tolist(), *ends.md.tolist(), *ends.ms.tolist())
    active = {local[i] for i in controlled if i != size}
    port = make_plan(len(ports), [(local[i], local[j]) for i, j in pairs], active=active)
    moves = [(linear.slot_of[i, j], port.slot_of[local[i], local[j]]) for i, j in reduced
             if i < j or not port.symmetric]
    moves += [(linear.excess_of[i], port.excess_of[local[i]]) for i in ports]
    everywhere = {node: node for node in range(size)}
    linear_stamp = _stamp(linear, resistive, size, everywhere, frozenset(), active)
    port_stamp = _stamp(port, entries, size, local, passive, active)
    numbers = ints(ports)
    return Layout(
        linear=linear,
        ports=numbers,
        port=port,
        base_from=ints(m[0] for m in moves),
        base_to=ints(m[1] for m in moves),
        linear_stamp=linear_stamp,
        port_stamp=port_stamp,
        tables=make_tables(size, ends, numbers, couples, (linear, linear_stamp), (port, port_stamp), active),
    )


def ints(values: Iterable[int]) -> Ints:
    """An index array."""
    return np.array(list(values), dtype=np.intp)


def _stamp(plan: Plan, entries: list[Entry], size: int, local: dict[int, int],
           passive: frozenset[int], active: set[int]) -> Stamp:
    """Slots for entries; in `active` rows the sources in `passive`, conductances, go to the diagonal too."""
    found: list[tuple[int, int, int]] = []
    for i, j, k, sign in entries:
        if i == size or (i == j and k in passive):  # the reference row, or both ends on one node
            continue
        row = local[i]
        if i == j:  # a controlled source at its own controlling node
            found.append((plan.diagonal_of[row], k, -sign))
            continue
        if plan.symmetric and j < i:  # (j, i) has the same slot
            continue
        if k in passive and row in active:
            found.append((plan.diagonal_of[row], k, sign))
        found.append((plan.excess_of[row] if j == size else plan.slot_of[row, local[j]], k, sign))
    return Stamp(ints(f[0] for f in found), ints(f[1] for f in found), ints(f[2] for f in found))


def _device_entries(size: int, red: int, ends: Ends) -> tuple[list[Entry], frozenset[int]]:
    """Entries of all devices and the source, and which of them are conductances.

    A current gain·(V_a − V_k) from `source` into `sink` has W[source, a] −= g, W[source, k] += g and
    the opposite in the row of `sink`.
    """
    entries: list[Entry] = []
    for k, (i, j) in enumerate(zip(ends.ja.tolist(), ends.jk.tolist(), strict=True)):
        entries += [(i, j, k, 1), (j, i, k, 1)]
    first = len(ends.ja)
    couplings = zip(ends.cj.tolist(), ends.cs.tolist(), ends.ck.tolist(), strict=True)
    for k, (j, out, into) in enumerate(couplings, start=first):
        entries += _controlled(out, into, int(ends.ja[j]), int(ends.jk[j]), k)
    first += len(ends.cs)
    count = len(ends.md)
    for k, (d, g, s) in enumerate(zip(ends.md.tolist(), ends.mg.tolist(), ends.ms.tolist(), strict=True)):
        entries += _controlled(d, s, g, s, first + k)
        entries += [(d, s, first + count + k, 1), (s, d, first + count + k, 1)]
        entries += [(g, s, first + 2 * count + k, 1), (s, g, first + 2 * count + k, 1)]
    first += 3 * count
    for k, (i, j) in enumerate(zip(ends.xa.tolist(), ends.xb.tolist(), strict=True), start=first):
        entries += [(i, j, k, 1), (j, i, k, 1)]
    source = first + len(ends.xa)
    if red != size:
        entries.append((red, size, source, 1))
    passive = {*range(len(ends.ja)), *range(first - 2 * count, source + 1)}
    return [e for e in entries if e[0] != size], frozenset(passive)


def _controlled(out: int, into: int, plus: int, minus: int, k: int) -> list[Entry]:
    return [(out, plus, k, -1), (out, minus, k, 1), (into, plus, k, 1), (into, minus, k, -1)]
