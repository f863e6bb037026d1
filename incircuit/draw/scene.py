"""What is to be drawn: parts with their pins on nodes, as the board stands on the bench."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from incircuit.board.model import Board, Net, Part
from incircuit.board.state import HEALTHY, State


@dataclass(frozen=True, slots=True)
class Item:
    """One part, or a wire somebody soldered in (`wire`). `nets` has the index of each pin's net."""

    part: Part
    nets: tuple[int, ...]
    removed: bool = False
    wire: bool = False


@dataclass(frozen=True, slots=True)
class Node:
    """A net as drawn. `loose`: the end of a lifted pin. `cut`: it goes on to parts that are not drawn."""

    name: str
    net: Net | None
    loose: bool = False
    cut: bool = False

    @property
    def hidden(self) -> bool:
        """No place to put a probe."""
        return self.net is not None and self.net.hidden


@dataclass(frozen=True, slots=True)
class Scene:
    """Parts and nets to draw, in the order of the board."""

    items: tuple[Item, ...]
    nodes: tuple[Node, ...]

    def index(self, name: str) -> int | None:
        """Index of a net or of a lifted pin ``D3.K`` by name; None where it is not drawn."""
        return next((k for k, node in enumerate(self.nodes) if node.name == name), None)


def scene_of(board: Board, state: State | None = None, refs: Iterable[str] | None = None) -> Scene:
    """The board in a state; with `refs` only those parts, the nets that go on marked as cut."""
    state = state or HEALTHY
    wanted = {p.ref for p in board.parts} if refs is None else set(refs)
    declared = {net.name: net for net in board.nets}
    names: dict[str, int] = {}
    loose: set[str] = set()

    def number(name: str) -> int:
        return names.setdefault(name, len(names))

    items = []
    for part in board.parts:
        if part.ref not in wanted or not part.pins:
            continue
        nets = []
        for pin, net in part.pins:
            lifted = (part.ref, pin) in state.lifted
            at = f"{part.ref}.{pin}" if lifted else net
            loose |= {at} if lifted else set()
            nets.append(number(at))
        items.append(Item(part, tuple(nets), part.ref in state.removed))
    for k, ends in enumerate(state.jumpers, start=1):
        a, b = (end.replace(" ", ".", 1) for end in ends)
        if a in names and b in names:
            wire = Part(f"wire {k}", "link", (("1", a), ("2", b)))
            items.append(Item(wire, (names[a], names[b]), wire=True))
    outside = {net for p in board.parts if p.ref not in wanted for _, net in p.pins}
    nodes = tuple(Node(name, declared.get(name), name in loose, name in outside) for name in names)
    return Scene(tuple(items), nodes)


def neighbourhood(board: Board, around: Iterable[str], hops: int = 1, most: int = 24,
                  crowded: int = 8) -> tuple[str, ...]:
    """Refs within `hops` of some parts or nets, nearest first, at most `most`, in the order of the board.

    A net with more than `crowded` pins joins everything to everything: a hop does not go through it,
    unless it is one that was asked for.
    """
    refs = {p.ref: p for p in board.parts}
    pins: dict[str, list[str]] = {}
    for part in board.parts:
        for _, net in part.pins:
            pins.setdefault(net, []).append(part.ref)
    asked = list(dict.fromkeys(around))
    found: dict[str, None] = {a: None for a in asked if a in refs}
    nets = dict.fromkeys(a for a in asked if a not in refs and a in pins)
    nets |= dict.fromkeys(net for ref in found for _, net in refs[ref].pins if len(set(pins[net])) <= crowded)
    for _ in range(max(hops, 0)):
        new: dict[str, None] = {}
        for net in sorted(nets, key=lambda n: len(pins[n])):
            new |= {ref: None for ref in pins[net] if ref not in found}
        for ref in new:
            if len(found) < most:
                found[ref] = None
        nets = dict.fromkeys(net for ref in new if ref in found for _, net in refs[ref].pins
                             if len(set(pins[net])) <= crowded)
    return tuple(p.ref for p in board.parts if p.ref in found)
