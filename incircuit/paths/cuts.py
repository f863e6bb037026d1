"""The cheapest leads to lift so that nothing but the suspect joins two nodes: a minimum cut."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping

from incircuit.board.model import Part

Lead = tuple[str, str]
"""A pin of a part, (ref, pin)."""


def cheapest_cut(parts: Iterable[Part], at: Mapping[Lead, str], source: str, sink: str,
                 cost: Callable[[Part], float], most: float) -> tuple[Lead, ...] | None:
    """The leads whose lifting parts two nodes at least cost, below `most` in sum; None where there are none.

    Every lead is an edge from its node to its part, with the cost of lifting it as capacity (networkx
    `minimum_cut`: Ford and Fulkerson's theorem). `at` gives the node of a lead that is not on its net.
    An empty cut: nothing joins the two.
    """
    import networkx as nx

    graph = nx.Graph()
    graph.add_nodes_from([("net", source), ("net", sink)])
    leads: dict[tuple[str, str], list[Lead]] = {}
    for part in parts:
        for pin, net in part.pins:
            node = at.get((part.ref, pin), net)
            leads.setdefault((node, part.ref), []).append((part.ref, pin))
        for node in dict.fromkeys(at.get((part.ref, pin), net) for pin, net in part.pins):
            graph.add_edge(("net", node), ("part", part.ref),
                           capacity=cost(part) * len(leads[node, part.ref]))
    total, (first, _) = nx.minimum_cut(graph, ("net", source), ("net", sink))
    if total >= most:
        return None
    return tuple(lead for (node, ref), some in leads.items()
                 if (("net", node) in first) != (("part", ref) in first) for lead in some)
