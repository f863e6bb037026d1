"""Collecting located faults, and finding the word that was probably meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field

from incircuit.errors import BoardError, Problem

MOST = 200
"""So many faults are collected; then reading stops and says so."""


@dataclass(frozen=True, slots=True)
class Line:
    """One raw line of a file, without its newline. `number` counts from 1."""

    file: str
    number: int
    text: str


class TooManyFaults(Exception):
    """Leaves the reader when `MOST` faults are collected; never reaches a caller."""


@dataclass(slots=True)
class Faults:
    """The faults found so far, in the order of reading."""

    problems: list[Problem] = field(default_factory=list)

    def add(self, line: Line, column: int, message: str, hint: str = "") -> None:
        """Note a fault at a column (from 1) of a line. Raises TooManyFaults at the limit."""
        self.problems.append(Problem(line.file, line.number, column, message, line.text, hint))
        if len(self.problems) >= MOST:
            self.problems.append(Problem(line.file, line.number, column,
                                         f"{MOST} errors so far: reading stops here", "",
                                         "mend the first ones; they may be the cause of the rest"))
            raise TooManyFaults

    def raise_if_any(self) -> None:
        """Raise BoardError with everything collected, in order of place, if anything was."""
        if not self.problems:
            return
        files = list(dict.fromkeys(p.file for p in self.problems))
        order = {file: at for at, file in enumerate(files)}
        cut = MOST if len(self.problems) > MOST else None  # "reading stops" stays last
        ordered = sorted(self.problems[:cut], key=lambda p: (order[p.file], p.line, p.column))
        raise BoardError((*ordered, *(self.problems[cut:] if cut else ())))


def nearest(word: str, choices: Iterable[str]) -> str:
    """The choice most like `word` (case counts least), or ``""`` when none is near.

    >>> nearest("resister", ["resistor", "varistor"]), nearest("gate", ["GATE", "DRV"]), nearest("x", ["yy"])
    ('resistor', 'GATE', '')
    """
    if len(word) > 60:
        return ""
    names = list(dict.fromkeys(choices))
    folded = word.casefold()
    for name in names:
        if name.casefold() == folded and name != word:
            return name
    # 0.6 is difflib's own default; short words need the lower bound to catch one wrong letter
    found = difflib.get_close_matches(folded, [n.casefold() for n in names], 1, 0.6 if len(word) > 3 else 0.5)
    return next((n for n in names if found and n.casefold() == found[0]), "")


def did_you_mean(word: str, choices: Iterable[str]) -> str:
    """``did you mean X?`` or ``""``."""
    name = nearest(word, choices)
    return f"did you mean {name}?" if name else ""


def a_(noun: str) -> str:
    """The noun with its article.

    >>> a_("diode"), a_("inductor"), a_("npn"), a_("led")
    ('a diode', 'an inductor', 'an npn', 'an led')
    """
    return f"{'an' if noun[:1] in 'aeio' or noun in ('npn', 'nmos', 'led') else 'a'} {noun}"
