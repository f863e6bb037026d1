"""Value, tolerance and ratings of a part statement."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from incircuit.board.faults import a_
from incircuit.board.kinds import KindSpec
from incircuit.errors import UnitError
from incircuit.units import UNIT_WORDS, parse_quantity, parse_value

RATING_UNITS = ("V", "A", "W")
"""Units a rating can have; which of them `Part.rating` holds is the kind's `rating_unit`."""

_VALUE = re.compile(r"[-+±−.]?[\d.].*|[Rpnuµμm][0-9]+\S*")
_EXAMPLES = {"Ω": "4k7", "F": "100n", "H": "10u", "V": "12V", "Hz": "8M"}


@dataclass(slots=True)
class Values:
    """The numbers of a part while its statement is read."""

    value: float | None = None
    tolerance: float | None = None
    rating: float | None = None
    others: tuple[tuple[str, float], ...] = ()


def looks_like_value(text: str) -> bool:
    """Whether a bare token is meant as a number rather than a word.

    >>> [looks_like_value(t) for t in ("4k7", ".5", "R47", "-5V", "film", "n", "±5%")]
    [True, True, True, True, False, False, True]
    """
    return _VALUE.fullmatch(text) is not None


_quantity = lru_cache(maxsize=4096)(parse_quantity)


def read_value(values: Values, kind: KindSpec, text: str) -> tuple[str, str]:
    """A number to the value, tolerance or rating that its unit makes it.

    Returns (what is wrong, what to do), two empty texts if nothing is.
    """
    try:
        number, unit = _quantity(text.lstrip("±"), kind.unit)
    except UnitError as error:
        return str(error), ""
    if unit == "%":
        wrong, hint = _take_tolerance(values, number)
    elif kind.unit and unit in ("", kind.unit) and not (values.value is not None and unit == "V"):
        wrong, hint = _take_value(values, kind, number)
    elif unit in RATING_UNITS:
        wrong, hint = _take_rating(values, kind, number, unit)
    else:
        wrong, hint = _misfit(kind, unit)
    return (f'"{text}": {wrong}', hint) if wrong else ("", "")


def settle_value(values: Values, kind: KindSpec, options: list[tuple[str, str]]) -> tuple[str, str]:
    """Take the value from an option such as ``vz=``. Returns as `read_value`, a missing value included."""
    for key, text in list(options):
        if key in kind.value_options:
            if values.value is not None:
                return f"{key}= and a value are both given", "keep one"
            values.value = parse_value(text, kind.unit)
            options.remove((key, text))
    missed = kind.value_required and values.value is None
    if missed and not any(key in kind.instead_of_value for key, _ in options):
        return (f"{a_(kind.name)} needs its value in {UNIT_WORDS[kind.unit]}",
                f"after its {'nets' if kind.style == 'bare' else 'pins'}, as {_EXAMPLES[kind.unit]}")
    return "", ""


def _take_tolerance(values: Values, number: float) -> tuple[str, str]:
    if values.tolerance is not None:
        return "a second tolerance", "keep one"
    values.tolerance = number
    return ("a tolerance above 100%", "5% is usual") if number > 1 else ("", "")


def _take_value(values: Values, kind: KindSpec, number: float) -> tuple[str, str]:
    if values.value is not None:
        return "a second value", "keep one"
    values.value = number
    if number < 0 or (number == 0 and kind.unit != "Ω"):
        return f"{a_(kind.name)} has a value above zero", f"as {_EXAMPLES[kind.unit]}"
    return "", ""


def _take_rating(values: Values, kind: KindSpec, number: float, unit: str) -> tuple[str, str]:
    if number <= 0:
        return "a rating is above zero", ""
    if unit in dict(values.others) or (unit == kind.rating_unit and values.rating is not None):
        return f"a second rating in {UNIT_WORDS[unit]}", "keep one"
    if unit == kind.rating_unit:
        values.rating = number
    else:
        values.others += ((unit, number),)
    return "", ""


def _misfit(kind: KindSpec, unit: str) -> tuple[str, str]:
    if kind.unit:
        return (f"{UNIT_WORDS[unit]} do not fit {a_(kind.name)}",
                f"its value is in {UNIT_WORDS[kind.unit]}, as {_EXAMPLES[kind.unit]}")
    rating = "4A" if kind.rating_unit == "A" else "600V"
    return f"{a_(kind.name)} has no value", f"a rating has its unit, as {rating}"
