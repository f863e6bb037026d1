"""Where to put the probes for a part, when its own pads are hidden."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

from incircuit.board.model import Part
from incircuit.board.state import pad_node
from incircuit.circuit.build import Circuit
from incircuit.circuit.network import LINK_OHMS
from incircuit.parts.elements import Resistance


@dataclass(frozen=True, slots=True)
class Place:
    """Where a pin can be touched: `pad` (empty: nowhere), through `via` (refs in between, none: its own net)
    that add `ohms`."""

    pin: str
    net: str
    pad: str
    via: tuple[str, ...]
    ohms: float


def places_of(circuit: Circuit, part: Part) -> tuple[Place, ...]:
    """The nearest place for each pin: its net where that can be touched, else another along the way of least
    resistance (Dijkstra over links, windings, fuses and resistors)."""
    state = circuit.state
    found = []
    for pin, net in part.pins:
        node = pad_node(part.ref, pin) if (part.ref, pin) in state.lifted else net
        found.append(_nearest(circuit, part, pin, node))
    return tuple(found)


def pairs_for(places: tuple[Place, ...]) -> tuple[tuple[Place, Place], ...]:
    """Pairs of pins with two different pads to touch."""
    return tuple((a, b) for a, b in combinations(places, 2) if a.pad and b.pad and a.pad != b.pad)


def _nearest(circuit: Circuit, part: Part, pin: str, node: str) -> Place:
    import networkx as nx

    hidden = {net.name for net in circuit.board.nets if net.hidden}
    graph = nx.Graph()
    graph.add_node(node)
    for e in circuit.elements:
        if isinstance(e, Resistance) and e.part != part.ref and e.ohms < float("inf"):
            ohms = max(e.ohms, LINK_OHMS)
            if not graph.has_edge(e.a, e.b) or graph.edges[e.a, e.b]["ohms"] > ohms:
                graph.add_edge(e.a, e.b, ohms=ohms, part=e.part)
    lengths, ways = nx.single_source_dijkstra(graph, node, weight="ohms")
    touchable = [n for n in lengths if n == node or n in circuit.board.net_names()]
    near = sorted((lengths[n], n) for n in touchable if n not in hidden)
    if not near:
        return Place(pin, node, "", (), 0.0)
    ohms, pad = near[0]
    hops = [graph.edges[a, b]["part"] for a, b in zip(ways[pad], ways[pad][1:], strict=False)]
    shown = pad if pad != pad_node(part.ref, pin) else f"{part.ref}.{pin}"
    return Place(pin, node, shown, tuple(dict.fromkeys(h for h in hops if h)), 0.0 if pad == node else ohms)
