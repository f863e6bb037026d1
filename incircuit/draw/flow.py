"""The meter's current as it is drawn: how much goes into every pin, and which junctions stay shut."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from incircuit.board.model import Board, Part
from incircuit.board.state import State, pad_node

if TYPE_CHECKING:
    from incircuit.predict.explanation import Explanation


LEAST_SHARE = 0.02
"""A part that carries less of the meter's current is drawn as carrying none; as `CONDUCTS` for a junction."""


@dataclass(frozen=True, slots=True)
class Flow:
    """Shares of the meter's current.

    `pins` has what enters each pin (ref, pin), below zero where it leaves; `parts` what runs through a
    part; `shut` are the parts whose junctions all stay shut; `source` and `sink` the nets where the meter
    drives its current in and takes it back.
    """

    pins: Mapping[tuple[str, str], float] = field(default_factory=dict)
    parts: Mapping[str, float] = field(default_factory=dict)
    shut: frozenset[str] = frozenset()
    source: str = ""
    sink: str = ""


def flow_of(board: Board, state: State, explanation: Explanation) -> Flow:
    """The currents of an explanation, as paths from pad to pad, given to the pins they pass."""
    parts = {p.ref: p for p in board.parts}
    pins: dict[tuple[str, str], float] = defaultdict(float)
    for path, nodes in zip(explanation.paths, explanation.path_nodes, strict=True):
        at = 0
        while at < len(path.hops):
            ref, end = path.hops[at], at + 1
            while end < len(path.hops) and path.hops[end] == ref and not _pins_on(parts.get(ref), nodes[end],
                                                                                 state):
                end += 1
            enters, leaves = (_pins_on(parts.get(ref), nodes[k], state) for k in (at, end))
            for pin in enters:
                pins[ref, pin] += path.share / len(enters)
            for pin in leaves:
                pins[ref, pin] -= path.share / len(leaves)
            at = end
    open_ones = {j.part for j in explanation.junctions if j.conducts}
    shut = {j.part for j in explanation.junctions} - open_ones
    carrying = dict(explanation.shares)
    return Flow(dict(pins), carrying, frozenset(p for p in shut if carrying.get(p, 0.0) < LEAST_SHARE),
                explanation.source, explanation.sink)


def _pins_on(part: Part | None, node: str, state: State) -> list[str]:
    """Pins of a part on a node named for people: a net, or a lifted pin ``D3.K``."""
    if part is None:
        return []
    found = []
    for pin, net in part.pins:
        if (part.ref, pin) in state.lifted:
            if node in (f"{part.ref}.{pin}", pad_node(part.ref, pin)):
                found.append(pin)
        elif net == node or node == f"{part.ref}.{pin}":
            found.append(pin)
    return found
