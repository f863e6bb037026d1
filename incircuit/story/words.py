"""The words of a readings file: what was done to the board, and when the display was read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Argument = Literal["meter", "pin", "pin or part", "part", "pad", "volts", "celsius"]

COLDEST, HOTTEST = -100.0, 500.0
"""[°C] Between freezing spray and molten solder with room to spare (from memory)."""
SOONEST, LATEST = 0.1, 3600.0
"""[s] Nobody reads a display sooner after the touch, or waits longer."""


@dataclass(frozen=True, slots=True)
class StateForm:
    """What a state word takes, an example, and what it means."""

    arguments: tuple[Argument, ...]
    example: str
    doc: str


STATE_FORMS: Mapping[str, StateForm] = MappingProxyType({
    "meter": StateForm(("meter",), "meter handheld", "the meter from here on: a shipped one or a profile"),
    "lift": StateForm(("pin",), "lift D3.K", "a pin unsoldered"),
    "resolder": StateForm(("pin or part",), "resolder D3.K", "a lifted pin, or the same part, soldered back"),
    "remove": StateForm(("part",), "remove Q1", "a part taken off the board"),
    "fit": StateForm(("part",), "fit Q1", "a new part put in, also in one go with taking the old one out"),
    "short": StateForm(("pad", "pad"), "short GATE RTN", "a wire laid between two pads"),
    "unshort": StateForm(("pad", "pad"), "unshort GATE RTN", "that wire taken off"),
    "charge": StateForm(("part", "volts"), "charge C9 48", "what a capacitor or an insulated gate holds"),
    "discharge": StateForm(("part",), "discharge C9", "a capacitor or an insulated gate discharged"),
    "power": StateForm(("pad", "pad", "volts"), "power +15V RTN 15", "a supply put on, plus first; 0 is off"),
    "hot": StateForm(("part", "celsius"), "hot Q1 70", "a part heated or cooled"),
    "ambient": StateForm(("celsius",), "ambient 31", "the temperature of the whole board"),
})
"""Every state word. A line that begins with one, not in quotes, is a statement."""

WHEN_WORDS = ("first", "settled", "after")
"""When the display was read: ``first``, ``settled``, ``after 5s``."""
