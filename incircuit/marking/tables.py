"""What the colours and letters stand for, each table with its source.

Digits, gold and silver and the usual tolerances were read in an open textbook (T. R. Kuphaldt,
*Lessons In Electric Circuits*, Vol. V Reference, resistor colour codes); the rest of IEC 60062 is
from memory, as are the letters of EIA-96 but C, whose worked values were read.
"""

from __future__ import annotations

from incircuit.marking.model import Tolerance

COLOURS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
"""Colour of each digit (IEC 60062)."""

OTHER_NAMES = {
    "purple": "violet", "gray": "grey",
    # IEC 60757, letter codes of colours (from memory)
    "bk": "black", "bn": "brown", "rd": "red", "og": "orange", "ye": "yellow", "gn": "green", "bu": "blue",
    "vt": "violet", "gy": "grey", "wh": "white", "pk": "pink", "gd": "gold", "sr": "silver",
}
"""Other ways to name a colour."""

MULTIPLIERS = {**{colour: power for power, colour in enumerate(COLOURS)},
               "gold": -1, "silver": -2, "pink": -3}  # pink: IEC 60062 (2016), from memory
"""Power of ten of the multiplier band (IEC 60062)."""

ALL_COLOURS = tuple(MULTIPLIERS)
"""Every colour a band can have."""

BAND_TOLERANCES = {
    "brown": 0.01, "red": 0.02, "green": 0.005, "blue": 0.0025, "violet": 0.001, "gold": 0.05,
    "silver": 0.1,
    "orange": 0.0005, "yellow": 0.0002, "grey": 0.0001,  # IEC 60062 (2016), from memory; seldom seen
}
"""Tolerance band, as a fraction (IEC 60062)."""

OLDER_GREY = 0.0005
"""Grey was 0.05 % in editions of IEC 60062 before 2016 (from memory)."""

NO_BAND = 0.2
"""Tolerance where there is no tolerance band (IEC 60062)."""

TEMPERATURE_BANDS = {"black": 250e-6, "brown": 100e-6, "red": 50e-6, "orange": 15e-6, "yellow": 25e-6,
                     "green": 20e-6, "blue": 10e-6, "violet": 5e-6, "grey": 1e-6}
"""Sixth band: temperature coefficient [1/K], either sign (IEC 60062, from memory)."""

TOLERANCE_LETTERS = {
    "E": 0.00005, "L": 0.0001, "P": 0.0002, "W": 0.0005, "B": 0.001, "C": 0.0025, "D": 0.005, "F": 0.01,
    "G": 0.02, "H": 0.03, "J": 0.05, "K": 0.1, "M": 0.2, "N": 0.3,
}
"""Symmetric tolerance, as a fraction (IEC 60062, from memory)."""

UNEVEN_LETTERS = {"Q": (0.1, 0.3), "T": (0.1, 0.5), "S": (0.2, 0.5), "Z": (0.2, 0.8)}
"""Tolerance of capacitors, down and up, as fractions (IEC 60062, from memory)."""

PICOFARAD_LETTERS = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0}
"""Tolerance [pF] of capacitors under 10 pF (IEC 60062, from memory)."""

EIA96_LETTERS = {"Z": -3, "Y": -2, "R": -2, "X": -1, "S": -1, "A": 0, "B": 1, "H": 1, "C": 2, "D": 3,
                 "E": 4, "F": 5}
"""Power of ten of the letter after the two-digit position in E96, 01 to 96 (EIA-96, from memory)."""

RESISTOR_LETTERS = {"L": -3, "R": 0, "K": 3, "k": 3, "M": 6, "G": 9, "T": 12}
"""Power of ten of the letter in place of the point, ohms (IEC 60062; L from memory)."""

CAPACITOR_LETTERS = {"p": -12, "P": -12, "n": -9, "N": -9, "u": -6, "U": -6, "µ": -6, "μ": -6, "m": -3}
"""Power of ten of the letter in place of the point, farads (IEC 60062; capitals are practice)."""


def resistor_tolerance(letter: str) -> Tolerance | None:
    """What the letter after a resistor's code says; None where there is no letter.

    >>> resistor_tolerance("J").text
    '±5 %'
    """
    return Tolerance.even(TOLERANCE_LETTERS[letter]) if letter else None


def capacitor_tolerance(letter: str, farads: float) -> Tolerance | None:
    """What the letter after a capacitor's code says: picofarads under 10 pF, a percentage above.

    >>> capacitor_tolerance("C", 2.2e-12).text, capacitor_tolerance("Z", 1e-7).text
    ('±0.25 pF', '−20 % +80 %')
    """
    if not letter:
        return None
    if letter in UNEVEN_LETTERS:
        down, up = UNEVEN_LETTERS[letter]
        return Tolerance(down, up, f"−{100 * down:g} % +{100 * up:g} %")
    if letter in PICOFARAD_LETTERS and farads < 10e-12:
        picofarads = PICOFARAD_LETTERS[letter]
        share = picofarads * 1e-12 / farads
        return Tolerance(share, share, f"±{picofarads:g} pF")
    return Tolerance.even(TOLERANCE_LETTERS[letter])
