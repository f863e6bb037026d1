"""From a board in some state to elements on nodes."""

from __future__ import annotations

from dataclasses import dataclass, replace

from incircuit.board.model import Board, Part
from incircuit.board.state import HEALTHY, State, pad_node
from incircuit.parts import alike_group, change, expand, parse_fault
from incircuit.parts.elements import Capacitance, Change, Channel, Element, Junction, Resistance


@dataclass(frozen=True, slots=True)
class Circuit:
    """What stands on the bench: the elements of every part, in the state the board is in."""

    board: Board
    state: State
    elements: tuple[Element, ...]

    def of_part(self, ref: str) -> tuple[Element, ...]:
        """The elements of one part, empty if it is removed or has none."""
        return tuple(e for e in self.elements if e.part == ref)


def build(board: Board, state: State = HEALTHY) -> Circuit:
    """The elements of a board. Raises StateError for a fault the board cannot have."""
    elements: list[Element] = []
    for part in board.parts:
        if part.ref not in state.removed:
            elements += elements_of(board, state, part)
    circuit = Circuit(board, state, tuple(elements))
    for text in state.faults:
        part, defect, magnitude = parse_fault(board, text)
        own = circuit.of_part(part.ref)
        circuit = Circuit(board, state, apply(circuit.elements, change(part, own, defect, magnitude)))
    wires = tuple(
        Resistance(f"jumper {k}", "", a, b, 0.0) for k, (a, b) in enumerate(state.jumpers, start=1)
    )
    return Circuit(board, state, circuit.elements + wires)


def elements_of(board: Board, state: State, part: Part) -> tuple[Element, ...]:
    """A healthy part's elements, lifted pins off their nets, its charge on it, and its own temperature."""
    lifted = {pin: pad_node(ref, pin) for ref, pin in state.lifted if ref == part.ref}
    elements = expand(part, lifted, alike_group(board, part.ref))
    charge = dict(state.charge).get(part.ref, 0.0)
    if charge:
        elements = tuple(_charged(e, charge) for e in elements)
    hotter = dict(state.hot).get(part.ref, state.celsius) - state.celsius
    return tuple(_heated(e, hotter) for e in elements) if hotter else elements


def _charged(element: Element, volts: float) -> Element:
    match element:
        case Channel():
            return replace(element, charge=volts)
        case Capacitance():
            return replace(element, volts=volts)
        case _:
            return element


def _heated(element: Element, kelvin: float) -> Element:
    match element:
        case Resistance() | Junction() | Channel():
            return replace(element, hotter=kelvin)
        case _:
            return element


def apply(elements: tuple[Element, ...], what: Change) -> tuple[Element, ...]:
    """The elements after a change."""
    return tuple(e for e in elements if e.name not in what.remove) + what.add
