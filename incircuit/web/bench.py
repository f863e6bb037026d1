"""The bench story on the page: what is in the readings file, one line more, one line less."""

from __future__ import annotations

import contextlib
import os
from typing import Any

from incircuit.board import Board, State
from incircuit.board.lexer import quoted
from incircuit.errors import ChangedError, FolderError, MeterError, Problem, StoryError, UnitError
from incircuit.meter.profile import load_meter, shipped_meters
from incircuit.meter.typed import UNIT_OF_MODE, parse_shown
from incircuit.story import (
    STATE_FORMS,
    Entry,
    ReadingEntry,
    StateEntry,
    Story,
    append,
    story_of_file,
    undo,
)
from incircuit.story.adding import checked_next
from incircuit.story.names import meter_named
from incircuit.story.steps import Bench, done, state_of
from incircuit.story.store import checked_line
from incircuit.web.folder import digest_at, path_in

WORDS = ("OL", "beep", "silent", "chirp", "climbs")
"""Words for a display that get a button, where this meter's readings take them."""
LONGEST = 400
"""Characters of one field."""


def story_in(folder: str, board: Board, name: str) -> Story:
    """The story of a readings file of the folder; an empty one where there is no such file yet."""
    path = path_in(folder, name, "readings")
    if not os.path.exists(path):
        return Story(file=path)
    return story_of_file(path, board)


def story_json(folder: str, board: Board, name: str) -> dict[str, Any]:
    """Every line of the story that says something, what is wrong, and the bench as it is now."""
    path = path_in(folder, name, "readings")
    digest = digest_at(path)
    story = story_in(folder, board, name)
    return {
        "digest": digest, "meter": meter_of(story), **_modes(story),
        "entries": [_entry_json(e, n) for n, e in enumerate(story.entries, 1)
                    if isinstance(e, ReadingEntry | StateEntry)],
        "problems": [{"line": p.line, "message": p.message, "hint": p.hint, "text": p.text}
                     for p in story.problems],
        "bench": bench_json(board, story),
    }


def _modes(story: Story) -> dict[str, Any]:
    """The modes of the meter in force, and which of them a readings file takes."""
    try:
        modes = load_meter(meter_named(meter_of(story), story.file)).all_modes
    except MeterError:
        modes = tuple(UNIT_OF_MODE)
    typed = [mode for mode in modes if mode in UNIT_OF_MODE]
    return {"modes": list(modes), "typed": typed, "words": [word for word in WORDS if _is_said(word, typed)]}


def _is_said(word: str, modes: list[str]) -> bool:
    """Whether a display may be told by a word in one of these modes."""
    for mode in modes:
        with contextlib.suppress(UnitError):
            parse_shown(word, mode)
            return True
    return False


def meter_of(story: Story) -> str:
    """The meter in force after the last line, as typed."""
    named = [e.args[0] for e in story.entries if isinstance(e, StateEntry) and e.word == "meter"]
    return named[-1] if named else "handheld"


def _entry_json(e: ReadingEntry | StateEntry, number: int) -> dict[str, Any]:
    line = e.line.strip()
    if isinstance(e, StateEntry):
        return {"line": number, "text": line, "word": e.word, "args": list(e.args), "stamp": e.stamp,
                "remark": e.remark}
    when = "" if not e.when else str(e.when) if isinstance(e.when, str) else f"after {e.when:g} s"
    return {"line": number, "text": line, "red": e.red, "black": e.black, "mode": e.mode, "shown": e.shown,
            "when": when, "stamp": e.stamp, "remark": e.remark}


def bench_json(board: Board, story: Story) -> dict[str, Any]:
    """What is lifted, off, wired, charged, powered, hot now, by what the statements say."""
    bench = _replayed(board, story)
    return {
        "lifted": sorted(f"{ref}.{pin}" for ref, pin in bench.lifted), "removed": sorted(bench.removed),
        "wires": [list(wire) for wire in bench.wires],
        "charge": [[ref, volts] for ref, volts in bench.charge.items()],
        "power": [[a, b, volts] for (a, b), volts in bench.power.items()],
        "hot": [[ref, celsius] for ref, celsius in bench.hot.items()],
        "replaced": sorted(bench.replaced), "celsius": bench.celsius,
    }


def now_of(board: Board, story: Story) -> State:
    """The board as it stands now, as if no supply were on; lines that cannot be used are passed over."""
    return state_of(_replayed(board, story))


def _replayed(board: Board, story: Story) -> Bench:
    bench = Bench(board, story.file)
    wrong = {p.line for p in story.problems}
    for number, entry in enumerate(story.entries, 1):
        if isinstance(entry, StateEntry) and number not in wrong:
            done(bench, entry, number)
    return bench


def line_of(ask: dict[str, Any]) -> str:
    """The line of a reading (`red`, `black`, `mode`, `shown`, `when`) or of a statement (`word`, `args`).

    Both take a `remark` and a `stamp`. Raises StoryError for what cannot be one.
    """
    def field(name: str) -> str:
        text = str(ask.get(name) or "").strip()
        if len(text) > LONGEST or not text.isprintable():
            raise StoryError((Problem("this reading", 1, 1, f"the {name} is no short line of plain text"),))
        return text

    if word := field("word"):
        if word not in STATE_FORMS:
            raise StoryError((Problem("this reading", 1, 1, f'"{word}" is no word for what was done'),))
        args = [str(a).strip() for a in ask.get("args", [])]
        if any(len(a) > LONGEST or not a.isprintable() for a in args):
            raise StoryError((Problem("this reading", 1, 1, "a name is a short line of plain text"),))
        pieces = [word, *(_name(a) for a in args)]
    else:
        red = field("red")
        pieces = [quoted(red) if red in STATE_FORMS else _name(red), _name(field("black")), field("mode"),
                  field("shown"), field("when")]
    if remark := field("remark"):
        pieces.append(quoted(remark))
    if stamp := field("stamp"):
        pieces.append(f"@{stamp}")
    return " ".join(piece for piece in pieces if piece)


def _name(text: str) -> str:
    return quoted(text) if not text or set(text) & set(' \t#"') else text


def record(folder: str, board: Board, name: str, line: str) -> str:
    """Check a line against the board and what was done before, store it, give it back as stored.

    When this returns the line is on the disk. The very same line with the very same time is stored once:
    a page that never heard the answer sends it again. Raises StoryError, FolderError.
    """
    text = checked_line(line)
    path = path_in(folder, name, "readings")
    before = story_in(folder, board, name)
    if "@" in text and any(e.line.strip() == text for e in before.entries):
        return text
    text, entry = checked_next(before, text, board)
    _meter_allowed(folder, entry)
    return append(path, text).line


def _meter_allowed(folder: str, entry: Entry) -> None:
    """A profile lies in the folder. Raises FolderError."""
    if isinstance(entry, StateEntry) and entry.word == "meter" and entry.args[0] not in shipped_meters():
        path_in(folder, entry.args[0], "meter")


def take_back(folder: str, board: Board, name: str, line: str) -> str:
    """Take the last line back if it is still the one the page shows as last.

    Raises ChangedError where another was added meanwhile, StoryError where there is none.
    """
    said = [e for e in story_in(folder, board, name).entries if isinstance(e, ReadingEntry | StateEntry)]
    if not said:
        raise FolderError("nothing to take back")
    if said[-1].line.strip() != line.strip():
        raise ChangedError(f"the last line is another one by now, {said[-1].line.strip()}: "
                           "nothing was taken back")
    return undo(path_in(folder, name, "readings"))
