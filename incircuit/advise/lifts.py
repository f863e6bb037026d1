"""The cheapest lead to lift where no reading in place can tell: of the suspect, or of a neighbour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.advise.conditions import Condition, same_on
from incircuit.advise.costs import Costs
from incircuit.advise.outcomes import Outcomes, Probe, outcomes_of, pads_of, telling
from incircuit.board.model import Board, Part
from incircuit.board.state import State, pad_node
from incircuit.circuit.build import Circuit, build
from incircuit.meter.profile import Meter
from incircuit.parts.elements import nodes_of
from incircuit.predict.variants import NO_CHANGE

TRIED = 12
"""Lifts simulated for one question, cheapest first."""


@dataclass(frozen=True, slots=True)
class Lift:
    """Unsolder a pin (or take the part off, `pin` empty), then read `probe`; `seconds` for both.

    `margin` is the gap between the two conditions there, see `outcomes.telling`.
    """

    part: str
    pin: str
    probe: Probe
    seconds: float
    margin: float
    nominal: float
    other: float

    @property
    def act(self) -> str:
        """In words: ``lift R7.1``, ``remove U3``."""
        return f"lift {self.part}.{self.pin}" if self.pin else f"remove {self.part}"


def cheapest_lift(circuit: Circuit, meter: Meter, costs: Costs, condition: Condition,
                  against: Condition | None = None) -> Lift | None:
    """The cheapest lift after which one reading tells a fault from healthy, or from another fault.

    Candidates are the pins of the suspect and of parts that share a net with it, in order of cost;
    None where none of the `TRIED` cheapest helps.
    """
    board, state = circuit.board, circuit.state
    suspects = [condition.part, *([against.part] if against else [])]
    for cost, part, pin in _candidates(board, state, costs, suspects)[:TRIED]:
        found = _after(circuit, meter, costs, (cost, part, pin), condition, against)
        if found is not None:
            return found
    return None


def _candidates(board: Board, state: State, costs: Costs,
                refs: Sequence[str]) -> list[tuple[float, Part, str]]:
    """(seconds, part, pin) of leads that could be lifted, cheapest first, suspects before neighbours."""
    nets = {net for ref in refs for _, net in board.part(ref).pins}
    found: list[tuple[float, int, int, Part, str]] = []
    for order, part in enumerate(board.parts):
        if part.kind == "connector" or part.ref in state.removed:
            continue
        if part.ref not in refs and not nets & {net for _, net in part.pins}:
            continue
        for pin, net in part.pins:
            if (part.ref, pin) not in state.lifted and (part.ref in refs or net in nets):
                found.append((costs.lift(part), part.ref not in refs, order, part, pin))
    found.sort(key=lambda f: f[:3])
    return [(cost, part, pin) for cost, _, _, part, pin in found]


def _after(circuit: Circuit, meter: Meter, costs: Costs, act: tuple[float, Part, str], condition: Condition,
           against: Condition | None) -> Lift | None:
    """What the best reading shows after one lift, if it tells."""
    cost, part, pin = act
    state = replace(circuit.state, lifted=circuit.state.lifted | {(part.ref, pin)})
    lifted = build(circuit.board, state)
    changes = [NO_CHANGE, *(same_on(lifted, one) for one in (condition, against) if one is not None)]
    outcomes = outcomes_of(lifted, changes, meter, _pairs(lifted, condition.part, part.ref, pin))
    best = _best(outcomes, against is not None)
    if best is None:
        return None
    probe, margin = best
    return Lift(part.ref, pin, outcomes.probes[probe], cost + costs.reading(2, True), margin,
                float(outcomes.nominal[probe, 2 if against else 0]), float(outcomes.nominal[probe, 1]))


def _best(outcomes: Outcomes, between_faults: bool) -> tuple[int, float] | None:
    if not between_faults:
        return next(telling(outcomes, 1), None)
    for probe, margin in telling(outcomes, 1):
        if outcomes.told(probe, 1, 2):
            return probe, margin
    return next(((k, 0.0) for k in range(len(outcomes.probes)) if outcomes.told(k, 1, 2)), None)


def _pairs(circuit: Circuit, suspect: str, lifted_ref: str, lifted_pin: str) -> tuple[tuple[str, str], ...]:
    """Pads between the pins of the suspect and of the lifted part, the lifted leg's own end included."""
    board = circuit.board
    open_end = pad_node(lifted_ref, lifted_pin)
    touch = [node for e in circuit.elements for node in nodes_of(e)]
    nets = [net for ref in (suspect, lifted_ref) for _, net in board.part(ref).pins]
    pads = [*(p for p in pads_of(board, touch) if p in nets), open_end]
    unique = list(dict.fromkeys(pads))
    return tuple((a, b) for i, a in enumerate(unique) for b in unique[i + 1:])

