"""A Story back to text: as it was typed where it was typed, canonical where it was built in code."""

from __future__ import annotations

from incircuit.board.faults import Faults, Line
from incircuit.board.lexer import quoted, split_line
from incircuit.errors import Problem, StoryError
from incircuit.story.line import parse_line
from incircuit.story.model import Entry, ReadingEntry, StateEntry, Story
from incircuit.story.words import STATE_FORMS


def write_story(story: Story) -> str:
    """The text of a readings file that reads back as this story, comments and faulty lines included.

    Line ends are ``\\n``. A line whose entry was changed since is written anew and keeps its
    comment. Bytes that were no UTF-8 come as lone surrogates (encode with ``surrogateescape``).
    Raises StoryError for an entry that no line can say.
    """
    return "".join(f"{_line(entry, number)}\n" for number, entry in enumerate(story.entries, 1))


def entry_line(entry: ReadingEntry | StateEntry) -> str:
    """The canonical line of an entry.

    >>> entry_line(StateEntry("lift", ("D3.K",), remark="iron at 350"))
    'lift D3.K "iron at 350"'
    """
    if isinstance(entry, ReadingEntry):
        red = quoted(entry.red) if entry.red in STATE_FORMS else _name(entry.red)
        pieces = [red, _name(entry.black), entry.mode, entry.shown]
        if isinstance(entry.when, float | int):
            pieces.append(f"after {float(entry.when)!r}s")
        elif entry.when:
            pieces.append(entry.when)
    else:
        pieces = [entry.word, *(_name(arg) for arg in entry.args)]
        if entry.number is not None:
            pieces[-1] = entry.args[-1]  # no name: its unit may stand apart
    if entry.remark:
        pieces.append(quoted(entry.remark))
    if entry.stamp:
        pieces.append(f"@{entry.stamp}")
    return " ".join(pieces)


def _name(text: str) -> str:
    return quoted(text) if not text or set(text) & set(' \t#"') else text


def _line(entry: Entry, number: int) -> str:
    if not isinstance(entry, ReadingEntry | StateEntry):
        return entry.line
    if entry.line and parse_line(Line("<story>", number, entry.line))[0] == entry:
        return entry.line
    text = entry_line(entry)
    if parse_line(Line("<story>", number, text))[0] != entry:
        raise StoryError((Problem("<story>", number, 1,
                                  "this entry cannot be written so that it reads back the same", text,
                                  "use names, values and words as a readings file has them"),))
    split = split_line(Line("<story>", number, entry.line), Faults())
    return text + (split.gap or " ") + split.comment if split and split.comment else text
