"""What each level deals: which boards, which faults, and what is told beforehand."""

from __future__ import annotations

from dataclasses import dataclass

PAIR = """# One resistor across one diode. The circuit and its values are invented.
board "A diode and the resistor beside it"
net IN   "one end"    pad=TP1
net OUT  "other end"  pad=TP2
R1   resistor   IN OUT       22R 5%
D1   diode      A=IN K=OUT   signal
R2   resistor   OUT RTN      10k 5%
R3   resistor   IN RTN       47k 5%
"""
"""The board of level 1; R2 and R3 so that there is something to lead astray."""


@dataclass(frozen=True, slots=True)
class Level:
    """`line` is told to the trainee; `boards` are starting points, none: the board of level 1. `words` are
    the faults dealt, `faults` how many, `healthy` how often there is none; `hands`: an earlier repair went
    wrong.
    """

    number: int
    line: str
    boards: tuple[str, ...]
    words: tuple[str, ...]
    faults: int = 1
    healthy: float = 1.0 / 6.0
    hands: bool = False


_SMALL = ("gate-drive", "divider", "relay-driver")
_MORE = (*_SMALL, "opto-feedback", "led-string", "op-amp")
_ALL = (*_MORE, "bridge-link", "linear-regulator", "half-bridge", "flyback")
_GROSS = ("open", "short")
_FINE = (*_GROSS, "leaky", "drifted", "wrong-value")

LEVELS: tuple[Level, ...] = (
    Level(1, "One resistor across one diode. One part is open or shorted, or all is well.", (), _GROSS),
    Level(2, "A small neighbourhood. One part is open or shorted, or all is well.", _SMALL, _GROSS),
    Level(3, "One part is open, shorted or leaking, or all is well.", _MORE, (*_GROSS, "leaky")),
    Level(4, "One part has any fault, drifted values too, or all is well.", _ALL, _FINE),
    Level(
        5,
        "The board has been worked on before. Up to two faults: a part that failed, and what the earlier "
        "repair left behind: a part reversed, missing or of the wrong value, or a solder bridge.",
        _ALL,
        _FINE,
        2,
        1.0 / 8.0,
        True,
    ),
)
"""From one resistor across one diode to two faults and an earlier repair."""
