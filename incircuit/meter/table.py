"""Typed reading of one table of a TOML file, with every fault noted in words rather than raised."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from incircuit.board.faults import nearest
from incircuit.units import shown

_WORDS: dict[type, str] = {list: "a list", dict: "a table"}


def found(value: object) -> str:
    """What stands in the file, short and printable, for a message."""
    if isinstance(value, str):
        return f'the text "{shown(value)}"'
    if isinstance(value, (bool, float)):
        return repr(value).lower()
    if isinstance(value, int):  # a long integer may not be turned into text
        return str(value) if abs(value) < 10**15 else "a very large number"
    return _WORDS.get(type(value), "a date or time")


def hint(word: str, words: Sequence[str]) -> str:
    """``did you mean "current"?`` or ``expected one of …``."""
    close = nearest(word, words)
    return f'did you mean "{close}"?' if close else f"expected one of: {', '.join(words)}"


@dataclass(slots=True)
class Table:
    """One table, the place it stands at (``ohms.ranges[2]``), and the list all faults go to."""

    file: str
    place: str
    data: Mapping[str, Any]
    faults: list[str]
    known: list[str] = field(default_factory=list)

    def has(self, key: str) -> bool:
        """Whether the key is there; asking makes it a known one."""
        self.known.append(key)
        return key in self.data

    def fault(self, key: str, message: str) -> None:
        """Note a fault of this file at a key."""
        place = ".".join(part for part in (self.place, key) if part)
        self.faults.append(": ".join(part for part in (self.file, place, message) if part))

    def number(self, key: str, default: float | None = None, *, zero: bool = False, unit: str = "") -> float:
        """A finite number above 0, or from 0 with `zero`. Without `default` the key must be there."""
        what = f"a number {'of 0 or more' if zero else 'above 0'}{' in ' + unit if unit else ''}"
        if not self.has(key):
            if default is None:
                self.fault(key, f"missing, expected {what}")
            return math.nan if default is None else default
        value = self.data[key]
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fault(key, f"found {found(value)}, expected {what}")
            return math.nan
        if not (0 <= value < 1e300) or (value == 0 and not zero):  # refuses nan and inf as well
            self.fault(key, f"found {found(value)}, expected {what}")
            return math.nan
        return float(value)

    def text(self, key: str, default: str) -> str:
        """One line of text, not empty."""
        value = self.data[key] if self.has(key) else default
        if not isinstance(value, str) or not value.strip() or not value.isprintable():
            self.fault(key, f"found {found(value)}, expected one line of text")
            return default
        return value

    def choice(self, key: str, words: tuple[str, ...]) -> str:
        """One of `words`, the first where the key is absent."""
        value = self.data[key] if self.has(key) else words[0]
        if value not in words:
            self.fault(key, f"found {found(value)}, expected {' or '.join(repr(w) for w in words)}")
            return words[0]
        return str(value)

    def table(self, key: str) -> Table | None:
        """A table inside, None where it is absent or something else."""
        if not self.has(key):
            return None
        value = self.data[key]
        if not isinstance(value, dict):
            self.fault(key, f"found {found(value)}, expected a table")
            return None
        return Table(self.file, f"{self.place}.{key}".lstrip("."), value, self.faults)

    def tables(self, key: str, most: int) -> list[Table]:
        """A list of 1 to `most` tables."""
        value = self.data[key] if self.has(key) else None
        if not isinstance(value, list) or not 1 <= len(value) <= most:
            length = f"found {len(value)} entries" if isinstance(value, list) else f"found {found(value)}"
            said = "missing" if value is None else length
            self.fault(key, f"{said}, expected a list of 1 to {most} tables, {{ full_scale = 400, … }}")
            return []
        place = f"{self.place}.{key}".lstrip(".")
        for index, entry in enumerate(value):
            if not isinstance(entry, dict):
                self.fault(f"{key}[{index}]", f"found {found(entry)}, expected a table")
        return [Table(self.file, f"{place}[{index}]", entry, self.faults)
                for index, entry in enumerate(value) if isinstance(entry, dict)]

    def close(self) -> None:
        """Call when all keys have been asked for: whatever is left is unknown."""
        known = list(dict.fromkeys(self.known))
        for key in self.data:
            if key not in known:
                self.fault(shown(key), f"unknown key, {hint(key, known)}")
