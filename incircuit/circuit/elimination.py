"""Sparse elimination of nodal equations, one numpy operation for all scenarios at once.

A nodal matrix A is kept as off-diagonal conductances W[i, j] = −A[i, j] and the excess
e[i] = A[i, i] − Σ_j W[i, j], the conductance from node i to the reference node. Eliminating node k
with D = e[k] + Σ_j W[k, j] gives W[i, j] += W[i, k]·W[k, j]/D and e[i] += W[i, k]·e[k]/D: for a
passive network nothing is ever subtracted, so the result has full relative accuracy even for a
floating piece held by 1e-18 S beside a milliohm (star–mesh transformation; the numerics are those
of Grassmann, Taksar and Heyman, Oper. Res. 33 (1985) 1107).

Controlled sources make some W of large and opposite sign; there the sum would cancel, so active
rows keep their diagonal itself and update it the usual way, D[i] −= W[i, k]·W[k, i]/D[k]. Which rows
are or become active is known beforehand. The caller proves every answer by its residual.

A network without controlled sources is symmetric: then W[i, j] and W[j, i] share one slot.

The elimination order is fixed once per network (minimum degree), so every step is a vector
operation over scenarios, which lie on the last axis.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]


LONG = 512
"""Rows of so many scenarios are worked on one by one: fewer passes over memory, and calls no longer count."""
SMALLEST = 1e-18
"""A diagonal that cancels to less than this [S] is held here; the iteration goes on and is checked."""


@dataclass(frozen=True, slots=True)
class Wake:
    """A passive row that an active neighbour's elimination makes active: where its sum is."""

    diagonal: int
    excess: int
    row: Ints


@dataclass(frozen=True, slots=True)
class Step:
    """Elimination of one node: slots of its row, its column and what they update."""

    node: int
    row: slice  # slots W[node, later]
    column: slice  # slots W[later, node]
    excess: int  # slot of e[node]
    diagonal: int  # slot of D[node], kept up only for active rows
    active: bool
    later: Ints  # the neighbours eliminated later
    later_excess: Ints  # slots of e[later]
    target: Ints  # slots W[i, j], i ≠ j both later
    target_i: Ints  # positions of i in `later`
    target_j: Ints
    wakes: tuple[Wake, ...]
    live: Ints  # positions in `later` of rows that are active after this step
    live_diagonal: Ints


@dataclass(frozen=True, slots=True)
class Plan:
    """The order of elimination and the layout of the slots.

    `slot_of[(i, j)]` is the slot of W[i, j]; `excess_of[i]` that of e[i], `diagonal_of[i]` that of
    D[i]. Steps cover the eliminated nodes; `kept` are the nodes that stay, in the order given.
    """

    slots: int
    symmetric: bool
    slot_of: dict[tuple[int, int], int]
    excess_of: tuple[int, ...]
    diagonal_of: tuple[int, ...]
    steps: tuple[Step, ...]
    kept: tuple[int, ...]

    @property
    def excesses(self) -> slice:
        """The slots of all e[i]: they lie side by side."""
        first = self.excess_of[0] if self.excess_of else 0
        return slice(first, first + len(self.excess_of))


@dataclass(frozen=True, slots=True)
class _Elimination:
    """One node's turn: its later neighbours, and the rows it wakes with their neighbours then."""

    node: int
    later: list[int]
    active: bool
    wakes: list[tuple[int, list[int]]]
    live: list[int]


def make_plan(nodes: int, pairs: Iterable[tuple[int, int]], keep: Iterable[int] = (),
              active: Iterable[int] = ()) -> Plan:
    """Plan the elimination of all nodes 0 … nodes−1 but those in `keep`.

    `pairs` are the node pairs with an off-diagonal entry (structure is taken as symmetric), `active`
    the rows with entries of controlled sources.
    """
    neighbours: list[set[int]] = [set() for _ in range(nodes)]
    for i, j in pairs:
        if i != j:
            neighbours[i].add(j)
            neighbours[j].add(i)
    kept = tuple(sorted(set(keep)))
    order = _minimum_degree(neighbours, set(kept), set(active))
    slot_of: dict[tuple[int, int], int] = {}
    symmetric = not any(turn.active for turn in order) and not set(active)
    count = 0
    spans: list[tuple[slice, slice]] = []
    for turn in order:
        size = len(turn.later)
        row = slice(count, count + size)
        column = row if symmetric else slice(count + size, count + 2 * size)
        for position, other in enumerate(turn.later):
            slot_of[turn.node, other] = row.start + position
            slot_of[other, turn.node] = column.start + position
        spans.append((row, column))
        count = column.stop
    for i in kept:
        for j in sorted(neighbours[i]):
            if symmetric and j < i:
                slot_of[i, j] = slot_of[j, i]
                continue
            slot_of[i, j] = count
            count += 1
    excess = tuple(range(count, count + nodes))
    diagonal = tuple(range(count + nodes, count + 2 * nodes))
    steps = tuple(_step(turn, span, slot_of, excess, diagonal, symmetric)
                  for turn, span in zip(order, spans, strict=True))
    return Plan(count + 2 * nodes, symmetric, slot_of, excess, diagonal, steps, kept)


def _minimum_degree(neighbours: list[set[int]], kept: set[int], active: set[int]) -> list[_Elimination]:
    """Order of elimination, smallest degree first, ties by number. Fills `neighbours` in."""
    import heapq

    left = set(range(len(neighbours))) - kept
    heap = [(len(neighbours[i]), i) for i in left]
    heapq.heapify(heap)
    order: list[_Elimination] = []
    while heap:
        degree, node = heapq.heappop(heap)
        if node not in left or degree != len(neighbours[node]):
            continue
        left.remove(node)
        later = sorted(neighbours[node])
        woken = [i for i in later if i not in active] if node in active else []
        wakes = [(i, sorted(neighbours[i])) for i in woken]
        active.update(woken)
        order.append(_Elimination(node, later, node in active, wakes, [i for i in later if i in active]))
        for i in later:
            neighbours[i].discard(node)
            neighbours[i].update(j for j in later if j != i)
        for i in later:
            if i in left:
                heapq.heappush(heap, (len(neighbours[i]), i))
    return order


def _step(turn: _Elimination, span: tuple[slice, slice], slot_of: dict[tuple[int, int], int],
          excess: tuple[int, ...], diagonal: tuple[int, ...], symmetric: bool) -> Step:
    later = turn.later
    pairs = [(a, b) for a in range(len(later)) for b in range(len(later)) if (a < b if symmetric else a != b)]
    return Step(
        node=turn.node,
        row=span[0],
        column=span[1],
        excess=excess[turn.node],
        diagonal=diagonal[turn.node],
        active=turn.active,
        later=_ints(later),
        later_excess=_ints([excess[i] for i in later]),
        target=_ints([slot_of[later[a], later[b]] for a, b in pairs]),
        target_i=_ints([a for a, _ in pairs]),
        target_j=_ints([b for _, b in pairs]),
        wakes=tuple(Wake(diagonal[i], excess[i], _ints([slot_of[i, j] for j in near]))
                    for i, near in turn.wakes),
        live=_ints([later.index(i) for i in turn.live]),
        live_diagonal=_ints([diagonal[i] for i in turn.live]),
    )


def _ints(values: list[int]) -> Ints:
    return np.array(values, dtype=np.intp)


def eliminate(plan: Plan, w: Floats) -> Floats:
    """Eliminate in place; `w` is (slots, scenarios). Returns 1/D, (steps, scenarios).

    Afterwards the slots of the kept nodes hold the reduced network, those of the eliminated nodes
    the factors that `forward` and `backward` use.
    """
    if plan.symmetric and w.shape[1] >= LONG:
        return _eliminate_rows(plan, w)
    inverse = np.empty((len(plan.steps), w.shape[1]))
    for k, step in enumerate(plan.steps):
        row = w[step.row]
        own = w[step.excess]
        if step.active:
            pivot = w[step.diagonal]
            pivot = np.where(np.abs(pivot) > SMALLEST, pivot, SMALLEST)
        else:
            pivot = own + row.sum(axis=0)
        inv = np.divide(1.0, pivot, out=inverse[k])
        for wake in step.wakes:
            w[wake.diagonal] = w[wake.excess] + w[wake.row].sum(axis=0)
        column = w[step.column]
        if len(step.later):
            w[step.later_excess] += column * (own * inv)
        if len(step.live):
            w[step.live_diagonal] -= column[step.live] * row[step.live] * inv
        if len(step.target):
            scaled = row * inv
            w[step.target] += column[step.target_i] * scaled[step.target_j]
    return inverse


def forward(plan: Plan, w: Floats, inverse: Floats, b: Floats) -> None:
    """Carry injected currents `b` (nodes, scenarios) to the kept nodes, in place."""
    if b.shape[1] >= LONG:
        _forward_rows(plan, w, inverse, b)
        return
    for k, step in enumerate(plan.steps):
        if len(step.later):
            b[step.later] += w[step.column] * (b[step.node] * inverse[k])


def backward(plan: Plan, w: Floats, inverse: Floats, b: Floats, v: Floats) -> None:
    """Voltages of the eliminated nodes from those of the kept ones, into `v` in place."""
    if v.shape[1] >= LONG:
        _backward_rows(plan, w, inverse, b, v)
        return
    for k in range(len(plan.steps) - 1, -1, -1):
        step = plan.steps[k]
        total = b[step.node]
        if len(step.later):
            total = total + (w[step.row] * v[step.later]).sum(axis=0)
        np.multiply(total, inverse[k], out=v[step.node])


def _eliminate_rows(plan: Plan, w: Floats) -> Floats:
    """`eliminate` on a symmetric plan row by row, to the same digits."""
    inverse, rows = np.empty((len(plan.steps), w.shape[1])), list(w)
    room, scaled = np.empty(w.shape[1]), np.empty((_widest(plan), w.shape[1]))
    for k, step in enumerate(plan.steps):
        own, inv, mine = rows[step.excess], inverse[k], rows[step.row]
        np.divide(1.0, _total(own, mine, inv), out=inv)
        np.multiply(own, inv, out=scaled[0])
        for row, e in zip(mine, step.later_excess.tolist(), strict=True):
            np.add(rows[e], np.multiply(row, scaled[0], out=room), out=rows[e])
        if len(step.target):
            for q, row in enumerate(mine):
                np.multiply(row, inv, out=scaled[q])
        for t, i, j in zip(step.target.tolist(), step.target_i.tolist(), step.target_j.tolist(), strict=True):
            np.add(rows[t], np.multiply(mine[i], scaled[j], out=room), out=rows[t])
    return inverse


def _forward_rows(plan: Plan, w: Floats, inverse: Floats, b: Floats) -> None:
    """`forward` row by row, to the same digits."""
    rows, into, carried, room = list(w), list(b), np.empty(b.shape[1]), np.empty(b.shape[1])
    for k, step in enumerate(plan.steps):
        np.multiply(into[step.node], inverse[k], out=carried)
        for row, i in zip(rows[step.column], step.later.tolist(), strict=True):
            np.add(into[i], np.multiply(row, carried, out=room), out=into[i])


def _backward_rows(plan: Plan, w: Floats, inverse: Floats, b: Floats, v: Floats) -> None:
    """`backward` row by row, to the same digits."""
    rows, into, room, total = list(w), list(v), np.empty(v.shape[1]), np.empty(v.shape[1])
    for k in range(len(plan.steps) - 1, -1, -1):
        step = plan.steps[k]
        for q, (row, i) in enumerate(zip(rows[step.row], step.later.tolist(), strict=True)):
            product = np.multiply(row, into[i], out=room if q else total)
            if q:
                np.add(total, product, out=total)
        found = np.add(b[step.node], total, out=total) if len(step.later) else b[step.node]
        np.multiply(found, inverse[k], out=into[step.node])


def _widest(plan: Plan) -> int:
    return max([1, *(len(step.later) for step in plan.steps)])


def _total(own: Floats, rows: Sequence[Floats], out: Floats) -> Floats:
    """An excess and a row of conductances, added up."""
    if not rows:
        return own
    out[:] = rows[0]
    for row in rows[1:]:
        np.add(out, row, out=out)
    return np.add(own, out, out=out)
