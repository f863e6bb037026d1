"""What was found wrong or odd while a foreign netlist was read, each with its place."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from incircuit.board.faults import Line
from incircuit.errors import Problem

MOST = 200
"""So many errors and so many warnings are kept; the rest is counted."""


class Word(NamedTuple):
    """A word of a netlist and where it stands."""

    text: str
    line: Line
    column: int


@dataclass(slots=True)
class Notes:
    """Errors (something was left out) and warnings (something was taken to mean what it may not)."""

    problems: list[Problem] = field(default_factory=list)
    more: dict[bool, int] = field(default_factory=dict)

    def error(self, at: Word, message: str, hint: str = "") -> None:
        """Something that had to be left out."""
        self._add(at, message, hint, False)

    def warn(self, at: Word, message: str, hint: str = "") -> None:
        """Something that was read, but may be meant otherwise."""
        self._add(at, message, hint, True)

    def _add(self, at: Word, message: str, hint: str, warning: bool) -> None:
        if sum(p.warning == warning for p in self.problems) >= MOST:
            self.more[warning] = self.more.get(warning, 0) + 1
            return
        text = at.line.text if at.column <= len(at.line.text) < 300 else ""  # a line may have megabytes
        self.problems.append(Problem(at.line.file, at.line.number, at.column, message, text, hint, warning))

    def told(self) -> tuple[Problem, ...]:
        """All of them, those that were only counted as one line at the end."""
        rest = [Problem(self.problems[-1].file, self.problems[-1].line, 1,
                        f"and {count} more {'warnings' if warning else 'errors'}", warning=warning)
                for warning, count in sorted(self.more.items())]
        return (*self.problems, *rest)
