"""What one compiled network needs at every solve: index arrays and sparse sums, built once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from incircuit.circuit.elimination import Ints, Plan
from incircuit.circuit.sums import Sums

if TYPE_CHECKING:
    from incircuit.circuit.layout import Ends, Stamp

@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of nodes with resistances between them, and the pair `of` every resistance."""

    first: Ints
    second: Ints
    of: Ints


def pairs_of(ra: Ints, rb: Ints) -> Pairs:
    """The distinct pairs of resistances between nodes `ra` and `rb`, in order of first mention."""
    number: dict[tuple[int, int], int] = {}
    of = [number.setdefault((min(a, b), max(a, b)), len(number))
          for a, b in zip(ra.tolist(), rb.tolist(), strict=True)]
    ends = np.array(list(number), dtype=np.intp).reshape(-1, 2)
    return Pairs(ends[:, 0].copy(), ends[:, 1].copy(), np.array(of, dtype=np.intp))


@dataclass(frozen=True, slots=True)
class Tables:
    """Resistances between the same two nodes are one pair, from node `first` to node `second`; `merge` sums
    their conductances up. `linear` takes the pairs to slots of the linear plan, `conductance` the stack of
    device conductances to slots of the port plan, `injection` the stack of device constants to ports,
    `meeting` the currents of pairs and devices to nodes (+1 where a branch leaves, −1 where it enters; black
    left out). `anode` and `cathode` are the ports of junctions, `drain`, `gate` and `origin` of channels.
    `local` is the port of a node number, the number of ports for the reference node; `active` are the ports
    with controlled sources, `diagonals` their diagonals' slots in the port plan, which start as `whole` @
    slots; `kept` is what others have made of all this, each once and when it was first needed.
    """

    first: Ints
    second: Ints
    merge: Sums
    linear: Sums
    conductance: Sums
    injection: Sums
    meeting: Sums
    local: Ints
    anode: Ints
    cathode: Ints
    drain: Ints
    gate: Ints
    origin: Ints
    active: Ints
    diagonals: Ints
    whole: Sums
    kept: dict[Any, Any] = field(default_factory=dict)


def make_tables(size: int, ends: Ends, ports: Ints, pairs: Pairs, linear: tuple[Plan, Stamp],
                port: tuple[Plan, Stamp], active: Iterable[int]) -> Tables:
    """The tables of a network of `size` nodes; the stamp of `linear` has the pairs for its sources."""
    local = np.full(size + 1, len(ports), dtype=np.intp)
    local[ports] = np.arange(len(ports))
    out = np.concatenate([ends.ja, ends.cs, ends.md, ends.mg, ends.xa])
    into = np.concatenate([ends.jk, ends.ck, ends.ms, ends.ms, ends.xb])
    conductances = len(ends.ja) + len(ends.cs) + 3 * len(ends.md) + len(ends.xa) + 1
    awake = sorted(set(active))
    rows, columns, signs = _incident(local[out], local[into], len(ports))
    return Tables(
        first=pairs.first,
        second=pairs.second,
        merge=Sums(pairs.of, np.arange(len(pairs.of)), np.ones(len(pairs.of)),
                   (len(pairs.first), len(pairs.of))),
        linear=_stamped(*linear, len(pairs.first)),
        conductance=_stamped(*port, conductances),
        injection=Sums(rows, columns, -signs, (len(ports), len(out))),
        meeting=_meeting(size, pairs.first, pairs.second, out, into),
        local=local,
        anode=local[ends.ja],
        cathode=local[ends.jk],
        drain=local[ends.md],
        gate=local[ends.mg],
        origin=local[ends.ms],
        active=np.array(awake, dtype=np.intp),
        diagonals=np.array([port[0].diagonal_of[i] for i in awake], dtype=np.intp),
        whole=_whole(port[0], awake),
    )


def _stamped(plan: Plan, stamp: Stamp, columns: int) -> Sums:
    return Sums(stamp.slot, stamp.source, stamp.sign, (plan.slots, columns))


def _meeting(size: int, ra: Ints, rb: Ints, out: Ints, into: Ints) -> Sums:
    rows, columns, signs = _incident(np.concatenate([ra, out]), np.concatenate([rb, into]), size)
    return Sums(rows, columns, signs, (size, len(ra) + len(out)))


def _incident(out: Ints, into: Ints, size: int) -> tuple[Ints, Ints, Ints]:
    """Rows, columns and signs: +1 at `out`, −1 at `into`, numbers from `size` on left out."""
    count = len(out)
    rows, columns = np.concatenate([out, into]), np.tile(np.arange(count), 2)
    signs = np.concatenate([np.ones(count, dtype=np.intp), -np.ones(count, dtype=np.intp)])
    inside = rows < size
    return rows[inside], columns[inside], signs[inside]


def _whole(plan: Plan, active: list[int]) -> Sums:
    """Excess and conductances of the active rows, summed up."""
    place = {i: n for n, i in enumerate(active)}
    found = [(place[i], plan.excess_of[i]) for i in active]
    found += [(place[i], slot) for (i, _), slot in plan.slot_of.items() if i in place]
    rows, slots = np.array(found, dtype=np.intp).reshape(-1, 2).T
    return Sums(rows, slots, np.ones(len(found)), (len(active), plan.slots))
