"""A mark, as typed, to everything it can mean."""

from __future__ import annotations

import re
from itertools import chain

from incircuit.errors import MarkError, UnitError
from incircuit.marking.bands import colour_words, read_bands
from incircuit.marking.model import Meaning
from incircuit.marking.others import read_capacitor, read_coil, read_zener
from incircuit.marking.resistors import read_resistor
from incircuit.marking.series import LARGEST, SERIES, SMALLEST, series_of
from incircuit.units import UNIT_WORDS, parse_quantity, shown

LONGEST = 80
"""Characters; no marking is longer."""

_HOW = "write a code (103, 4k7, 68C, 473J) or the colours of the bands"
_PARTS = {"Ω": "resistor", "F": "capacitor", "H": "coil", "V": "zener"}
_EIA96_BEYOND = re.compile("(00|9[789])[ABCDEXYZ]", re.ASCII)  # letters of EIA-96 alone


def read_mark(text: str) -> tuple[Meaning, ...]:
    """Everything a mark can mean: on resistors first, then capacitors, coils, zener diodes.

    `text` is a code as printed, colours of bands in words, or a written value with its unit. Never
    empty; of several meanings of one part the likeliest comes first. Raises MarkError, one line
    with the nearest marking.

    >>> [(m.part, m.value) for m in read_mark("104")]
    [('resistor', 100000.0), ('capacitor', 1e-07), ('coil', 0.1)]
    >>> [m.value for m in read_mark("brown black orange gold")]
    [10000.0]
    """
    mark = text.strip()
    if len(mark) > LONGEST:
        raise MarkError(f'"{shown(mark)}" is too long for a marking: {_HOW}')
    bands = colour_words(mark)
    if bands is not None:
        return read_bands(bands)
    if _EIA96_BEYOND.fullmatch(mark):
        raise MarkError(f'"{mark}" is no marking: the digits of EIA-96 go from 01 to {len(SERIES["E96"])}')
    found = _codes(mark)
    found = (*found, *_written(mark, found))
    if not found:
        raise MarkError(f'"{shown(mark)}" is no marking: {_hint(mark)}')
    return found


def _codes(mark: str) -> tuple[Meaning, ...]:
    """The meanings as a code, each value of a part once, values of an E series first."""
    once: dict[tuple[str, float], Meaning] = {}
    for meaning in chain(read_resistor(mark), read_capacitor(mark), read_coil(mark), read_zener(mark)):
        once.setdefault((meaning.part, meaning.value), meaning)
    order = list(_PARTS.values())
    return tuple(sorted(once.values(), key=lambda m: (order.index(m.part), bool(m.value and not m.series))))


def _written(mark: str, found: tuple[Meaning, ...]) -> tuple[Meaning, ...]:
    """The meanings as a written value such as 10 kohm or 4.7uF that no code has said already."""
    try:
        value, unit = parse_quantity(mark)
    except UnitError:
        return ()
    if unit and unit not in _PARTS:
        if found:
            return ()
        raise MarkError(f'"{shown(mark)}" is in {UNIT_WORDS[unit]}: a marking says ohms, farads or henries')
    if not unit and found:
        return ()
    if value == 0 and unit in ("", "Ω"):
        return () if found else (Meaning("resistor", 0.0, "Ω", "link", note="a wire link, zero ohms"),)
    if not SMALLEST <= value <= LARGEST:
        raise MarkError(f'"{shown(mark)}" is no value of a part: '
                        f"it must be between {SMALLEST:g} and {LARGEST:g}")
    units = (unit,) if unit else _units_of(mark, value)
    return tuple(Meaning(_PARTS[u], value, u, "written value", series=series_of(value)) for u in units
                 if (_PARTS[u], value) not in [(m.part, m.value) for m in found])


def _units_of(mark: str, value: float) -> tuple[str, ...]:
    """What a number without a unit can be in: its prefix tells, or its size."""
    if mark[-1] in "fpnuµμ":
        return ("F",)
    if mark[-1] == "m":
        return ("Ω", "F")
    return ("Ω",) if value >= 1e-3 else ("F", "Ω")


def _hint(mark: str) -> str:
    """What may have been meant; the mark has no meaning."""
    zeros = re.sub("[oO]", "0", mark)
    tight = re.sub(r"\s+", "", mark)
    for other in dict.fromkeys((mark.upper(), mark.lower(), zeros, tight, zeros.upper(), tight.upper())):
        if _codes(other):
            return f"did you mean {shown(other)}?"
    try:
        parse_quantity(mark)
    except UnitError as error:
        _, asked, meant = str(error).rpartition("did you mean ")
        return asked + meant if asked else _HOW
    return _HOW
