"""Every error the library raises on purpose.

::

    IncircuitError                 something the user can mend; exit code 2
    ├── UnitError                  text that is not a value with a unit
    ├── MarkError                  text that is no marking, or a value that cannot be marked
    ├── BoardError                 one or more located faults of a board file
    ├── StoryError                 one or more located faults of a readings file, or a line not recorded
    ├── StateError                 a lifted pin, removed part or fault that the board does not have
    ├── PadError                   a pad name that is neither a net nor a pin
    ├── MeterError                 a meter profile that cannot be used
    ├── NetlistError               located faults of a foreign netlist, or a board no deck can say
    ├── DrawError                  a picture that cannot be drawn or written
    ├── StartError                 no such starting point, or a file that is there already
    ├── DrillError                 something a drill cannot answer; the bench stays as it is
    ├── EngineError                the second engine is absent or refused
    ├── FolderError                a file outside the folder of the bench page, or not to be written
    │   └── ChangedError           … or changed by somebody else meanwhile
    └── SolveError                 no proven operating point; carries the residual
"""

from __future__ import annotations

from dataclasses import dataclass


class IncircuitError(Exception):
    """Base of all errors a user can mend. `exit_code` is what the command line returns."""

    exit_code = 2


class UnitError(IncircuitError, ValueError):
    """Text that is not a value with a unit; the message says what was found and expected."""


class MarkError(IncircuitError, ValueError):
    """Text that is no marking of a part, or a value no marking can say; the message has the nearest."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One located fault of a text file.

    `line` and `column` count from 1; `text` is the raw line (without its newline), shown with a
    caret below `column`. `hint` is the nearest valid word or what to do, may be empty.
    """

    file: str
    line: int
    column: int
    message: str
    text: str = ""
    hint: str = ""
    warning: bool = False

    def __str__(self) -> str:
        kind = "warning: " if self.warning else ""
        hint = f" ({self.hint})" if self.hint else ""
        head = f"{self.file}:{self.line}:{self.column}: {kind}{self.message}{hint}"
        if not self.text:
            return head
        shown = self.text.expandtabs(1)
        return f"{head}\n  {shown}\n  {' ' * (self.column - 1)}^"


class BoardError(IncircuitError):
    """All located faults of one board file and its includes."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(str(p) for p in problems))


class StoryError(IncircuitError):
    """Located faults of one readings file, all of them; or the one reason why a line was not recorded."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(str(p) for p in problems))


class NetlistError(IncircuitError):
    """Located faults of a netlist that is brought in, all of them; or why a board cannot go out."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(str(p) for p in problems))


class DrawError(IncircuitError):
    """A picture that cannot be drawn or written."""


class StartError(IncircuitError):
    """A starting point that does not exist, or a file it cannot be written to."""


class DrillError(IncircuitError):
    """A question or answer that a drill cannot take; the bench stays as it is."""


class StateError(IncircuitError):
    """A state statement (lift, remove, fault …) that does not fit the board."""


class PadError(IncircuitError):
    """A pad that is neither a net nor a pin of the board."""


class MeterError(IncircuitError):
    """A meter profile that is absent, malformed, or lacks the mode asked for."""


class EngineError(IncircuitError):
    """The second engine cannot be loaded or failed; the message says how to get it."""


class FolderError(IncircuitError):
    """A file that the bench page may not have, or cannot write."""


class ChangedError(FolderError):
    """A file that somebody else changed since it was read; nothing was written."""


class SolveError(IncircuitError):
    """No operating point could be proven.

    Attributes: `residual` [A] the worst Kirchhoff residual, `tolerance` [A] what was allowed,
    `node` where.
    """

    def __init__(self, message: str, residual: float = float("nan"), tolerance: float = float("nan"),
                 node: str = "") -> None:
        self.residual = residual
        self.tolerance = tolerance
        self.node = node
        super().__init__(message)
