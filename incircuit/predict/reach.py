"""Which parts of a board can influence a reading, as they are or through one fault of their own."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from incircuit.meter.profile import Meter
from incircuit.parts.elements import Capacitance, Change, Channel, Element
from incircuit.paths.blocks import branches, hangs_on, meters_block, parts_of
from incircuit.predict.faulty import cases_of
from incircuit.predict.measure import ranges_of
from incircuit.predict.prediction import Prediction
from incircuit.predict.question import Question

SETTLED = 3.0
"""Time constants until a display has come within 5 % of its last value, exp(−3)."""


def moving_block(question: Question, magnetic: bool = False) -> tuple[Element, ...]:
    """The elements that can influence the reading while capacitors charge; `magnetic` in esr mode."""
    return meters_block(question.circuit.elements, question.red_node, question.black_node, moving=True,
                        magnetic=magnetic)


def moving_parts(question: Question) -> tuple[str, ...]:
    """Capacitors in the meter's block: their charging moves the display before it settles."""
    return parts_of(e for e in moving_block(question) if isinstance(e, Capacitance))


def slow_parts(question: Question, meter: Meter, found: Iterable[Prediction]) -> tuple[str, ...]:
    """Parts whose charging a person can see on one of the readings: longer than one update.

    An upper bound: the capacitor alone at the pads takes C·V/i to the voltage of the reading, which
    is C·R on ohms.
    """
    slowest = max((_seconds_per_farad(meter, p) for p in found), default=0.0)
    least = 1.0 / (meter.updates_per_second * SETTLED * slowest) if slowest else math.inf
    farads: dict[str, float] = {}
    for e in moving_block(question):
        if isinstance(e, Capacitance):
            farads[e.part] = farads.get(e.part, 0.0) + e.farads
    return tuple(part for part, value in farads.items() if value >= least)


def _seconds_per_farad(meter: Meter, p: Prediction) -> float:
    if p.band.value is not None and p.mode != "diode":
        return p.band.value
    source = (p.shown.range or ranges_of(meter, p.mode)[-1]).source
    volts = source.open_circuit if p.band.value is None else p.band.value
    return volts / min(source.current, source.open_circuit / source.resistance)


def can_matter(question: Question) -> tuple[str, ...]:
    """Refs of the parts that can influence the reading, settled or on the way, in the board's order.

    Those in the meter's block, and those that one fault of theirs brings into it: an open switch or
    a capacitor between two nodes of the block would matter if it were shorted.
    """
    circuit = question.circuit
    inside = {*parts_of(moving_block(question)), *question.others}
    reach = reach_of(question)
    return tuple(part.ref for part in circuit.board.parts if part.ref not in circuit.state.removed and (
        part.ref in inside or any(reach.touched_by(case.change) for case in cases_of(circuit, part.ref))
    ))


@dataclass(frozen=True, slots=True)
class Reach:
    """The meter's block on the board as it is: names of its elements, and what hangs where on it."""

    names: frozenset[str]
    hook: dict[str, str]

    def touched_by(self, what: Change) -> bool:
        """Whether a change can move the settled reading: it takes from the block, or adds a branch
        that meets the block at more than one node."""
        met = {hook for n in _ends(what) if (hook := self.hook.get(n))}
        return bool(what.remove & self.names) or len(met) > 1

    def holds(self, what: Change) -> bool:
        """Whether all that a change adds lies between nodes of the block or on new ones."""
        return all(self.hook.get(n, n) == n for n in _ends(what))


def reach_of(question: Question) -> Reach:
    """The meter's block of a question."""
    red, black = question.red_node, question.black_node
    elements = [e for e in question.circuit.elements if not isinstance(e, Capacitance)]
    block = meters_block(elements, red, black)
    hook = hangs_on(elements, block, red, black)
    # nodes in no contact with the block hang on nothing: a change that meets one extends the block
    loose = {n: "" for e in elements for pair in branches(e) for n in pair if n not in hook}
    return Reach(frozenset(e.name for e in block), hook | loose)


def _ends(what: Change) -> set[str]:
    """Nodes that the added elements touch."""
    return {n for e in what.add if not isinstance(e, Capacitance) for pair in branches(e) for n in pair}


def floating_gates(question: Question) -> tuple[str, ...]:
    """Parts in the meter's block with a gate that nothing conducting ties to its source or emitter.

    Such a gate is taken as uncharged, unless the state of the board says otherwise.
    """
    near: dict[str, list[str]] = {question.red_node: [question.black_node],
                                  question.black_node: [question.red_node]}
    for e in question.circuit.elements:
        if not isinstance(e, Capacitance | Channel):
            for a, b in branches(e):
                near.setdefault(a, []).append(b)
                near.setdefault(b, []).append(a)
    return parts_of(e for e in question.block
                    if isinstance(e, Channel) and not e.charge and e.d != e.s and not _tied(near, e.g, e.s))


def _tied(near: dict[str, list[str]], a: str, b: str) -> bool:
    reached, queue = {a}, [a]
    while queue:
        for other in near.get(queue.pop(), ()):
            if other not in reached:
                reached.add(other)
                queue.append(other)
    return b in reached
