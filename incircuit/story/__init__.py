"""The bench story: readings interleaved with what was done to the board, in order.

`words` holds the vocabulary, `model` the data, `line` one line, `reader` and `writer` the text,
`names` what only the board can tell, `bench` the state of the board at every reading, `store` the
file while it grows.
"""

from incircuit.story.bench import Moment, moments, states
from incircuit.story.model import Entry, ReadingEntry, StateEntry, Story, When
from incircuit.story.reader import parse_story, read_story, story_of_file, story_of_text
from incircuit.story.store import Stored, append, undo
from incircuit.story.words import STATE_FORMS
from incircuit.story.writer import entry_line, write_story

__all__ = [
    "STATE_FORMS",
    "Entry",
    "Moment",
    "ReadingEntry",
    "StateEntry",
    "Stored",
    "Story",
    "When",
    "append",
    "entry_line",
    "moments",
    "parse_story",
    "read_story",
    "states",
    "story_of_file",
    "story_of_text",
    "undo",
    "write_story",
]
