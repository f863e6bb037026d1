"""Each fault a board can have near a reading, measured like the healthy board, in one batch."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.board.model import Part
from incircuit.circuit.build import Circuit, elements_of
from incircuit.meter.profile import Meter
from incircuit.parts import Defect, change, defects_of
from incircuit.parts.elements import Capacitance, Change, Element
from incircuit.parts.structure import nodes_by_pin
from incircuit.paths.blocks import meters_block
from incircuit.predict.measure import Ask, Bench, Noise, measure, noise
from incircuit.predict.question import pin_nodes
from incircuit.predict.variants import NO_CHANGE, compile_variants, values_of


@dataclass(frozen=True, slots=True)
class Case:
    """A defect of one part at one magnitude (None where it has none), and what that does.

    `weight` is the share of this magnitude among all the defect may have.
    """

    part: Part
    defect: Defect
    magnitude: float | None
    weight: float
    change: Change

    @property
    def name(self) -> str:
        """The fault in words, with pins where a part has more than two: ``short C-E``."""
        return self.defect.name


def cases_of(circuit: Circuit, ref: str, grid: int = 0) -> tuple[Case, ...]:
    """Every fault of one part; unknown magnitudes at their typical value, or at `grid` values.

    A fault that only touches capacitances changes no settled reading: one value stands for all.
    None for a part that is off the board or that a fault has already taken away; a part that is
    open by nature (a switch, a varistor, a connector) can still be shorted.
    """
    part, state = circuit.board.part(ref), circuit.state
    own = circuit.of_part(ref)
    if ref in state.removed or (not own and elements_of(circuit.board, state, part)):
        return ()
    nodes = nodes_by_pin(part, own)
    nodes |= {pin: node for pin, node in pin_nodes(part, state).items() if nodes[pin] == part.net(pin)}
    found: list[Case] = []
    for defect in defects_of(part, own):
        typical = change(part, own, defect, pin_nodes=nodes)
        size = defect.magnitude
        if size is None or not grid or not _direct(typical, own):
            found.append(Case(part, defect, size.typical if size else None, 1.0, typical))
        else:
            found += [Case(part, defect, value, weight, change(part, own, defect, value, nodes))
                      for value, weight in size.nodes(grid)]
    return tuple(found)


def _direct(what: Change, own: Sequence[Element]) -> bool:
    """Whether a change touches anything that carries direct current."""
    touched = [*what.add, *(e for e in own if e.name in what.remove)]
    return any(not isinstance(e, Capacitance) for e in touched)


def _names_in_reach(circuit: Circuit, cases: Iterable[Case], red: str, black: str) -> frozenset[str]:
    """Names of the elements, added ones included, that lie in the meter's block.

    A fault can close a loop that is not there on the healthy board (a short, a solder bridge), so
    the block is taken on the board with everything added that any fault adds.
    """
    added = [e for case in cases for e in case.change.add]
    return frozenset(e.name for e in meters_block([*circuit.elements, *added], red, black))


def measure_cases(circuit: Circuit, cases: Sequence[Case], red: str, black: str, meter: Meter,
                  asks: Sequence[Ask], boards: int) -> Bench:
    """Readings of the healthy board (condition 0) and of each fault (conditions 1 …).

    Boards of condition c are the columns c·(boards + 1) …, the nominal board first; with no boards,
    the nominal one alone.
    """
    names = _names_in_reach(circuit, cases, red, black)
    elements = [e for e in circuit.elements if e.name in names]
    changes = [NO_CHANGE, *(_within(c.change, names) for c in cases)]
    variants = compile_variants(elements, changes, red, black)
    one = noise(boards)
    errors = Noise(np.tile(one.leads, len(changes)), np.tile(one.meter, len(changes)))
    return measure(variants.network, values_of(variants, boards, circuit.state.celsius), meter, asks, errors)


def _within(what: Change, names: frozenset[str]) -> Change:
    """The part of a change that can influence the reading."""
    return Change(what.remove & names, tuple(e for e in what.add if e.name in names))
