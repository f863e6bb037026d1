"""The shortest way: readings, and where none in place will do a lead to lift, that leave only the truth.

It knows what is hidden and picks, greedily, what rules out most other explanations for its cost: a healthy
board and every single fault of every part at its typical size. Nobody at the bench can do better than that
by much; it is the mark that a trainee is measured by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.advise.conditions import Condition, conditions_of, same_on
from incircuit.advise.costs import Costs
from incircuit.advise.outcomes import Outcomes, Probe, Progress, outcomes_of
from incircuit.advise.pairs import pairs_of
from incircuit.advise.worksheet import seconds
from incircuit.board.state import HEALTHY, State, pad_node
from incircuit.circuit.build import Circuit, build
from incircuit.drill.case import Case, Hidden
from incircuit.drill.hidden import change_of
from incircuit.drill.named import is_right
from incircuit.parts.elements import Change
from incircuit.predict.variants import NO_CHANGE

MOST_LIFTS = 2
"""Leads lifted on a shortest way."""
MOST_TRIED = 8
"""Leads tried for each of them."""
TRUTH = 1
"""Number of the hidden condition in a table; 0 is the healthy board, the others follow."""


@dataclass(frozen=True, slots=True)
class Step:
    """One act: `text` as it is typed, what it costs [s], how many other explanations it rules out, and what
    a healthy board and this one show, low and high [V or ohm, infinite OL]; both empty for a lift.
    """

    text: str
    seconds: float
    rules_out: int
    healthy: tuple[float, ...] = ()
    here: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Way:
    """The steps, and what is left that they do not tell from the truth."""

    steps: tuple[Step, ...]
    left: tuple[str, ...]

    @property
    def seconds(self) -> float:
        """Bench work of the whole way [s]."""
        return sum(step.seconds for step in self.steps)

    @property
    def lifts(self) -> tuple[str, ...]:
        """The leads lifted on it."""
        return tuple(step.text for step in self.steps if not step.here)


@dataclass(slots=True)
class _Walk:
    case: Case
    costs: Costs
    others: list[Condition]
    healthy: bool  # whether the healthy board is still to be ruled out
    last: Probe | None
    steps: list[Step]


def shortest_way(case: Case, costs: Costs, progress: Progress | None = None) -> Way:
    """The shortest way to what is hidden on a bench."""
    circuit = build(case.board)
    others = [c for c in conditions_of(circuit) if not is_right(case.faults, (Hidden(c.part, c.fault),))]
    walk = _Walk(case, costs, others, bool(case.faults), None, [])
    table = _table(case, circuit, others, pairs_of(circuit, [c.change for c in others]), progress)
    _walk(walk, table, HEALTHY)
    state = HEALTHY
    for _ in range(
        MOST_LIFTS if case.faults else 0
    ):  # what shows nowhere in place needs no lift to be well
        if not walk.others and not walk.healthy:
            break
        lifted = _best_lift(walk, state)
        if lifted is None:
            break
        state = lifted
    left = [f"{c.part} {c.fault}" for c in walk.others]
    return Way(tuple(walk.steps), (*(("a healthy board",) if walk.healthy else ()), *left))


def _table(
    case: Case,
    circuit: Circuit,
    others: Sequence[Condition],
    pairs: Sequence[tuple[str, str]],
    progress: Progress | None = None,
    modes: Sequence[str] = (),
) -> Outcomes:
    """What every reading shows on the healthy board, with the truth, and under each other explanation."""
    conditions = [NO_CHANGE, truth(case, circuit), *(same_on(circuit, c) for c in others)]
    return outcomes_of(circuit, conditions, case.meter, pairs, modes, progress)


def truth(case: Case, circuit: Circuit, fitted: frozenset[str] = frozenset()) -> Change:
    """All hidden faults as one change of a board in some state."""
    found = [change_of(circuit, hidden, fitted) for hidden in case.faults]
    return Change(frozenset(n for c in found for n in c.remove), tuple(e for c in found for e in c.add))


def _walk(walk: _Walk, table: Outcomes, state: State) -> None:
    """Take the readings of one state of the board that rule out something, the best for its cost first."""
    numbers = list(range(2, 2 + len(walk.others)))  # of the other explanations in the table
    known = dict(zip(numbers, walk.others, strict=True))
    while True:
        asked = [0, *numbers] if walk.healthy else numbers
        best, gain, cost = _best(walk, table, asked)
        if best is None:
            break
        out = {k for k in asked if table.told(best, TRUTH, k)}
        walk.healthy = walk.healthy and 0 not in out
        numbers = [k for k in numbers if k not in out]
        probe = table.probes[best]
        walk.steps.append(
            Step(typed(probe, state), cost, gain, table.span(best, 0), table.span(best, TRUTH))
        )
        walk.last = probe
    walk.others = [known[k] for k in numbers]


def _best(walk: _Walk, table: Outcomes, asked: Sequence[int]) -> tuple[int | None, int, float]:
    """(reading, how many it rules out, its cost); the healthy board counts as much as all faults."""
    found: tuple[float, int, int, float] | None = None
    for at in range(len(table.probes)):
        out = [k for k in asked if table.told(at, TRUTH, k)]
        if not out:
            continue
        cost = seconds(walk.costs, walk.last, table.probes[at])
        worth = (len(out) + (len(asked) if 0 in out else 0)) / cost
        if found is None or worth > found[0]:
            found = worth, at, len(out), cost
    return (None, 0, 0.0) if found is None else found[1:]


def _best_lift(walk: _Walk, before: State) -> State | None:
    """Lift the lead after which readings rule out most for the cost, and take them; the state then."""
    best: tuple[float, str, State, Outcomes] | None = None
    for pin, cost in _leads(walk, before):
        ref, _, name = pin.partition(".")
        state = replace(before, lifted=before.lifted | {(ref, name)})
        circuit = build(walk.case.board, state)
        table = _table(walk.case, circuit, walk.others, _near(walk.case, state, ref, name))
        asked = [0, *range(2, 2 + len(walk.others))] if walk.healthy else range(2, 2 + len(walk.others))
        out = {k for k in asked for at in range(len(table.probes)) if table.told(at, TRUTH, k)}
        worth = (len(out) + (len(walk.others) if 0 in out else 0)) / cost
        if out and (best is None or worth > best[0]):
            best = worth, pin, state, table
    if best is None:
        return None
    _, pin, state, table = best
    part = walk.case.board.part(pin.partition(".")[0])
    walk.steps.append(Step(f"lift {pin}", walk.costs.lift(part), 0))
    walk.last = None
    _walk(walk, table, state)
    return state


def _leads(walk: _Walk, before: State) -> list[tuple[str, float]]:
    """Leads worth trying: of the faulty parts, then of what is taken for them, the cheap ones first."""
    guilty = [h.part for h in walk.case.faults if h.part]
    guilty += [
        part.ref
        for h in walk.case.faults
        if not h.part
        for part, _ in walk.case.board.pins_on(h.between[0])
    ]
    refs = dict.fromkeys([*guilty, *(c.part for c in walk.others)])
    leads = [
        (f"{ref}.{pin}", walk.costs.lift(part))
        for ref in refs
        for part in (walk.case.board.part(ref),)
        for pin in part.pin_names
        if (ref, pin) not in before.lifted
    ]
    own = {f"{ref}." for ref in guilty}
    return sorted(leads, key=lambda lead: (lead[0].partition(".")[0] + "." not in own, lead[1]))[
        :MOST_TRIED
    ]


def _near(case: Case, state: State, ref: str, lifted: str) -> list[tuple[str, str]]:
    """Pairs of pads that a lifted lead opens: the lead, and its old net, against the part's other pins."""
    part = case.board.part(ref)
    air = pad_node(ref, lifted)
    nodes = [
        pad_node(ref, pin) if (ref, pin) in state.lifted else net for pin, net in part.pins if pin != lifted
    ]
    pairs = [(air, node) for node in dict.fromkeys(nodes)]
    pairs += [(part.net(lifted), node) for node in dict.fromkeys(nodes) if node != part.net(lifted)]
    return [(min(p), max(p)) for p in pairs]


def typed(probe: Probe, state: State) -> str:
    """A reading as it is typed; the lead in the air is its pin."""
    air = {pad_node(ref, pin): f"{ref}.{pin}" for ref, pin in state.lifted}
    return f"{air.get(probe.red, probe.red)} {air.get(probe.black, probe.black)} {probe.mode}"
