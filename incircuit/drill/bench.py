"""The exercise as a pure state machine: a line in, an answer out, the bench after it. No terminal here.

Lines are those of a readings file without what the display shows (``GATE DRV diode``, ``lift D3.K``), and the
end: ``fault Q1 short`` or ``healthy``. What was done so far *is* a readings file: `Bench.lines`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from incircuit.advise.costs import Costs, load_costs
from incircuit.board.state import State
from incircuit.drill.case import Case, Hidden
from incircuit.drill.hidden import Seen, see
from incircuit.drill.named import named_faults
from incircuit.errors import DrillError, PadError
from incircuit.story import ReadingEntry, StateEntry, Story, moments, story_of_text

ACTS = ("lift", "resolder", "remove", "fit")
"""What can be done on this bench."""
FORMS = "GATE DRV diode, lift D3.K, resolder D3.K, remove Q1, fit Q1, fault Q1 short, healthy"
MOST_LINES = 500


@dataclass(frozen=True, slots=True)
class Answer:
    """What came of a line: `text` for a person, the reading where there was one, and what it cost [s]."""

    text: str
    seen: Seen | None = None
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Bench:
    """Where the exercise stands. `lines` are those of a readings file, `spent` seconds of bench work.

    `said` is the end: the faults named, empty for healthy; None while it goes on.
    """

    case: Case
    costs: Costs
    lines: tuple[str, ...] = ()
    spent: float = 0.0
    last: tuple[str, str, str] | None = None
    said: tuple[Hidden, ...] | None = None

    @property
    def over(self) -> bool:
        """Whether the fault has been named."""
        return self.said is not None

    @property
    def story(self) -> Story:
        """What was done so far."""
        return story_of(self, ())


def start(case: Case, costs: Costs | None = None) -> Bench:
    """The bench before the first reading."""
    return Bench(case, costs or load_costs())


def act(bench: Bench, text: str) -> tuple[Bench, Answer]:
    """Do what a line says. Raises DrillError for one that cannot be done; the bench is as before then."""
    line = " ".join(text.split())
    if bench.over:
        raise DrillError("this exercise is over")
    if not line or len(line) > 500 or not line.isprintable():
        raise DrillError(f"write one of {FORMS}")
    word, _, rest = line.partition(" ")
    if word == "healthy" and not rest:
        return replace(bench, said=()), Answer("You say: healthy.")
    if word == "fault":
        said = named_faults(bench.case.board, rest)
        return replace(bench, said=said), Answer(f"You say: {', '.join(h.text for h in said)}.")
    if len(bench.lines) >= MOST_LINES:
        raise DrillError(f"{MOST_LINES} lines are enough: name the fault, or say healthy")
    return _done(bench, line) if word in ACTS else _read(bench, line)


def _done(bench: Bench, line: str) -> tuple[Bench, Answer]:
    story = story_of(bench, (line,))
    entry = story.entries[-1]
    if story.problems or not isinstance(entry, StateEntry):
        raise DrillError(_first_problem(story) or f"write one of {FORMS}")
    seconds = _cost(bench, entry)
    return (
        replace(bench, lines=(*bench.lines, line), spent=bench.spent + seconds, last=None),
        Answer(f"done, {seconds:.0f} s of work" if seconds else "done", None, seconds),
    )


def _cost(bench: Bench, entry: StateEntry) -> float:
    """Soldering back belongs to the lifting; a new part costs its own soldering unless the old one is off."""
    part = bench.case.board.part(entry.args[0].partition(".")[0])
    if entry.word == "lift":
        return bench.costs.lift(part)
    off = part.ref in state_now(bench)[0].removed
    return bench.costs.remove(part) if entry.word == "remove" or (entry.word == "fit" and not off) else 0.0


def _read(bench: Bench, line: str) -> tuple[Bench, Answer]:
    modes = bench.case.meter.modes
    if len(line.split()) != 3:
        raise DrillError(f"write one of {FORMS}")
    if line.split()[2] not in modes:
        raise DrillError(f'"{line.split()[2]}" is not a mode of this meter: {", ".join(modes)}')
    story = story_of(bench, (f"{line} OL",))
    entry = story.entries[-1]
    if story.problems or not isinstance(entry, ReadingEntry):
        raise DrillError(_first_problem(story) or f"write one of {FORMS}")
    moment = moments(story, bench.case.board)[0][-1]
    if entry.when or entry.remark or entry.stamp:
        raise DrillError("ask for a reading only: GATE DRV diode")
    try:
        seen = see(
            bench.case, moment.state, moment.fitted, entry.red, entry.black, entry.mode, len(bench.lines)
        )
    except PadError as error:
        raise DrillError(str(error)) from None
    now = (entry.red, entry.black, entry.mode)
    before = bench.last or ("", "", "")
    seconds = bench.costs.reading(
        sum(a != b for a, b in zip(now[:2], before[:2], strict=True)), now[2] != before[2]
    )
    done = replace(
        bench, lines=(*bench.lines, f"{line} {_typed(seen)}"), spent=bench.spent + seconds, last=now
    )
    return done, Answer(seen.text, seen, seconds)


def _typed(seen: Seen) -> str:
    """The display as a readings file has it."""
    return seen.shown.text + (" settled" if seen.first is not None else "")


def story_of(bench: Bench, more: tuple[str, ...]) -> Story:
    """The lines so far and some more as a story on the board."""
    text = "\n".join((*bench.lines, *more)) + "\n"
    return story_of_text(text, "<drill>", bench.case.board)


def state_now(bench: Bench) -> tuple[State, frozenset[str]]:
    """The board as it stands, and the refs of new parts."""
    nets = bench.case.board.net_names()[:2]
    if len(nets) < 2:
        return State(), frozenset()
    story = story_of(bench, (f'"{nets[0]}" "{nets[1]}" ohms OL',))
    moment = moments(story, bench.case.board)[0][-1]
    return moment.state, moment.fitted


def _first_problem(story: Story) -> str:
    """What is wrong with the line that was typed, without the place in a file nobody has."""
    if not story.problems:
        return ""
    problem = story.problems[-1]
    return f"{problem.message}{f': {problem.hint}' if problem.hint else ''}"
