"""Elements on nodes, compiled for the solver: numbered nodes and index arrays, no values.

Values live in `Values`, so that one compiled `Network` serves thousands of scenarios.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Ints, Plan, make_plan
from incircuit.parts.elements import (
    INFINITE,
    Capacitance,
    Channel,
    Coupling,
    Element,
    Junction,
    Resistance,
    nodes_of,
)

LINK_OHMS = 2e-4
"""Resistances up to this are links: their ends are one node. At a meter's milliampere that is 0.2 µV."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """Where conductances go: entry k of a stack of conductances adds sign[k]·stack[source[k]] to slot[k]."""

    slot: Ints
    source: Ints
    sign: Ints


@dataclass(frozen=True, slots=True)
class Network:
    """A compiled topology between two pads.

    Nodes are numbered 0 … n−1; the black pad is the reference and has number n. `index` maps every
    node name to its number (names joined by links share one). Arrays `*_a`, `*_k` … hold node
    numbers per element, in the order of the tuples of elements.
    """

    index: dict[str, int]
    size: int
    red: int  # node number of the red pad; equals `size` when both pads are one node
    resistances: tuple[Resistance, ...]
    junctions: tuple[Junction, ...]
    couplings: tuple[Coupling, ...]
    channels: tuple[Channel, ...]
    capacitances: tuple[Capacitance, ...]
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
    linear: Plan  # eliminates the nodes that meet only resistances
    ports: Ints  # the nodes that stay, node numbers in port order
    port: Plan  # eliminates the ports
    base_from: Ints  # slots of `linear` that describe the reduced network …
    base_to: Ints  # … and their slots in `port`
    linear_stamp: Stamp  # resistances into `linear`
    port_stamp: Stamp  # junctions, couplings, channels (gm, gds, gate leak) and the source into `port`

    @property
    def black(self) -> int:
        return self.size

    @property
    def shorted(self) -> bool:
        """Both pads on one node: nothing to solve."""
        return self.red == self.size

    def node_names(self) -> tuple[tuple[str, ...], ...]:
        """Names per node number, the reference node last."""
        names: list[list[str]] = [[] for _ in range(self.size + 1)]
        for name, number in self.index.items():
            names[number].append(name)
        return tuple(tuple(n) for n in names)


def compile_network(elements: Iterable[Element], red: str, black: str,
                    keep_links: bool = False) -> Network:
    """Number the nodes and lay out the equations for a meter between `red` and `black`.

    `elements` need not contain the pads: a pad nothing touches is a floating node. The order of the
    elements does not matter to the answer: they are sorted by name. With `keep_links`, links stay
    elements of `LINK_OHMS` so that a batch may open them.
    """
    listed = sorted(elements, key=lambda e: e.name)
    merged = _merge_links(listed, keep_links)
    index = _number(listed, merged, red, black)
    size = max(index.values(), default=0)
    by_type: dict[type[Element], list[Element]] = {
        t: [] for t in (Resistance, Junction, Coupling, Channel, Capacitance)
    }
    for element in listed:
        by_type[type(element)].append(element)
    resistances = tuple(
        e for e in by_type[Resistance]
        if isinstance(e, Resistance) and e.ohms != INFINITE and index[e.a] != index[e.b]
    )
    junctions = tuple(e for e in by_type[Junction] if isinstance(e, Junction))
    couplings = tuple(e for e in by_type[Coupling] if isinstance(e, Coupling))
    channels = tuple(e for e in by_type[Channel] if isinstance(e, Channel))
    capacitances = tuple(e for e in by_type[Capacitance] if isinstance(e, Capacitance))
    which = {j.name: k for k, j in enumerate(junctions)}
    arrays = {
        "ra": _ints(index[e.a] for e in resistances),
        "rb": _ints(index[e.b] for e in resistances),
        "ja": _ints(index[e.anode] for e in junctions),
        "jk": _ints(index[e.cathode] for e in junctions),
        "cj": _ints(which[e.junction] for e in couplings),
        "cs": _ints(index[e.source] for e in couplings),
        "ck": _ints(index[e.sink] for e in couplings),
        "md": _ints(index[e.d] for e in channels),
        "mg": _ints(index[e.g] for e in channels),
        "ms": _ints(index[e.s] for e in channels),
    }
    plans = _plans(size, index[red], arrays)
    return Network(index, size, index[red], resistances, junctions, couplings, channels,
                   capacitances, **arrays, **plans)


def _ints(values: Iterable[int]) -> Ints:
    return np.array(list(values), dtype=np.intp)


def _merge_links(elements: Sequence[Element], keep_links: bool) -> dict[str, str]:
    """Representative of each node after joining the ends of links (union–find)."""
    parent: dict[str, str] = {}

    def find(name: str) -> str:
        root = name
        while parent.get(root, root) != root:
            root = parent[root]
        while parent.get(name, name) != root:
            parent[name], name = root, parent[name]
        return root

    for element in elements:
        for node in nodes_of(element):
            parent.setdefault(node, node)
        if isinstance(element, Resistance) and element.ohms <= LINK_OHMS and not keep_links:
            parent[find(element.b)] = find(element.a)
    return {name: find(name) for name in parent}


def _number(elements: Sequence[Element], merged: dict[str, str], red: str, black: str) -> dict[str, int]:
    """Numbers in order of first mention by the sorted elements; the reference node comes last."""
    reference = merged.get(black, black)
    numbers: dict[str, int] = {}
    for name in [red, *(n for e in elements for n in nodes_of(e))]:
        root = merged.get(name, name)
        if root != reference and root not in numbers:
            numbers[root] = len(numbers)
    numbers[reference] = len(numbers)
    index = {name: numbers[root] for name, root in merged.items()}
    index.setdefault(red, numbers[merged.get(red, red)])
    index.setdefault(black, numbers[reference])
    return index


def _plans(size: int, red: int, a: dict[str, Ints]) -> dict[str, object]:
    """Both elimination plans and the stamps into them."""
    nonlinear = _nonlinear_entries(a)
    ports = {i for i in (*a["ja"], *a["jk"], *a["cs"], *a["ck"], *a["md"], *a["mg"], *a["ms"], red)
             if i != size}
    ports_sorted = sorted(int(p) for p in ports)
    linear_entries = []
    for k, (i, j) in enumerate(zip(a["ra"].tolist(), a["rb"].tolist(), strict=True)):
        linear_entries += [(i, j, k, 1), (j, i, k, 1)]
    linear = make_plan(size, [(i, j) for i, j, _, _ in linear_entries if size not in (i, j)], ports_sorted)
    local = {node: p for p, node in enumerate(ports_sorted)}
    reduced = [(i, j) for (i, j) in linear.slot_of if i in local and j in local]
    source_entry = len(a["ja"]) + len(a["cs"]) + 3 * len(a["md"])
    if red != size:
        nonlinear.append((red, size, source_entry, 1))
    nonlinear = [(i, j, k, s) for i, j, k, s in nonlinear if i != size]
    pairs = reduced + [(i, j) for i, j, _, _ in nonlinear if j != size]
    junctions, couplings, channels = len(a["ja"]), len(a["cs"]), len(a["md"])
    passive = {*range(junctions), *range(junctions + couplings + channels, source_entry + 1)}
    active = {local[i] for i in (*a["cs"].tolist(), *a["ck"].tolist(), *a["md"].tolist(), *a["ms"].tolist())
              if i != size}
    port = make_plan(len(ports_sorted), [(local[i], local[j]) for i, j in pairs], active=active)
    moves = [(linear.slot_of[i, j], port.slot_of[local[i], local[j]]) for i, j in reduced]
    moves += [(linear.excess_of[i], port.excess_of[local[i]]) for i in ports_sorted]
    return {
        "linear": linear,
        "ports": _ints(ports_sorted),
        "port": port,
        "base_from": _ints(m[0] for m in moves),
        "base_to": _ints(m[1] for m in moves),
        "linear_stamp": _stamp(linear, linear_entries, size, None),
        "port_stamp": _stamp(port, nonlinear, size, local, frozenset(passive)),
    }


def _stamp(plan: Plan, entries: list[tuple[int, int, int, int]], size: int,
           local: dict[int, int] | None, passive: frozenset[int] = frozenset()) -> Stamp:
    """Slots for entries (row, column, source, sign): W[row, column] += sign·stack[source].

    The sources in `passive` are conductances and go to the diagonal too.
    """
    slots, sources, signs = [], [], []
    for i, j, k, sign in entries:
        if i == size:
            continue
        row = local[i] if local else i
        if i == j:  # a controlled source at its own controlling node
            slots.append(plan.diagonal_of[row])
            sources.append(k)
            signs.append(-sign)
            continue
        if k in passive:
            slots.append(plan.diagonal_of[row])
            sources.append(k)
            signs.append(sign)
        if j == size:
            slots.append(plan.excess_of[row])
        else:
            slots.append(plan.slot_of[row, local[j] if local else j])
        sources.append(k)
        signs.append(sign)
    return Stamp(_ints(slots), _ints(sources), _ints(signs))


def _nonlinear_entries(a: dict[str, Ints]) -> list[tuple[int, int, int, int]]:
    """(row, column, entry, sign) of junction conductances, coupling and channel transconductances.

    The stack of conductances is: junctions, couplings, channel gm, gds, gate leak, source. A current
    gain·(V_a − V_k) from `source` into `sink` has W[source, a] −= g, W[source, k] += g and the
    opposite in the row of `sink`.
    """
    entries: list[tuple[int, int, int, int]] = []
    for k, (i, j) in enumerate(zip(a["ja"].tolist(), a["jk"].tolist(), strict=True)):
        entries += [(i, j, k, 1), (j, i, k, 1)]
    first = len(a["ja"])
    for k, (j, out, into) in enumerate(zip(a["cj"].tolist(), a["cs"].tolist(), a["ck"].tolist(), strict=True)):
        plus, minus = int(a["ja"][j]), int(a["jk"][j])
        entries += _controlled(out, into, plus, minus, first + k)
    first += len(a["cs"])
    count = len(a["md"])
    for k, (d, g, s) in enumerate(zip(a["md"].tolist(), a["mg"].tolist(), a["ms"].tolist(), strict=True)):
        entries += _controlled(d, s, g, s, first + k)
        entries += [(d, s, first + count + k, 1), (s, d, first + count + k, 1)]
        entries += [(g, s, first + 2 * count + k, 1), (s, g, first + 2 * count + k, 1)]
    return entries


def _controlled(out: int, into: int, plus: int, minus: int, k: int) -> list[tuple[int, int, int, int]]:
    return [(out, plus, k, -1), (out, minus, k, 1), (into, plus, k, 1), (into, minus, k, -1)]
