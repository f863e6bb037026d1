"""From a readings file to a Story. A faulty line never hides the lines after it."""

from __future__ import annotations

import os

from incircuit.board.faults import MOST, Line
from incircuit.board.model import Board
from incircuit.board.source import LARGEST, MOST_LINES, read_bytes
from incircuit.errors import Problem, StoryError
from incircuit.story.bench import moments
from incircuit.story.line import parse_line
from incircuit.story.model import Entry, StateEntry, Story

MARK = "\ufeff"
"""The byte order mark, as text."""


def read_story(path: str | os.PathLike[str], board: Board | None = None) -> Story:
    """The story of a readings file.

    With a board, every pad, pin and part is looked up on it and what was done must be possible
    (`incircuit.story.bench`). Raises StoryError with every fault, each with file, line and column;
    no other exception for any content or path.
    """
    return _sound(story_of_file(path, board))


def parse_story(text: str, file: str = "<text>", board: Board | None = None) -> Story:
    """The story of a text; `file` is shown in faults. Raises StoryError as `read_story`."""
    return _sound(story_of_text(text, file, board))


def story_of_file(path: str | os.PathLike[str], board: Board | None = None) -> Story:
    """As `read_story`, but raises nothing: what can be read is there, the faults are in `problems`."""
    shown = os.fspath(path)
    data = read_bytes(shown, "readings")
    if isinstance(data, Problem):
        return Story(file=shown, problems=(data,))
    return story_of_bytes(data, shown, board)


def story_of_bytes(data: bytes, file: str, board: Board | None = None) -> Story:
    """As `story_of_text`, of a file's bytes. What is not UTF-8 faults its line only."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return Story(file=file, problems=(Problem(file, 1, 1, "is UTF-16 text", hint="save it as UTF-8"),))
    return story_of_text(data.decode("utf-8", "surrogateescape"), file, board)


def story_of_text(text: str, file: str = "<text>", board: Board | None = None) -> Story:
    """As `parse_story`, but raises nothing: what can be read is there, the faults are in `problems`.

    After `MOST` faults lines are kept but no longer read, and the last problem says so.
    """
    lines = lines_of(text)
    if len(text) > LARGEST or len(lines) > MOST_LINES:
        what, most = (("large", f"{LARGEST:,} bytes") if len(text) > LARGEST else
                      ("long", f"{MOST_LINES:,} lines"))
        return Story(file=file, problems=(
            Problem(file, 1, 1, f"is too {what}", hint=f"a readings file has at most {most}"),))
    entries: list[Entry] = []
    problems: list[Problem] = []
    for number, raw in enumerate(lines, 1):
        line = Line(file, number, raw)
        if len(problems) >= MOST:
            entries.append(Entry(line=raw))
            continue
        entry, found = parse_line(line)
        entries.append(entry)
        problems += found
    story = Story(_first_meter(entries), tuple(entries), file)
    if board is not None:
        problems += moments(story, board)[1]
    return Story(story.meter, story.entries, file, _ordered(problems, file))


def lines_of(text: str) -> list[str]:
    """The lines of a text without line ends and byte order mark; none after the last newline."""
    lines = text.removeprefix(MARK).split("\n")
    if lines[-1] == "":
        lines.pop()
    return [line.removesuffix("\r") for line in lines]


def _first_meter(entries: list[Entry]) -> str:
    return next((e.args[0] for e in entries if isinstance(e, StateEntry) and e.word == "meter"), "")


def _ordered(problems: list[Problem], file: str) -> tuple[Problem, ...]:
    """In order of place; no more than `MOST`, and then a last one that says so."""
    ordered = sorted(problems, key=lambda p: (p.line, p.column))
    if len(ordered) < MOST:
        return tuple(ordered)
    last = ordered[MOST - 1]
    return (*ordered[:MOST], Problem(file, last.line, last.column,
                                     f"{MOST} errors so far: the rest is not shown",
                                     hint="mend the first ones; they may be the cause of the rest"))


def _sound(story: Story) -> Story:
    if story.problems:
        raise StoryError(story.problems)
    return story
