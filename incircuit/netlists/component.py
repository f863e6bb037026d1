"""A component of a schematic's netlist as it stands there, and the numbers in its value text."""

from __future__ import annotations

import re
from dataclasses import dataclass

from incircuit.errors import UnitError
from incircuit.netlists.notes import Word
from incircuit.units import parse_quantity


@dataclass(frozen=True, slots=True)
class Component:
    """`pins` are (number, name, net); `at` and `value_at` are where ref and value stand."""

    ref: str
    value: str
    library: str
    part: str
    description: str
    pins: tuple[tuple[str, str, str], ...]
    at: Word
    value_at: Word

    @property
    def prefix(self) -> str:
        """The letters the reference begins with, upper case."""
        match = re.match(r"[^\W\d_]*", self.ref)
        return match[0].upper() if match else ""

    @property
    def said(self) -> str:
        """Library part and description in lower case, where a word may name the kind."""
        return f"{self.part} {self.description}".lower()

    def says(self, *words: str) -> bool:
        """Whether one of some words occurs in what the library says."""
        return any(word in self.said for word in words)


@dataclass(frozen=True, slots=True)
class Numbers:
    """What a value text holds; `remark` where it was read otherwise than typed."""

    value: float | None = None
    rating: float | None = None
    tolerance: float | None = None
    remark: str = ""


_LOOSE = re.compile(r"([0-9]+(?:[.,][0-9]+)?)(meg|[pnuµμmkKMG])?(f|fd|h|hy|ohms?|r|Ω|ω)?", re.IGNORECASE)
_VOLTS = re.compile(r"(?<![0-9.])([0-9]{1,4}(?:\.[0-9]{1,2})?)V([0-9]{0,2})(?![0-9a-z])", re.IGNORECASE)


def numbers_of(text: str, unit: str) -> Numbers:
    """Value in `unit`, rating in volts and tolerance in the text of a value: ``100n/50V 10%``.

    >>> numbers_of("4k7 1%", "Ω").value, numbers_of("47pf", "F").value, numbers_of("470u/450V", "F").rating
    (4700.0, 4.7e-11, 450.0)
    """
    value = rating = tolerance = None
    remark = ""
    for token in re.split(r"[\s/;,_|]+", text.replace("±", " ")):
        found = _quantity(token, unit)
        if found is None:
            continue
        number, what, said = found
        if what == "%":
            tolerance = number if tolerance is None else tolerance
        elif what == "V" and unit != "V":
            rating = number if rating is None else rating
        elif what == unit and value is None:
            value, remark = number, said
    return Numbers(value, rating, tolerance, remark)


def _quantity(token: str, unit: str) -> tuple[float, str, str] | None:
    """(number, unit, remark) of one word; None where it is none."""
    try:
        number, what = parse_quantity(token, unit)
        return number, what or unit, ""
    except UnitError:
        match = _LOOSE.fullmatch(token)
    if not match:
        return None
    digits, prefix, tail = match.groups()
    letter = "M" if (prefix or "").lower() == "meg" else prefix or ""
    letter = letter if letter in "mMkKG" else letter.lower()
    try:
        value, _ = parse_quantity(digits.replace(",", ".") + letter, unit)
    except UnitError:
        return None
    of = {"f": "F", "h": "H"}.get((tail or "")[:1].lower(), "Ω" if tail else unit)
    return value, of, f"{token} read as {digits}{letter}"


def volts_in(*texts: str) -> float | None:
    """The first voltage in some texts: ``5V1``, ``12V``.

    >>> volts_in("type C5V1", ""), volts_in("none", "18V zener"), volts_in("x")
    (5.1, 18.0, None)
    """
    for text in texts:
        if match := _VOLTS.search(text):
            whole, part = match.groups()
            return float(f"{whole}.{part}" if part and "." not in whole else whole)
    return None
