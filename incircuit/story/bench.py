"""The board on the bench, statement by statement: its state at every reading, and what cannot be."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.board.faults import Faults, Line
from incircuit.board.lexer import split_line
from incircuit.board.model import Board
from incircuit.board.state import State
from incircuit.errors import Problem, StoryError
from incircuit.story.model import Entry, ReadingEntry, StateEntry, Story
from incircuit.story.names import Wrong, wrong_names
from incircuit.story.steps import Bench, done, node_of, state_of

UNPOWERED = ("diode", "ohms", "continuity", "farads", "esr")
"""Modes in which the meter brings its own current: a supply on the board falsifies them."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A reading and the bench as it was.

    `replaced` holds (ref, how often) for every part replaced by a new one so far: two readings saw
    the same specimen of a part where the counts are equal. `hot` is (ref, °C), `power` (plus node,
    minus node, volts), `meter` what `load_meter` takes, ``""`` where none was named yet.
    """

    reading: ReadingEntry
    state: State
    replaced: tuple[tuple[str, int], ...] = ()
    hot: tuple[tuple[str, float], ...] = ()
    power: tuple[tuple[str, str, float], ...] = ()
    meter: str = ""

    @property
    def fitted(self) -> frozenset[str]:
        """Refs replaced by new parts by then."""
        return frozenset(ref for ref, _ in self.replaced)


def states(story: Story, board: Board) -> tuple[tuple[ReadingEntry, State, frozenset[str]], ...]:
    """Every reading with the state in force and the refs replaced by new parts by then.

    Raises StoryError with all that is wrong, `story.problems` included.
    """
    found, problems = moments(story, board)
    if every := sorted({*story.problems, *problems}, key=lambda p: (p.line, p.column)):
        raise StoryError(tuple(every))
    return tuple((moment.reading, moment.state, moment.fitted) for moment in found)


def moments(story: Story, board: Board) -> tuple[tuple[Moment, ...], tuple[Problem, ...]]:
    """Every reading that can be used, with the bench as it was, and what is wrong with the other lines.

    A statement that names what the board does not have, or that contradicts what was done before,
    is left out; so is a reading on such a pad, one in a mode of `UNPOWERED` with a supply on, or volts
    without one.
    """
    bench, found = Bench(board, story.file), []
    problems: list[Problem] = []
    for number, entry in enumerate(story.entries, 1):
        wrong = _wrong_names(bench, entry)
        if not wrong and isinstance(entry, StateEntry):
            said = done(bench, entry, entry.place.line if entry.place else number)
            wrong = (said,) if said else ()
        elif not wrong and isinstance(entry, ReadingEntry):
            if bench.power and entry.mode in UNPOWERED:
                wrong = ((2, f"{entry.mode} with the supply on", _supply_off(bench)),)
            elif not bench.power and entry.mode == "volts":
                wrong = ((2, "volts without a supply", "write where one is put on before: power BUS RTN 30"),)
            else:
                found.append(_moment(bench, entry))
        problems += [located(story, entry, each, number) for each in wrong]
    return tuple(found), tuple(problems)


def _moment(bench: Bench, entry: ReadingEntry) -> Moment:
    state = state_of(bench)
    power = tuple((node_of(bench, a), node_of(bench, b), volts) for (a, b), volts in bench.power.items())
    return Moment(entry, state, tuple(bench.replaced.items()), tuple(bench.hot.items()), power, bench.meter)


def _wrong_names(bench: Bench, entry: Entry) -> tuple[Wrong, ...]:
    if entry in bench.right:
        return ()
    wrong = wrong_names(entry, bench.board, bench.file)
    if not wrong:
        bench.right.add(entry)
    return wrong


def located(story: Story, entry: Entry, wrong: Wrong, number: int = 1) -> Problem:
    """A Problem at a word of the entry's line; `number` is its place where it does not say."""
    at, message, hint = wrong
    place = entry.place
    line = Line(place.file if place else story.file, place.line if place else number, entry.line)
    split = split_line(line, Faults())
    tokens = split.tokens if split else []
    column = tokens[at].column if at < len(tokens) else 1
    return Problem(line.file, line.number, column, message, line.text, hint)


def _supply_off(bench: Bench) -> str:
    a, b = next(iter(bench.power))
    return f"if it was taken off, write power {a} {b} 0 in the line before"
