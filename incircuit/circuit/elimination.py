"""Sparse elimination of nodal equations, one numpy operation for all scenarios at once.

A nodal matrix A is kept as off-diagonal conductances W[i, j] = −A[i, j] and the excess
e[i] = A[i, i] − Σ_j W[i, j], the conductance from node i to the reference node. Eliminating node k
with D = e[k] + Σ_j W[k, j] gives W[i, j] += W[i, k]·W[k, j]/D and e[i] += W[i, k]·e[k]/D: for a
passive network nothing is ever subtracted, so the result has full relative accuracy even for a
floating piece held by 1e-18 S beside a milliohm (star–mesh transformation; the numerics are those
of Grassmann, Taksar and Heyman, Oper. Res. 33 (1985) 1107). Controlled sources make some W
negative; the algebra stays exact and the caller proves the answer by its residual.

The elimination order is fixed once per network (minimum degree), so every step is a vector
operation over scenarios, which lie on the last axis.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Step:
    """Elimination of one node: slots of its row, its column and what they update."""

    node: int
    row: slice  # slots W[node, later]
    column: slice  # slots W[later, node]
    excess: int  # slot of e[node]
    later: Ints  # the neighbours eliminated later
    later_excess: Ints  # slots of e[later]
    target: Ints  # slots W[i, j], i ≠ j both later
    target_i: Ints  # positions of i in `later`
    target_j: Ints


@dataclass(frozen=True, slots=True)
class Plan:
    """The order of elimination and the layout of the slots.

    `slot_of[(i, j)]` is the slot of W[i, j]; `excess_of[i]` that of e[i]. Steps cover the eliminated
    nodes; `kept` are the nodes that stay, in the order given.
    """

    slots: int
    slot_of: dict[tuple[int, int], int]
    excess_of: tuple[int, ...]
    steps: tuple[Step, ...]
    kept: tuple[int, ...]


def make_plan(nodes: int, pairs: Iterable[tuple[int, int]], keep: Iterable[int] = ()) -> Plan:
    """Plan the elimination of all nodes 0 … nodes−1 but those in `keep`.

    `pairs` are the node pairs with an off-diagonal entry (structure is taken as symmetric).
    """
    neighbours: list[set[int]] = [set() for _ in range(nodes)]
    for i, j in pairs:
        if i != j:
            neighbours[i].add(j)
            neighbours[j].add(i)
    kept = tuple(sorted(set(keep)))
    order, later_of = _minimum_degree(neighbours, set(kept))
    slot_of: dict[tuple[int, int], int] = {}
    excess = [0] * nodes
    count = 0
    spans: list[tuple[slice, slice]] = []
    for node, later in zip(order, later_of, strict=True):
        start = count
        for position, other in enumerate(later):
            slot_of[node, other] = start + position
            slot_of[other, node] = start + len(later) + position
        spans.append((slice(start, start + len(later)), slice(start + len(later), start + 2 * len(later))))
        count += 2 * len(later)
    for i in kept:
        for j in sorted(neighbours[i]):
            slot_of[i, j] = count
            count += 1
    for node in range(nodes):
        excess[node] = count
        count += 1
    steps = tuple(
        _step(node, later, span, slot_of, excess)
        for node, later, span in zip(order, later_of, spans, strict=True)
    )
    return Plan(count, slot_of, tuple(excess), steps, kept)


def _minimum_degree(neighbours: list[set[int]], kept: set[int]) -> tuple[list[int], list[list[int]]]:
    """Order of elimination, smallest degree first, ties by number. Fills `neighbours` in."""
    import heapq

    left = set(range(len(neighbours))) - kept
    heap = [(len(neighbours[i]), i) for i in left]
    heapq.heapify(heap)
    order: list[int] = []
    later_of: list[list[int]] = []
    while heap:
        degree, node = heapq.heappop(heap)
        if node not in left or degree != len(neighbours[node]):
            continue
        left.remove(node)
        later = sorted(neighbours[node])
        order.append(node)
        later_of.append(later)
        for i in later:
            neighbours[i].discard(node)
            neighbours[i].update(j for j in later if j != i)
        for i in later:
            if i in left:
                heapq.heappush(heap, (len(neighbours[i]), i))
    return order, later_of


def _step(
    node: int,
    later: list[int],
    span: tuple[slice, slice],
    slot_of: dict[tuple[int, int], int],
    excess: list[int],
) -> Step:
    pairs = [(a, b) for a in range(len(later)) for b in range(len(later)) if a != b]
    return Step(
        node=node,
        row=span[0],
        column=span[1],
        excess=excess[node],
        later=np.array(later, dtype=np.intp),
        later_excess=np.array([excess[i] for i in later], dtype=np.intp),
        target=np.array([slot_of[later[a], later[b]] for a, b in pairs], dtype=np.intp),
        target_i=np.array([a for a, _ in pairs], dtype=np.intp),
        target_j=np.array([b for _, b in pairs], dtype=np.intp),
    )


def eliminate(plan: Plan, w: Floats) -> Floats:
    """Eliminate in place; `w` is (slots, scenarios). Returns 1/D, (steps, scenarios).

    Afterwards the slots of the kept nodes hold the reduced network, those of the eliminated nodes
    the factors that `forward` and `backward` use.
    """
    inverse = np.empty((len(plan.steps), w.shape[1]))
    for k, step in enumerate(plan.steps):
        row = w[step.row]
        own = w[step.excess]
        inv = np.divide(1.0, own + row.sum(axis=0), out=inverse[k])
        column = w[step.column]
        if len(step.later):
            w[step.later_excess] += column * (own * inv)
        if len(step.target):
            scaled = row * inv
            w[step.target] += column[step.target_i] * scaled[step.target_j]
    return inverse


def forward(plan: Plan, w: Floats, inverse: Floats, b: Floats) -> None:
    """Carry injected currents `b` (nodes, scenarios) to the kept nodes, in place."""
    for k, step in enumerate(plan.steps):
        if len(step.later):
            b[step.later] += w[step.column] * (b[step.node] * inverse[k])


def backward(plan: Plan, w: Floats, inverse: Floats, b: Floats, v: Floats) -> None:
    """Voltages of the eliminated nodes from those of the kept ones, into `v` in place."""
    for k in range(len(plan.steps) - 1, -1, -1):
        step = plan.steps[k]
        total = b[step.node]
        if len(step.later):
            total = total + (w[step.row] * v[step.later]).sum(axis=0)
        np.multiply(total, inverse[k], out=v[step.node])
