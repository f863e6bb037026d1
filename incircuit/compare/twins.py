"""Faults that no reading in place can tell apart, because the board is the same circuit with either.

Three ways are known: a fault that does the very same; faults that only change how well the same two
nodes are joined by resistance; opens in a row of parts whose joints no probe can touch.
"""

from __future__ import annotations

from collections.abc import Sequence

from incircuit.circuit.build import Circuit
from incircuit.parts.elements import Change, Element, Resistance, nodes_of

Key = tuple[object, ...]


def twin_keys(circuit: Circuit, changes: Sequence[Change | None],
              pads: Sequence[str] = ()) -> tuple[frozenset[Key], ...]:
    """For each change what it does, in words that are equal for faults that cannot be told apart.

    None stands for no change. `pads` are nodes known to be in reach of a probe.
    """
    by_name = {e.name: e for e in circuit.elements}
    rows = _rows(circuit, pads)
    return tuple(frozenset() if c is None else _keys(c, by_name, rows) for c in changes)


def _keys(change: Change, by_name: dict[str, Element], rows: dict[str, str]) -> frozenset[Key]:
    gone = [by_name[name] for name in sorted(change.remove) if name in by_name]
    touched = [*gone, *change.add]
    keys: set[Key] = {("same", tuple(sorted(map(_shape, gone))), tuple(sorted(map(_shape, change.add))))}
    pairs = {frozenset((e.a, e.b)) for e in touched if isinstance(e, Resistance)}
    if len(pairs) == 1 and all(isinstance(e, Resistance) for e in touched):
        keys.add(("joins", next(iter(pairs))))
    if gone and not change.add and len({rows.get(e.name, e.name) for e in gone}) == 1:
        keys.add(("opens", rows.get(gone[0].name, gone[0].name)))
    return frozenset(keys)


def _shape(element: Element) -> str:
    """An element without its names."""
    return repr((type(element).__name__, *(
        getattr(element, field) for field in element.__slots__ if field not in ("name", "part", "spread")
    )))


def _rows(circuit: Circuit, pads: Sequence[str]) -> dict[str, str]:
    """Elements in a row over nodes that no probe can touch, each with the name of the row's first."""
    hidden = {net.name for net in circuit.board.nets if net.hidden}
    at: dict[str, list[Element]] = {}
    for element in circuit.elements:
        for node in set(nodes_of(element)):
            at.setdefault(node, []).append(element)
    first = {e.name: e.name for e in circuit.elements}
    for node, near in at.items():
        if (node in hidden or " " in node) and node not in pads and len(near) == 2:
            one, other = (first[e.name] for e in near)
            low = min(one, other)
            first = {name: low if row in (one, other) else row for name, row in first.items()}
    return first
