"""What a readings file says, as plain immutable data: every line is an entry, in order."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from incircuit.board.model import Place
from incircuit.errors import Problem
from incircuit.meter.typed import Typed

When = Literal["", "first", "settled"] | float
"""When the display was read: not said, at first sight, when it stood still, or so many seconds after."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line: a comment, a blank line or a line that cannot be read; the base of the other two.

    `line` is the raw line without its newline, empty where the entry was built in code.
    """

    line: str = field(default="", compare=False, kw_only=True)
    place: Place | None = field(default=None, compare=False, kw_only=True)


@dataclass(frozen=True, slots=True)
class ReadingEntry(Entry):
    """One reading.

    `red` and `black` are pads, `shown` the display as typed, `typed` what it means [V or Ω],
    `step` the weight of its last digit [V or Ω], 0 for OL or a beep alone. `stamp` is the time as
    typed after the @, ISO 8601, ``""`` for none.
    """

    red: str
    black: str
    mode: str
    shown: str
    typed: Typed
    step: float
    when: When = ""
    remark: str = ""
    stamp: str = ""


@dataclass(frozen=True, slots=True)
class StateEntry(Entry):
    """One statement: `word` of `incircuit.story.words.STATE_FORMS`, `args` as typed, quotes taken off.

    `number` is the last argument where it is a quantity: volts, or degrees Celsius.
    """

    word: str
    args: tuple[str, ...]
    number: float | None = None
    remark: str = ""
    stamp: str = ""


@dataclass(frozen=True, slots=True)
class Story:
    """A readings file. `entries` holds every line, also those that cannot be read.

    `meter` is the first meter named, as typed, ``""`` where none is: a shipped meter or a profile
    whose path is relative to `file`. `problems` is what is wrong, in order of place.
    """

    meter: str = ""
    entries: tuple[Entry, ...] = ()
    file: str = field(default="<text>", compare=False)
    problems: tuple[Problem, ...] = field(default=(), compare=False)

    @property
    def readings(self) -> tuple[ReadingEntry, ...]:
        """The readings, in order."""
        return tuple(entry for entry in self.entries if isinstance(entry, ReadingEntry))

    @property
    def statements(self) -> tuple[StateEntry, ...]:
        """What was done to the board, in order."""
        return tuple(entry for entry in self.entries if isinstance(entry, StateEntry))
