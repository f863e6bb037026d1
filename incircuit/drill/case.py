"""A bench as it was dealt: the board as told, and what is hidden."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.board.model import Board
from incircuit.meter.profile import Meter


@dataclass(frozen=True, slots=True)
class Hidden:
    """One fault: of `part`, its `fault` in words (``short C-E``) and `size` [Ω or a factor], None where it
    has none. A solder bridge has no part and lies `between` two nets.
    """

    part: str
    fault: str
    size: float | None = None
    between: tuple[str, str] = ("", "")

    @property
    def text(self) -> str:
        """As it is named: ``Q1 short C-E``, ``bridge GATE RTN``."""
        return f"{self.part} {self.fault}" if self.part else f"bridge {' '.join(self.between)}"

    @property
    def word(self) -> str:
        """The defect's word, or ``bridge``."""
        return self.fault.split()[0] if self.part else "bridge"


@dataclass(frozen=True, slots=True)
class Case:
    """A dealt bench. `board`, `meter`, `level` and `line` are told; `faults` are hidden, none: healthy.

    `seed` draws the tolerances of every part and the errors of the meter; `meter_name` is what a readings
    file calls the meter; `source` what the board was made from.
    """

    board: Board
    meter: Meter
    meter_name: str
    source: str
    level: int
    line: str
    seed: int
    faults: tuple[Hidden, ...]
