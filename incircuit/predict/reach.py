"""Which parts of a board can influence a reading, as they are or through one fault of their own."""

from __future__ import annotations

import math
from collections.abc import Iterable

from incircuit.meter.profile import Meter
from incircuit.parts.elements import Capacitance, Change, Channel, Element
from incircuit.paths.blocks import branches, hangs_on, meters_block, parts_of
from incircuit.predict.faulty import cases_of
from incircuit.predict.measure import ranges_of
from incircuit.predict.prediction import Prediction
from incircuit.predict.question import Question

SETTLED = 3.0
"""Time constants until a display has come within 5 % of its last value, exp(−3)."""


def moving_block(question: Question) -> tuple[Element, ...]:
    """The elements that can influence the reading while capacitors charge."""
    return meters_block(question.circuit.elements, question.red_node, question.black_node, moving=True)


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
    circuit, red, black = question.circuit, question.red_node, question.black_node
    inside = {*parts_of(moving_block(question)), *question.others}
    elements = [e for e in circuit.elements if not isinstance(e, Capacitance)]
    hook = hangs_on(elements, meters_block(elements, red, black), red, black)
    return tuple(part.ref for part in circuit.board.parts if part.ref not in circuit.state.removed and (
        part.ref in inside or any(_reaches(case.change, hook) for case in cases_of(circuit, part.ref))
    ))


def _reaches(what: Change, hook: dict[str, str]) -> bool:
    """Whether what a fault adds touches the block at more than one node."""
    nodes = {n for e in what.add if not isinstance(e, Capacitance) for pair in branches(e) for n in pair}
    return len({hook[n] for n in nodes if n in hook}) > 1


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
