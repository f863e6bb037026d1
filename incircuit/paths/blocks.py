"""Which parts can influence a reading at all: blocks of the graph.

Two elements can influence each other's current only if a closed loop runs through both; with the
meter as one more branch between the pads, whatever lies in the meter's own block (biconnected
component, Whitney 1932; found as by Hopcroft and Tarjan, Communications of the ACM 16 (1973) 372) can
matter and nothing else can. A transistor couples its terminals, so each pair of them is a branch.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import combinations

from incircuit.parts.elements import Capacitance, Channel, Coupling, Element, Junction, Resistance

Edge = tuple[str, str]


def branches(element: Element) -> tuple[Edge, ...]:
    """Node pairs an element joins or couples."""
    match element:
        case Resistance():
            return () if element.ohms == float("inf") else ((element.a, element.b),)
        case Capacitance():
            return ((element.a, element.b),)
        case Junction():
            return ((element.anode, element.cathode),)
        case Coupling():
            return ((element.source, element.sink),)
        case Channel():
            return tuple(combinations((element.d, element.g, element.s), 2))


def meters_block(elements: Iterable[Element], red: str, black: str,
                 moving: bool = False, magnetic: bool = False) -> tuple[Element, ...]:
    """The elements that can influence a reading between the pads, in their order.

    Capacitances count only when `moving`: for the settled reading they are open. `magnetic`: for alternating
    current, to which the windings of one core are joined.
    """
    listed = [e for e in elements if moving or not isinstance(e, Capacitance)]
    if red == black:
        return ()
    near: dict[str, dict[str, None]] = {red: {black: None}, black: {red: None}}
    junctions = {e.name: e for e in listed if isinstance(e, Junction)}
    pairs = [branches(e) for e in listed]
    joined: list[Edge] = []
    for element, own in zip(listed, pairs, strict=True):
        if isinstance(element, Coupling) and element.junction in junctions:
            steering = junctions[element.junction]
            ends = {element.source, element.sink, steering.anode, steering.cathode}
            own = tuple(combinations(sorted(ends), 2))
        joined += own
    for a, b in (*joined, *(_through_cores(listed) if magnetic else ())):
        if a != b:
            near.setdefault(a, {})[b] = None
            near.setdefault(b, {})[a] = None
    nodes = _block_of(near, red, black)
    inside = [any(a != b and a in nodes and b in nodes for a, b in own) for own in pairs]
    # a coupling never goes without the junction it follows, also where that joins a node to itself
    followed = {e.junction for e, kept in zip(listed, inside, strict=True)
                if kept and isinstance(e, Coupling)}
    return tuple(e for e, kept in zip(listed, inside, strict=True) if kept or e.name in followed)


def _through_cores(elements: Iterable[Element]) -> set[Edge]:
    """Pairs of ends of windings on one core."""
    ends: dict[str, set[str]] = {}
    for e in elements:
        if isinstance(e, Resistance) and e.coil is not None and e.a != e.b:
            ends.setdefault(e.coil.core, set()).update((e.a, e.b))
    return {pair for nodes in ends.values() for pair in combinations(sorted(nodes), 2)}


def _block_of(near: Mapping[str, Iterable[str]], red: str, black: str) -> set[str]:
    """Nodes of the block in which the branch between two nodes lies. A search in depth goes along that branch
    first; what comes back above a node hangs on it alone (Hopcroft and Tarjan), and two nodes of a block are
    together in no other."""
    number, low, above = {black: 0, red: 1}, {red: 1}, {red: black}
    kept = [red]
    todo = [(red, iter(near[red]))]
    while todo:
        node, others = todo[-1]
        for other in others:
            if other not in number:
                number[other] = low[other] = len(number)
                above[other] = node
                kept.append(other)
                todo.append((other, iter(near[other])))
                break
            if other != above[node]:
                low[node] = min(low[node], number[other])
        else:
            todo.pop()
            parent = above[node]
            if node != red and low[node] >= number[parent]:
                del kept[kept.index(node):]
            elif node != red:
                low[parent] = min(low[parent], low[node])
    return {black, *kept}


def hangs_on(elements: Iterable[Element], block: Iterable[Element], red: str, black: str) -> dict[str, str]:
    """Which node of the meter's block each node hangs on; nodes in no contact with it are left out.

    `block` is what `meters_block` gave for the same elements. Whatever lies outside the block meets
    it at one node only, so a new branch between two nodes joins the block exactly where these hang
    on different nodes of it.
    """
    inside = list(block)
    names = {e.name for e in inside}
    hook = {node: node for node in (red, black, *(n for e in inside for pair in branches(e) for n in pair))}
    near: dict[str, list[str]] = {}
    for element in elements:
        if element.name not in names:
            for a, b in branches(element):
                near.setdefault(a, []).append(b)
                near.setdefault(b, []).append(a)
    queue = list(hook)
    while queue:
        node = queue.pop()
        for other in near.get(node, ()):
            if other not in hook:
                hook[other] = hook[node]
                queue.append(other)
    return hook


def parts_of(elements: Iterable[Element]) -> tuple[str, ...]:
    """Refs of the parts the elements belong to, in order, each once."""
    return tuple(dict.fromkeys(e.part for e in elements if e.part))
