"""A value to the ways it may be marked."""

from __future__ import annotations

from decimal import Decimal

from incircuit.errors import MarkError
from incircuit.marking.bands import write_bands
from incircuit.marking.model import CapacitorMarks, Marks, Printed
from incircuit.marking.series import SERIES, decades, nearest
from incircuit.marking.tables import EIA96_LETTERS
from incircuit.units import rkm

FOUR_BANDS, FIVE_BANDS = 0.05, 0.01
"""Tolerance bands written unless another is asked for: E24 parts at 5 %, E96 parts at 1 %."""


def marks_of(ohms: float, tolerance: float | None = None) -> Marks:
    """How a resistance [Ω] may be marked: as the E24 value nearest to it, then E96 if another.

    `tolerance` (a fraction) sets the last colour of the bands; without it gold ends four and brown
    five. Zero is a link. Raises MarkError for what no resistor has and for a tolerance without a
    colour.

    >>> p = marks_of(47.0).printed[0]
    >>> p.letters, p.three_digits, p.four_bands
    ('47R', '470', ('yellow', 'violet', 'black', 'gold'))
    >>> [(p.ohms, p.eia96) for p in marks_of(49.9e3).printed]
    [(51000.0, None), (49900.0, '68C')]
    """
    if ohms == 0:
        return Marks(0.0, (Printed(0.0, "", ("black",), ("black",), "000", "0000", None, "0R"),))
    values = {nearest(ohms, series): series for series in ("E96", "E24")}
    ordered = sorted(values.items(), key=lambda item: item[1] != "E24")
    return Marks(ohms, tuple(_printed(value, series, tolerance) for value, series in ordered))


def capacitor_marks_of(farads: float) -> CapacitorMarks:
    """How a capacitance [F] may be marked, as the E24 value nearest to it. Raises MarkError.

    >>> m = capacitor_marks_of(100e-9)
    >>> m.three_digits, m.letters, m.microfarads
    ('104', '100n', '0.1')
    """
    if farads <= 0:
        raise MarkError(f"{farads:g} F cannot be marked: it must be above zero")
    value = nearest(farads, "E24")
    significand, power = decades(value)
    micro = f"{significand.scaleb(power + 6).normalize():f}"
    digits = _digits(significand, power + 12, 2, "R") if value >= 1e-12 else None
    if digits and digits[-1] in "89" and "R" not in digits:
        digits = None  # these two say ×0.01 and ×0.1
    return CapacitorMarks(farads, value, digits, rkm(value, "F"), micro)


def plain(value: float, unit: str) -> str:
    """A value with all its digits, prefix and unit, for people.

    >>> plain(4700.0, "Ω"), plain(1.3, "Ω"), plain(1e-7, "F"), plain(0.0022, "F"), plain(0.01, "Ω")
    ('4.7 kΩ', '1.3 Ω', '100 nF', '2200 µF', '10 mΩ')
    """
    if not value:
        return f"0 {unit}"
    number = Decimal(repr(value))
    exponent = min(12, max(-12, number.adjusted() // 3 * 3))
    if unit == "F" and exponent == -3:
        exponent = -6
    if unit == "Ω" and number >= Decimal("0.1"):
        exponent = max(0, exponent)
    prefix = {-12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G", 12: "T"}[exponent]
    body = f"{number.scaleb(-exponent):f}"
    return f"{body.rstrip('0').rstrip('.') if '.' in body else body} {prefix}{unit}"


def _printed(ohms: float, series: str, tolerance: float | None) -> Printed:
    significand, power = decades(ohms)
    return Printed(
        ohms=ohms,
        series=series,
        four_bands=write_bands(ohms, 2, FOUR_BANDS if tolerance is None else tolerance),
        five_bands=write_bands(ohms, 3, FIVE_BANDS if tolerance is None else tolerance),
        three_digits=_digits(significand, power, 2, "R"),
        four_digits=_digits(significand, power, 3, "R"),
        eia96=_eia96(ohms),
        letters=rkm(ohms),
    )


def _digits(significand: Decimal, power: int, figures: int, point: str) -> str | None:
    """`figures` digits and the count of zeros, or a letter for the point where there are none."""
    short, zeros = significand.scaleb(figures - 3), power + 3 - figures
    if short != int(short) or zeros > 9:
        return None
    if zeros >= 0:
        return f"{int(short)}{zeros}"
    text, places = str(int(short)), -zeros
    if places < figures:
        return f"{text[:-places]}{point}{text[-places:]}"
    if places == figures:
        return f"{point}{text}"
    # R010: shunts write three places
    bare = text.rstrip("0")
    places -= len(text) - len(bare)
    return f"{point}{bare.rjust(places, '0').ljust(3, '0')}" if places <= 3 else None


def _eia96(ohms: float) -> str | None:
    significand, power = decades(ohms)
    if significand not in SERIES["E96"]:
        return None
    letter = next((letter for letter, p in EIA96_LETTERS.items() if p == power), None)
    return None if letter is None else f"{SERIES['E96'].index(int(significand)) + 1:02d}{letter}"
