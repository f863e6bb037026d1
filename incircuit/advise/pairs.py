"""Between which pads a board is read: where they can be touched, and where a fault shows most.

In a network of resistances no two nodes show a change of one element by a larger part of their reading
than its own ends do: it is (z·z/R)·dG/(1 + dG·r) with r the resistance across the element, R that across the
pads and z what is common to both, and z·z is at most r·R (Cauchy and Schwarz). So on a large board it
is the ends of elements that are read, those a fault adds included.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations

from incircuit.board.model import Board
from incircuit.board.state import pad_node
from incircuit.circuit.build import Circuit
from incircuit.parts.elements import Change, Element, nodes_of
from incircuit.paths.blocks import branches

EVERY = 60
"""Pairs of pads up to which all are read."""
INSTEAD = 3
"""Pads read instead of a node that cannot be touched, at most."""

Pads = tuple[str, str]


def pads_of(board: Board, elements_at: Iterable[str]) -> tuple[str, ...]:
    """Nets a probe can touch: not hidden, and with something on them, in the order of the board."""
    hidden = {net.name for net in board.nets if net.hidden}
    present = set(elements_at)
    return tuple(name for name in board.net_names() if name not in hidden and name in present)


def pads_now(circuit: Circuit) -> frozenset[str]:
    """Nodes a probe can touch on a board in its state, the ends of lifted leads included."""
    present = {n for e in circuit.elements for n in nodes_of(e)}
    lifted = {pad_node(*lead) for lead in circuit.state.lifted}
    return frozenset(pads_of(circuit.board, present)) | (lifted & present)


def pairs_of(circuit: Circuit, changes: Sequence[Change] = (), every: int = EVERY) -> tuple[Pads, ...]:
    """Pairs of pads worth reading, the two in order of their names: all where there are at most `every`, else
    the ends of each element. A node that cannot be touched is read at its nearest neighbours that can."""
    pads = pads_of(circuit.board, [n for e in circuit.elements for n in nodes_of(e)])
    if len(pads) * (len(pads) - 1) // 2 <= every:
        return tuple((min(p), max(p)) for p in combinations(pads, 2))
    touchable = frozenset(pads)
    elements = [*circuit.elements, *(e for c in changes for e in c.add)]
    near = _neighbours(elements)
    found: dict[Pads, None] = {}
    for e in elements:
        for pair in branches(e):
            first, second = (_instead(node, touchable, near) for node in pair)
            for a in first:
                for b in second:
                    if a != b:
                        found.setdefault((min(a, b), max(a, b)))
    return tuple(found)


def _neighbours(elements: Iterable[Element]) -> dict[str, list[str]]:
    near: dict[str, dict[str, None]] = {}
    for e in elements:
        for a, b in branches(e):
            near.setdefault(a, {})[b] = None
            near.setdefault(b, {})[a] = None
    return {node: list(others) for node, others in near.items()}


def _instead(node: str, touchable: frozenset[str], near: dict[str, list[str]]) -> tuple[str, ...]:
    """The node itself, or the nearest that can be touched through others that cannot."""
    if node in touchable:
        return (node,)
    seen, ring, found = {node}, [node], dict[str, None]()
    while ring and len(found) < INSTEAD:
        beyond = dict.fromkeys(n for at in ring for n in near.get(at, ()) if n not in seen)
        seen.update(beyond)
        found.update((n, None) for n in beyond if n in touchable)
        ring = [n for n in beyond if n not in touchable]
    return tuple(found)[:INSTEAD]
