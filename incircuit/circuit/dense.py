"""The same elimination without subtraction on full rows: fewer, larger operations for a few scenarios.

Row i of the array holds the injected current, the excess to the reference node and W[i, 0 … ports−1], see
`incircuit.circuit.elimination`. Nodes go in descending order, so what is left is always the leading block,
and a step is five numpy calls whatever the network. What elimination adds at W[i, i] is exactly what an
active row's diagonal loses: such a row starts with −D[i] there.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import SMALLEST, Floats, Ints, Plan
from incircuit.circuit.sums import Sums

CURRENT, EXCESS, FIRST = 0, 1, 2
"""Places in a row: injected current, excess, first conductance."""


@dataclass(frozen=True, slots=True)
class DensePlan:
    """`stamp` takes the stack of conductances and constants to the flat rows; `base_from`, `base_to` and
    `base_sign` take the slots of the sparse plan there. `live` are the rows with controlled sources, `active`
    says which rows keep their diagonal at their turn, `wakes[k]` which become so when row k is eliminated.
    """

    ports: int
    stamp: Sums
    base_from: Ints
    base_to: Ints
    base_sign: Floats
    live: tuple[int, ...]
    active: tuple[bool, ...]
    wakes: tuple[tuple[int, ...], ...]

    @property
    def rows(self) -> int:
        """Number of flat rows."""
        return self.ports * (self.ports + FIRST)

    def base(self, slots: Floats) -> Floats:
        """The reduced linear network, from the slots of the sparse plan to flat rows."""
        flat = np.zeros((self.rows, slots.shape[1]))
        flat[self.base_to] = slots[self.base_from] * self.base_sign
        return flat

    def voltages(self, base: Floats, stack: list[Floats], source: tuple[int, Floats],
                 pull: tuple[Floats, Floats] | None = None) -> Floats:
        """Voltages of the ports, the reference node's zero last, (ports + 1, scenarios).

        `stack` holds the conductances, then the constants; `source` is a port and the current [A] into it,
        (scenarios,); `pull` a conductance [S] that holds every port to a voltage.
        """
        wide = self.ports + FIRST
        flat = np.empty((self.rows, len(source[1])))
        flat[:] = base
        self.stamp.add_to(flat, stack)
        flat[source[0] * wide + CURRENT] += source[1]
        w = flat.reshape(self.ports, wide, flat.shape[1])
        if pull is not None:
            w[:, CURRENT] += pull[0] * pull[1]
            w[:, EXCESS] += pull[0]
            for i in self.live:
                w[i, FIRST + i] -= pull[0]
        self._eliminate(w)
        v = np.zeros((self.ports + 1, flat.shape[1]))
        for k in range(self.ports):
            v[k] = w[k, CURRENT] + np.add.reduce(w[k, FIRST:k + FIRST] * v[:k], axis=0)
        return v

    def _eliminate(self, w: Floats) -> None:
        """In place: afterwards row k holds its current and its conductances to rows before it over D[k]."""
        for k in range(self.ports - 1, -1, -1):
            row = w[k, :k + FIRST]
            if self.active[k]:
                pivot = -w[k, k + FIRST]
                pivot = np.where(np.abs(pivot) > SMALLEST, pivot, SMALLEST)
            else:
                pivot = np.add.reduce(row[EXCESS:], axis=0)
            for i in self.wakes[k]:
                w[i, i + FIRST] = -(np.add.reduce(w[i, EXCESS:i + FIRST], axis=0)
                                    + np.add.reduce(w[i, i + FIRST + 1:k + FIRST + 1], axis=0))
            row *= 1.0 / pivot
            if k:
                w[:k, :k + FIRST] += w[:k, k + FIRST, None] * row


def dense_plan(plan: Plan, stamp: tuple[Ints, Ints, Floats], injection: tuple[Ints, Ints, Floats],
               stack: tuple[int, int], active: Iterable[int]) -> DensePlan:
    """The dense plan of a port plan. `stamp` is (slot, source, sign), `injection` (port, source, sign);
    `stack` the numbers of conductances and of constants; `active` the rows with controlled sources."""
    ports = len(plan.excess_of)
    active = set(active)
    wide = ports + FIRST
    to = {slot: [(i * wide + EXCESS, 1.0)] for i, slot in enumerate(plan.excess_of)}
    for (i, j), slot in plan.slot_of.items():
        to.setdefault(slot, []).append((i * wide + FIRST + j, 1.0))
    for i in active:
        to[plan.diagonal_of[i]] = [(i * wide + FIRST + i, -1.0)]
    keep, wakes = _activity(plan, ports, active)
    entries = [(place, source, sign * turned)
               for slot, source, sign in zip(*(a.tolist() for a in stamp), strict=True)
               for place, turned in to.get(slot, ())]
    entries += [(port * wide + CURRENT, stack[0] + source, float(sign))
                for port, source, sign in zip(*(a.tolist() for a in injection), strict=True)]
    rows, sources = (np.array([e[n] for e in entries], dtype=np.intp) for n in (0, 1))
    sums = Sums(rows, sources, np.array([e[2] for e in entries]), (ports * wide, sum(stack)))
    moves = [(slot, place, turned) for slot, places in sorted(to.items()) for place, turned in places]
    slots, places = (np.array([m[n] for m in moves], dtype=np.intp) for n in (0, 1))
    return DensePlan(ports, sums, slots, places, np.array([m[2] for m in moves]).reshape(-1, 1),
                     tuple(sorted(active)), keep, wakes)


def _activity(plan: Plan, ports: int,
              active: set[int]) -> tuple[tuple[bool, ...], tuple[tuple[int, ...], ...]]:
    """Which rows are active at their turn, and whom each wakes, eliminating in descending order."""
    near: list[set[int]] = [set() for _ in range(ports)]
    for i, j in plan.slot_of:
        near[i].add(j)
        near[j].add(i)
    awake = set(active)
    keep = [False] * ports
    wakes: list[tuple[int, ...]] = [()] * ports
    for k in range(ports - 1, -1, -1):
        keep[k] = k in awake
        left = {i for i in near[k] if i < k}
        wakes[k] = tuple(sorted(left - awake)) if keep[k] else ()
        awake.update(wakes[k])
        for i in left:
            near[i] |= left - {i}
    return tuple(keep), tuple(wakes)
