"""Afterwards: what was hidden, the shortest way, blind readings, needless lifts, and the cost."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.advise.outcomes import Outcomes, Progress, outcomes_of
from incircuit.board.pads import resolve_pad
from incircuit.board.state import State
from incircuit.circuit.build import build
from incircuit.drill.bench import Bench
from incircuit.drill.case import Hidden
from incircuit.drill.lessons import Lesson, lesson_behind
from incircuit.drill.named import is_right
from incircuit.drill.way import TRUTH, Way, shortest_way, truth
from incircuit.errors import DrillError
from incircuit.predict.variants import NO_CHANGE
from incircuit.story import Moment, StateEntry, moments

WRONG = 3600.0
"""[s] What a wrong verdict costs: parts ordered and changed in vain, a second dismantling; from memory."""


@dataclass(frozen=True, slots=True)
class Review:
    """`spent` is the trainee's bench work and `cost` that with what a wrong verdict costs [s]; `points` are
    100 for the shortest way and fewer for more work, 0 for a wrong verdict. `blind` are the readings (numbers
    of lines from 1) that would have shown the same on a healthy board, `needless` the lines that lifted or
    removed something without any reading that needed it.
    """

    right: bool
    truth: tuple[Hidden, ...]
    said: tuple[Hidden, ...]
    spent: float
    cost: float
    points: int
    way: Way
    blind: tuple[int, ...]
    needless: tuple[int, ...]
    lesson: Lesson


def review(bench: Bench, progress: Progress | None = None) -> Review:
    """The review of an exercise that is over. Raises DrillError while it is not."""
    if bench.said is None:
        raise DrillError("name the fault first, or say healthy")
    case = bench.case
    right = is_right(case.faults, bench.said)
    way = shortest_way(case, bench.costs, progress)
    telling = _telling(bench)
    blind = tuple(line for line, (tells, _) in telling.items() if not tells) if case.faults else ()
    cost = bench.spent + (0.0 if right else WRONG)
    points = round(100.0 * min(1.0, way.seconds / max(bench.spent, 1e-9))) if right else 0
    if right and not bench.lines and way.seconds > 0.0:
        points = 0  # a guess
    return Review(
        right,
        case.faults,
        bench.said,
        bench.spent,
        cost,
        points,
        way,
        blind,
        _needless(bench, telling),
        lesson_behind(case, way),
    )


def _telling(bench: Bench) -> dict[int, tuple[bool, State]]:
    """Whether each reading could show what is hidden, with the state it was taken in, by its line."""
    story = bench.story
    lines = [n for n, entry in enumerate(story.entries, 1) if entry in story.readings]
    taken = moments(story, bench.case.board)[0]
    return {
        line: (_tells(bench, moment, moment.state), moment.state)
        for line, moment in zip(lines, taken, strict=True)
    }


def _tells(bench: Bench, moment: Moment, state: State) -> bool:
    """Whether a reading tells the hidden board from a healthy one, in some state of it."""
    case, reading = bench.case, moment.reading
    red, black = (resolve_pad(case.board, state, pad) for pad in (reading.red, reading.black))
    if red == black:
        return False
    circuit = build(case.board, state)
    table: Outcomes = outcomes_of(
        circuit,
        [NO_CHANGE, truth(case, circuit, moment.fitted)],
        case.meter,
        [(min(red, black), max(red, black))],
        [reading.mode],
    )
    return any(
        table.told(k, 0, TRUTH)
        for k, probe in enumerate(table.probes)
        if (probe.red, probe.black) == (red, black)
    )


def _needless(bench: Bench, telling: dict[int, tuple[bool, State]]) -> tuple[int, ...]:
    """Lines that lifted or removed something while no reading told more than it would have in place."""
    story = bench.story
    taken = dict(zip(telling, moments(story, bench.case.board)[0], strict=True))
    found = []
    for number, entry in enumerate(story.entries, 1):
        if not isinstance(entry, StateEntry) or entry.word not in ("lift", "remove"):
            continue
        used = False
        for line, (tells, state) in telling.items():
            without = _undone(state, entry)
            if line > number and without != state and (tells or not bench.case.faults):
                used = (
                    used
                    or not _possible(bench, taken[line], without)
                    or (bool(bench.case.faults) and not _tells(bench, taken[line], without))
                )
        if not used:
            found.append(number)
    return tuple(found)


def _undone(state: State, entry: StateEntry) -> State:
    """The state without one lift or removal."""
    ref, _, pin = entry.args[0].partition(".")
    return State(
        state.lifted - {(ref, pin)},
        state.removed - {ref},
        state.jumpers,
        state.faults,
        state.charge,
        state.celsius,
    )


def _possible(bench: Bench, moment: Moment, state: State) -> bool:
    """Whether a reading can be taken in that state: on a part in place its two ends may be one net."""
    red, black = (
        resolve_pad(bench.case.board, state, pad) for pad in (moment.reading.red, moment.reading.black)
    )
    return red != black
