"""What is being asked: which pads, which part, on which board in which state."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.board.model import Board, Part
from incircuit.board.pads import resolve_pad
from incircuit.board.state import State, pad_node
from incircuit.circuit.build import Circuit, build
from incircuit.errors import PadError, StateError
from incircuit.paths.blocks import meters_block
from incircuit.parts.elements import Element

_PLAIN = frozenset({"resistor", "jumper", "link", "shunt", "fuse", "capacitor", "inductor", "switch",
                    "connector", "crystal", "varistor"})
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
        chosen = _preferred(between, red, black)
    others = tuple(p.ref for p in between if chosen is None or p.ref != chosen.ref)
    return Question(circuit, red, black, red_node, black_node, chosen, others)


def _named(board: Board, ref: str) -> Part:
    from difflib import get_close_matches

    try:
        return board.part(ref)
    except KeyError:
        near = get_close_matches(ref, [p.ref for p in board.parts], n=1)
        hint = f"; nearest: {near[0]}" if near else ""
        raise StateError(f"no part {ref} on this board{hint}") from None


def pin_nodes(part: Part, state: State) -> dict[str, str]:
    """Node of every pin, lifted pins on a node of their own."""
    return {
        pin: pad_node(part.ref, pin) if (part.ref, pin) in state.lifted else net for pin, net in part.pins
    }


def _between(board: Board, state: State, red: str, black: str) -> tuple[Part, ...]:
    found = []
    for part in board.parts:
        nodes = set(pin_nodes(part, state).values())
        if part.ref not in state.removed and red != black and {red, black} <= nodes:
            found.append(part)
    return tuple(found)


def _preferred(between: tuple[Part, ...], red: str, black: str) -> Part | None:
    """The part whose pins were named; else a semiconductor before a plain part; else by file order."""
    named = {text.partition(".")[0] for text in (red, black) if "." in text}
    ranked = sorted(between, key=lambda p: (p.ref not in named, p.kind in _PLAIN))
    return ranked[0] if ranked else None


def pins_at(part: Part, state: State, node: str) -> tuple[str, ...]:
    """Pins of a part on a node."""
    return tuple(pin for pin, at in pin_nodes(part, state).items() if at == node)


def different_pads(question: Question) -> None:
    """Raises PadError when both probes were put on the same pad by name."""
    if question.red == question.black:
        raise PadError(f"both probes are on {question.red}: name two different pads")
