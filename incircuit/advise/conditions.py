"""The faults advice is about: every fault of every part at the size a technician must be able to see."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.circuit.build import Circuit
from incircuit.parts import change, prior
from incircuit.parts.elements import Capacitance, Change, Element
from incircuit.parts.structure import nodes_by_pin
from incircuit.predict.faulty import Case, cases_of
from incircuit.predict.question import pin_nodes


@dataclass(frozen=True, slots=True)
class Condition:
    """A fault of one part at its typical size, what it does to the circuit, and how often it happens
    beside the others (`weight`, see `incircuit.parts.prior`)."""

    part: str
    fault: str
    size: float | None
    change: Change
    weight: float

    @property
    def name(self) -> tuple[str, str]:
        """(part, fault)."""
        return self.part, self.fault


def conditions_of(circuit: Circuit, parts: Sequence[str] = ()) -> tuple[Condition, ...]:
    """Every fault of the parts (default: all) that changes a direct-current circuit, in the board's order."""
    wanted = set(parts)
    worked_on = "worked-on" in circuit.board.flags
    own: dict[str, list[Element]] = {}
    for e in circuit.elements:
        own.setdefault(e.part, []).append(e)
    found: list[Condition] = []
    for part in circuit.board.parts:
        if not wanted or part.ref in wanted:
            # a part by itself: what it can have does not depend on the others
            lone = Circuit(replace(circuit.board, parts=(part,)), circuit.state, tuple(own.get(part.ref, ())))
            found += [Condition(part.ref, case.name, case.magnitude, case.change,
                                prior(part, case.defect, worked_on))
                      for case in cases_of(lone, part.ref) if _direct(lone, case)]
    return tuple(found)


def sized(circuit: Circuit, part: str, fault: str, size: float | None) -> Change | None:
    """What a fault of some size does on the board; None where the board cannot have it."""
    case = next((c for c in cases_of(circuit, part) if c.name == fault), None)
    if case is None or size is None:
        return case.change if case else None
    own = circuit.of_part(part)
    nodes = nodes_by_pin(case.part, own)
    nodes |= {pin: node for pin, node in pin_nodes(case.part, circuit.state).items()
              if nodes[pin] == case.part.net(pin)}
    return change(case.part, own, case.defect, size, nodes)


def changes_on(circuit: Circuit, conditions: Sequence[Condition]) -> list[Change]:
    """What each fault does on the board in another state; nothing where it cannot show there."""
    cases = {ref: {case.name: case.change for case in cases_of(circuit, ref)}
             for ref in dict.fromkeys(c.part for c in conditions)}
    return [cases[c.part].get(c.fault, Change()) for c in conditions]


def same_on(circuit: Circuit, condition: Condition) -> Change:
    """What the fault does on the board in another state; nothing where it cannot show there."""
    return changes_on(circuit, [condition])[0]


def _direct(circuit: Circuit, case: Case) -> bool:
    gone = [e for e in circuit.of_part(case.part.ref) if e.name in case.change.remove]
    return any(not isinstance(e, Capacitance) for e in (*gone, *case.change.add))
