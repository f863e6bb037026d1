"""Who carries the meter's current: a solved network's currents taken apart into paths with shares.

Currents between nodes form a flow from one pad to the other. It is taken apart by removing the
widest path again and again (flow decomposition, Ford and Fulkerson 1962); in a network of
resistances and junctions current only runs from higher to lower voltage, so the flow has no loops.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from incircuit.circuit.kirchhoff import branch_currents
from incircuit.circuit.solve import Solution

NEGLIGIBLE = 1e-3
"""Paths that carry less than this share of the meter's current are not listed."""
LEAST_CURRENT = 1e-9
"""Below this meter current [A] nothing but leakage flows and no path is named."""


@dataclass(frozen=True, slots=True)
class Arc:
    """A current `amps` > 0 [A] from node `tail` to node `head` through part `part`."""

    tail: int
    head: int
    part: str
    amps: float


@dataclass(frozen=True, slots=True)
class Path:
    """A way of the meter's current from pad to pad, and the share of the current that takes it.

    `hops[k]` is the part between `nodes[k]` and `nodes[k + 1]` (empty for a wire), `parts` each part
    once in the order the current meets them.
    """

    parts: tuple[str, ...]
    nodes: tuple[int, ...]
    share: float
    hops: tuple[str, ...]


def arcs(solution: Solution, scenario: int = 0) -> tuple[Arc, ...]:
    """All currents of one scenario as arcs; elements of one part between two nodes are added up."""
    network = solution.network
    column = slice(scenario, scenario + 1)
    values = solution.values.take(column)
    currents = branch_currents(network, values, solution.v[:, column], solution.vd[:, column])
    net: dict[tuple[int, int, str], float] = defaultdict(float)

    def add(tails: list[int], heads: list[int], parts: list[str], amps: list[float]) -> None:
        for tail, head, part, i in zip(tails, heads, parts, amps, strict=True):
            if tail != head:
                low, high, value = (tail, head, i) if tail < head else (head, tail, -i)
                net[low, high, part] += value

    for tails, heads, owners, amps in (
        (network.ends.ra, network.ends.rb, network.resistances, currents.resistances),
        (network.ends.ja, network.ends.jk, network.junctions, currents.junctions),
        (network.ends.cs, network.ends.ck, network.couplings, currents.couplings),
        (network.ends.md, network.ends.ms, network.channels, currents.channels),
    ):
        add(tails.tolist(), heads.tolist(), [e.part for e in owners], amps[:, 0].tolist())
    return tuple(
        Arc(a, b, part, i) if i > 0 else Arc(b, a, part, -i)
        for (a, b, part), i in net.items() if i != 0.0
    )


def current_paths(solution: Solution, scenario: int = 0, most: int = 12) -> tuple[Path, ...]:
    """Paths of the meter's current, widest first; empty where nothing but leakage flows."""
    network = solution.network
    total = float(solution.current[scenario])
    if abs(total) < LEAST_CURRENT or network.shorted:
        return ()
    start, end = (network.red, network.black) if total > 0 else (network.black, network.red)
    left: dict[tuple[int, int, str], float] = defaultdict(float)
    for arc in arcs(solution, scenario):
        left[arc.tail, arc.head, arc.part] += arc.amps
    found: list[Path] = []
    while len(found) < most:
        widest = _widest(left, start, end)
        if widest is None or widest[1] < NEGLIGIBLE * abs(total):
            break
        steps, width = widest
        for step in steps:
            left[step] -= width
        hops = tuple(part for _, _, part in steps)
        parts = tuple(dict.fromkeys(part for part in hops if part))
        found.append(Path(parts, (start, *(head for _, head, _ in steps)), width / abs(total), hops))
    return tuple(found)


def _widest(left: dict[tuple[int, int, str], float], start: int,
            end: int) -> tuple[list[tuple[int, int, str]], float] | None:
    """The path of largest bottleneck (Dijkstra with max–min), ties by node number and ref."""
    import heapq

    out: dict[int, list[tuple[float, int, str]]] = defaultdict(list)
    for (tail, head, part), amps in left.items():
        if amps > 0.0:
            out[tail].append((amps, head, part))
    best: dict[int, float] = {start: float("inf")}
    via: dict[int, tuple[int, int, str]] = {}
    heap: list[tuple[float, int]] = [(-float("inf"), start)]
    closed: set[int] = set()
    while heap:
        negative, node = heapq.heappop(heap)
        if node in closed:
            continue
        closed.add(node)
        if node == end:
            break
        for amps, head, part in sorted(out[node], key=lambda a: (-a[0], a[1], a[2])):
            width = min(-negative, amps)
            if head not in closed and width > best.get(head, 0.0):
                best[head] = width
                via[head] = (node, head, part)
                heapq.heappush(heap, (-width, head))
    if end not in via:
        return None
    steps = []
    node = end
    while node != start:
        steps.append(via[node])
        node = via[node][0]
    return steps[::-1], best[end]


def part_shares(paths: tuple[Path, ...]) -> tuple[tuple[str, float], ...]:
    """(part, share of the meter's current that runs through it), largest first."""
    shares: dict[str, float] = defaultdict(float)
    for path in paths:
        for part in path.parts:
            shares[part] += path.share
    return tuple(sorted(((p, min(s, 1.0)) for p, s in shares.items()), key=lambda x: (-x[1], x[0])))
