"""Which parts can influence a reading at all: blocks of the graph.

Two elements can influence each other's current only if a closed loop runs through both; with the
meter as one more branch between the pads, whatever lies in the meter's own block (biconnected
component, Whitney 1932; networkx `biconnected_components`, Hopcroft and Tarjan 1973) can matter
and nothing else can. A transistor couples its terminals, so each pair of them is a branch.
"""

from __future__ import annotations

from collections.abc import Iterable
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
    import networkx as nx

    listed = [e for e in elements if moving or not isinstance(e, Capacitance)]
    if red == black:
        return ()
    graph = nx.Graph()
    graph.add_edge(red, black)
    junctions = {e.name: e for e in listed if isinstance(e, Junction)}
    for element in listed:
        graph.add_edges_from(pair for pair in branches(element) if pair[0] != pair[1])
        if isinstance(element, Coupling) and element.junction in junctions:
            steering = junctions[element.junction]
            ends = {element.source, element.sink, steering.anode, steering.cathode}
            graph.add_edges_from(combinations(sorted(ends), 2))
    if magnetic:
        graph.add_edges_from(_through_cores(listed))
    inside: set[frozenset[str]] = set()
    for component in nx.biconnected_component_edges(graph):
        edges = {frozenset(edge) for edge in component}
        if frozenset((red, black)) in edges:
            inside = edges
            break
    # a coupling never goes without the junction it follows, also where that joins a node to itself
    followed = {e.junction for e in listed if isinstance(e, Coupling) and _inside(e, inside)}
    return tuple(e for e in listed if _inside(e, inside) or e.name in followed)


def _through_cores(elements: Iterable[Element]) -> set[Edge]:
    """Pairs of ends of windings on one core."""
    ends: dict[str, set[str]] = {}
    for e in elements:
        if isinstance(e, Resistance) and e.coil is not None and e.a != e.b:
            ends.setdefault(e.coil.core, set()).update((e.a, e.b))
    return {pair for nodes in ends.values() for pair in combinations(sorted(nodes), 2)}


def _inside(element: Element, edges: set[frozenset[str]]) -> bool:
    return any(frozenset(pair) in edges for pair in branches(element))


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
