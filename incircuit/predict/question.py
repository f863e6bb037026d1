"""What is being asked: which pads, which part, on which board in which state."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.board.faults import did_you_mean
from incircuit.board.model import Board, Part
from incircuit.board.pads import resolve_pad, split_pin
from incircuit.board.state import State, pad_node
from incircuit.circuit.build import Circuit, build
from incircuit.errors import PadError, StateError
from incircuit.parts.elements import Element
from incircuit.parts.structure import joined, pin_at, skeleton
from incircuit.paths.blocks import meters_block
from incircuit.units import shown

_PLAIN = frozenset({"resistor", "jumper", "link", "shunt", "fuse", "capacitor", "inductor", "switch",
                    "connector", "crystal", "varistor", "spark-gap"})
"""Kinds one asks about less often than about what stands beside them; decides ties only."""


@dataclass(frozen=True, slots=True)
class Question:
    """A pair of pads on a board in some state.

    `red` and `black` are the pads as typed, `red_node` and `black_node` their nodes; `part` is the
    part in question (None when no single part has a pin on both pads), `others` the parts that lie
    between the same pads.
    """

    circuit: Circuit
    red: str
    black: str
    red_node: str
    black_node: str
    part: Part | None
    others: tuple[str, ...]

    @property
    def block(self) -> tuple[Element, ...]:
        """The elements that can influence the settled reading."""
        return meters_block(self.circuit.elements, self.red_node, self.black_node)


def ask_about(board: Board, state: State, red: str, black: str, part: str | None = None) -> Question:
    """Resolve pads and part. Raises PadError or StateError with the nearest valid word."""
    red_node, black_node = resolve_pad(board, state, red), resolve_pad(board, state, black)
    circuit = build(board, state)
    between = _between(board, state, red_node, black_node)
    if part is not None:
        chosen: Part | None = _named(board, part)
    else:
        chosen = _preferred(board, state, between, red, black)
    others = tuple(p.ref for p in between if chosen is None or p.ref != chosen.ref)
    return Question(circuit, red, black, red_node, black_node, chosen, others)


def _named(board: Board, ref: str) -> Part:
    try:
        return board.part(ref)
    except KeyError:
        hint = did_you_mean(ref, [p.ref for p in board.parts])
        said = f'part: there is no part "{shown(ref)}" on this board'
        raise StateError(f"{said}: {hint}" if hint else said) from None


def pin_nodes(part: Part, state: State) -> dict[str, str]:
    """Node of every pin, lifted pins on a node of their own."""
    return {
        pin: pad_node(part.ref, pin) if (part.ref, pin) in state.lifted else net for pin, net in part.pins
    }


def _between(board: Board, state: State, red: str, black: str) -> tuple[Part, ...]:
    """Parts with pins on both pads that are joined inside: two windings of a transformer are not."""
    found = []
    for part in board.parts:
        if part.ref in state.removed or red == black:
            continue
        nodes = pin_nodes(part, state)
        near = [{pin for pin, node in nodes.items() if node == pad} for pad in (red, black)]
        if all(near) and (len(part.pins) == 2 or _joins(part, *near)):
            found.append(part)
    return tuple(found)


def _joins(part: Part, here: set[str], there: set[str]) -> bool:
    """Whether any way through the part leads from some of its pins to others, a gate's oxide included."""
    pairs = [pair for element in skeleton(part) for pair in joined(element)]
    reached = {f"@{pin}" for pin in here}
    while more := {b for pair in pairs for a, b in (pair, pair[::-1]) if a in reached} - reached:
        reached |= more
    return bool(there & {pin for node in reached if (pin := pin_at(node)) is not None})


def _preferred(board: Board, state: State, between: tuple[Part, ...], red: str, black: str) -> Part | None:
    """The part whose pins were named; else a semiconductor before a plain part; else by file order."""
    named = [_pin_named(board, state, text) for text in (red, black)]
    if named[0] is not None and named[0] is named[1]:
        return named[0]
    ranked = sorted(between, key=lambda p: (p not in named, p.kind in _PLAIN))
    return ranked[0] if ranked else None


def _pin_named(board: Board, state: State, text: str) -> Part | None:
    """The part of a pad typed as a pin."""
    ref, _ = split_pin(board, text)
    if not ref or ref in state.removed or text in board.net_names():
        return None
    return board.part(ref)


def pins_at(part: Part, state: State, node: str) -> tuple[str, ...]:
    """Pins of a part on a node."""
    return tuple(pin for pin, at in pin_nodes(part, state).items() if at == node)


def different_pads(question: Question) -> None:
    """Raises PadError when both probes were put on the same pad by name."""
    if question.red == question.black:
        raise PadError(f"both probes are on {question.red}: name two different pads")
