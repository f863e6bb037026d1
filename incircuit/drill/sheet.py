"""Exercises on paper: the same seeds for a whole class, and the solutions on a page of their own.

On paper nobody can ask, so the readings are there: those that tell, among others that do not, as this bench
shows them.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from incircuit.advise.costs import Costs
from incircuit.advise.outcomes import Probe
from incircuit.board.model import Board
from incircuit.board.writer import write_board
from incircuit.drill.bench import Bench, act, start
from incircuit.drill.case import Case
from incircuit.drill.lessons import Lesson, lesson_behind
from incircuit.drill.way import Way, shortest_way

DECOYS = 6
"""Readings that were not needed, beside those that were."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One exercise: the bench, its board as text, readings as (typed, display), the way to the solution."""

    case: Case
    board: str
    readings: tuple[tuple[str, str], ...]
    way: Way
    lesson: Lesson


def sheet_of(case: Case, costs: Costs) -> Sheet:
    """The sheet of a dealt bench."""
    way = shortest_way(case, costs)
    needed = [step.text for step in way.steps]
    rng = random.Random(f"sheet {case.level} {case.seed}")
    others = [text for text in _across_parts(case) if text not in needed]
    extra = rng.sample(others, min(DECOYS, len(others)))
    lines = _mixed(needed, extra, rng)
    bench, shown = start(case, costs), []
    for line in lines:
        bench, display = _taken(bench, line)
        shown.append((line, display))
    return Sheet(case, write_board(case.board), tuple(shown), way, lesson_behind(case, way))


def _taken(bench: Bench, line: str) -> tuple[Bench, str]:
    after, answer = act(bench, line)
    return after, answer.text if answer.seen is not None else ""


def _mixed(needed: Sequence[str], extra: Sequence[str], rng: random.Random) -> list[str]:
    """All readings in place in any order, then what follows a lift in its own."""
    first = next((k for k, text in enumerate(needed) if text.startswith("lift ")), len(needed))
    place = [*needed[:first], *extra]
    rng.shuffle(place)
    return [*place, *needed[first:]]


def _across_parts(case: Case) -> list[str]:
    """A reading across every part that has two pads."""
    hidden = {net.name for net in case.board.nets if net.hidden}
    found: dict[str, None] = {}
    for part in case.board.parts:
        pads = [net for net in dict.fromkeys(net for _, net in part.pins) if net not in hidden]
        if len(pads) > 1:
            mode = "ohms" if part.kind in ("resistor", "shunt", "fuse", "inductor", "relay") else "diode"
            found[_text(Probe(pads[0], pads[1], mode))] = None
    return list(found)


def _text(probe: Probe) -> str:
    return f"{probe.red} {probe.black} {probe.mode}"


def parts_list(board: Board) -> str:
    """The board as a trainee is told it, without comments: title, parts, alike."""
    lines = [line.partition("#")[0].rstrip() for line in write_board(board).splitlines()]
    return "\n".join(line for line in lines if line and not line.startswith("board "))
