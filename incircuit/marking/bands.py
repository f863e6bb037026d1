"""Colour bands of resistors (IEC 60062), read from either end, and written."""

from __future__ import annotations

import re
from dataclasses import replace
from difflib import get_close_matches

from incircuit.errors import MarkError
from incircuit.marking.model import Meaning, Tolerance
from incircuit.marking.series import decades, scaled, series_of
from incircuit.marking.tables import (
    ALL_COLOURS,
    BAND_TOLERANCES,
    COLOURS,
    MULTIPLIERS,
    NO_BAND,
    OLDER_GREY,
    OTHER_NAMES,
    TEMPERATURE_BANDS,
)
from incircuit.units import shown

FEWEST, MOST = 3, 6
_RELIABILITY = frozenset({"brown", "red", "orange", "yellow"})  # US military parts, from memory
_SEPARATORS = re.compile(r"[\s,;/–—-]+")


def colour_words(text: str) -> tuple[str, ...] | None:
    """The colours of a text that names bands, outside ones first; None where it names none.

    Raises MarkError where one word of several is no colour, with the nearest.

    >>> colour_words("Brown-black-orange-gold"), colour_words("4k7"), colour_words("YE VT RD")
    (('brown', 'black', 'orange', 'gold'), None, ('yellow', 'violet', 'red'))
    """
    words = [word for word in _SEPARATORS.split(text.casefold().strip()) if word]
    if len(words) > 1 and words[-1] in ("none", "nothing"):
        words = words[:-1]
    named = [_colour(word) for word in words]
    if not any(named) and not (words and all(word.isalpha() and _near(word) for word in words)):
        return None
    for word, colour in zip(words, named, strict=True):
        if not colour:
            near = _near(word)
            advice = f"did you mean {near}?" if near else f"there are {', '.join(ALL_COLOURS)}"
            raise MarkError(f'"{shown(word)}" is no colour of a band: {advice}')
    return tuple(colour for colour in named if colour)


def read_bands(bands: tuple[str, ...]) -> tuple[Meaning, ...]:
    """Everything these bands can mean, from either end, values of an E series first.

    `bands` are colours of `tables.ALL_COLOURS`. From the end not begun with, only values of a
    series count. Raises MarkError where no reading is possible, with the reason.

    >>> [m.value for m in read_bands(("yellow", "violet", "orange", "gold"))]
    [47000.0]
    """
    if bands == ("black",):
        return (Meaning("resistor", 0.0, "Ω", "colour bands", note="one black band: a wire link"),)
    if not FEWEST <= len(bands) <= MOST:
        raise MarkError(f"{len(bands)} band{'s' if len(bands) != 1 else ''}: a resistor has 3 to 6, "
                        "a link one black band")
    found = list(_one_way(bands))
    if not any(m.series for m in found):
        found += _with_reliability(bands)
    for other in _one_way(bands[::-1]):
        if other.series and other.value not in [m.value for m in found]:
            found.append(_noted(other, "if read from the other end"))
    if not found:
        raise MarkError(f"{' '.join(bands)}: {_reason(bands)}")
    return tuple(sorted(found, key=lambda m: not m.series))  # stable: as typed comes first


def write_bands(ohms: float, digits: int, tolerance: float) -> tuple[str, ...] | None:
    """Colours of a resistance with 2 or 3 digits and a tolerance band; None where it does not fit.

    Raises MarkError where no colour stands for the tolerance.

    >>> write_bands(4700.0, 2, 0.05), write_bands(1.58, 3, 0.02)
    (('yellow', 'violet', 'red', 'gold'), ('brown', 'green', 'grey', 'silver', 'red'))
    """
    last = next((colour for colour, share in BAND_TOLERANCES.items() if share == tolerance), None)
    if last is None:
        raise MarkError(f"{tolerance:g}: no colour stands for this tolerance")
    significand, power = decades(ohms)
    power += 3 - digits
    short = significand.scaleb(digits - 3)
    multiplier = next((colour for colour, p in MULTIPLIERS.items() if p == power), None)
    if short != int(short) or multiplier is None:
        return None
    return (*(COLOURS[int(digit)] for digit in str(int(short))), multiplier, last)


def _one_way(bands: tuple[str, ...]) -> tuple[Meaning, ...]:
    """The meaning read in this order: none or one."""
    count = _digits(bands)
    figures, multiplier, rest = bands[:count], bands[count], bands[count + 1:]
    if _flaw(figures, rest):
        return ()
    written = "".join(str(COLOURS.index(figure)) for figure in figures)
    ohms = scaled(int(written), MULTIPLIERS[multiplier])
    share = BAND_TOLERANCES[rest[0]] if rest else NO_BAND
    tempco = TEMPERATURE_BANDS[rest[1]] if len(rest) > 1 else None
    series = series_of(ohms, len(figures))
    notes = [] if series else [f"{written} is not in {'E24' if len(figures) == 2 else 'any E series'}"]
    if rest[:1] == ("grey",):
        notes.append(f"grey was {100 * OLDER_GREY:g} % on older parts")
    kind = f"{len(bands)} colour bands"
    return (Meaning("resistor", ohms, "Ω", kind, Tolerance.even(share), tempco, series, "; ".join(notes)),)


def _digits(bands: tuple[str, ...]) -> int:
    return 2 if len(bands) < 5 else 3


def _with_reliability(bands: tuple[str, ...]) -> list[Meaning]:
    """Five bands as four and a failure rate, where the fourth can only be a tolerance."""
    if len(bands) != 5 or bands[3] not in ("gold", "silver") or bands[4] not in _RELIABILITY:
        return []
    return [_noted(m, "if the fifth band is a failure rate") for m in _one_way(bands[:4])
            if m.series]


def _flaw(figures: tuple[str, ...], rest: tuple[str, ...]) -> str:
    """Why bands cannot be read in this order; empty where they can."""
    for figure in figures:
        if figure not in COLOURS:
            return f"{figure} is no digit"
    if figures[0] == "black":
        return "the first digit would be 0"
    if rest and rest[0] not in BAND_TOLERANCES:
        return f"{rest[0]} is no tolerance"
    if len(rest) > 1 and rest[1] not in TEMPERATURE_BANDS:
        return f"{rest[1]} is no temperature coefficient"
    return ""


def _reason(bands: tuple[str, ...]) -> str:
    count = _digits(bands)
    here, there = (_flaw(way[:count], way[count + 1:]) for way in (bands, bands[::-1]))
    return f"{here}; from the other end {there or 'it is in no E series'}: look at the bands again"


def _noted(meaning: Meaning, note: str) -> Meaning:
    joined = "; ".join(part for part in (note, meaning.note) if part)
    return replace(meaning, note=joined)


def _colour(word: str) -> str:
    return word if word in ALL_COLOURS else OTHER_NAMES.get(word, "")


def _near(word: str) -> str:
    names = (*ALL_COLOURS, "purple", "gray")
    found = get_close_matches(word, names, 1, 0.6) if len(word) <= 20 else []
    return found[0] if found else ""
