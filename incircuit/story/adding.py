"""One line more, checked against the board and everything before it, before it is stored."""

from __future__ import annotations

from dataclasses import replace

from incircuit.board.model import Board
from incircuit.errors import StoryError
from incircuit.story.model import Entry, Story
from incircuit.story.reader import story_of_text
from incircuit.story.store import checked_line
from incircuit.story.writer import write_story


def checked_next(before: Story, line: str, board: Board) -> tuple[str, Entry]:
    """The line as it is to be stored, and what it says after `before`. Raises StoryError, whose place is
    ``this line``, where it is no line or cannot be so on this board as it stands by then; and what is wrong
    with the file where nothing in it can be used: that is something else, and not to be written to."""
    text = checked_line(line)
    if before.problems and not before.readings and not before.statements:
        raise StoryError(before.problems)
    both = story_of_text(f"{write_story(before)}{text}\n", before.file, board)
    new = tuple(replace(p, file="this line", line=1) for p in both.problems if p.line == len(both.entries))
    if new:
        raise StoryError(new)
    return text, both.entries[-1]
