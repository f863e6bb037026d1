"""Each fault a board can have near a reading, measured like the healthy board, in one batch."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.board.model import Part
from incircuit.circuit.build import Circuit
from incircuit.meter.profile import Meter
from incircuit.parts import Defect, change, defects_of
from incircuit.parts.elements import Capacitance, Change, Element
from incircuit.paths.blocks import meters_block
from incircuit.predict.measure import Ask, Bench, Noise, measure, noise
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
    """
    part = circuit.board.part(ref)
    own = circuit.of_part(ref)
    if not own:
        return ()
    found: list[Case] = []
    for defect in defects_of(part, own):
        typical = change(part, own, defect)
        size = defect.magnitude
        if size is None or not grid or not _direct(typical, own):
            found.append(Case(part, defect, size.typical if size else None, 1.0, typical))
        else:
            found += [Case(part, defect, value, weight, change(part, own, defect, value))
                      for value, weight in size.nodes(grid)]
    return tuple(found)


def _direct(what: Change, own: Sequence[Element]) -> bool:
    """Whether a change touches anything that carries direct current."""
    touched = [*what.add, *(e for e in own if e.name in what.remove)]
    return any(not isinstance(e, Capacitance) for e in touched)


def elements_in_reach(circuit: Circuit, cases: Iterable[Case], red: str, black: str) -> tuple[Element, ...]:
    """The board's elements that can influence the reading, healthy or under any of the faults.

    A fault can close a loop that is not there on the healthy board (a short, a solder bridge), so
    the block is taken on the board with everything added that any fault adds.
    """
    added = [e for case in cases for e in case.change.add]
    block = meters_block([*circuit.elements, *added], red, black)
    names = {e.name for e in block}
    return tuple(e for e in circuit.elements if e.name in names)


def measure_cases(circuit: Circuit, cases: Sequence[Case], red: str, black: str, meter: Meter,
                   asks: Sequence[Ask], boards: int) -> Bench:
    """Readings of the healthy board (condition 0) and of each fault (conditions 1 …).

    Boards of condition c are the columns c·(boards + 1) …, the nominal board first.
    """
    elements = elements_in_reach(circuit, cases, red, black)
    changes = [NO_CHANGE, *(c.change for c in cases)]
    variants = compile_variants(elements, changes, red, black)
    one = noise(boards)
    errors = Noise(np.tile(one.leads, len(changes)), np.tile(one.meter, len(changes)))
    return measure(variants.network, values_of(variants, boards, circuit.state.celsius), meter, asks, errors)
