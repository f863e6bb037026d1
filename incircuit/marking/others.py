"""Codes printed on capacitors, coils and zener diodes.

The three-digit code in picofarads and the letter code are of IEC 60062. Plain numbers, the code on
coils, and 8 and 9 as last digits are common practice (from memory).
"""

from __future__ import annotations

import re
from dataclasses import replace

from incircuit.marking.model import Meaning, Tolerance
from incircuit.marking.series import E24, scaled, series_of
from incircuit.marking.tables import CAPACITOR_LETTERS, capacitor_tolerance

_LETTERS = "BCDFGHJKMNQSTZ"  # tolerances capacitors come in
_DISC_LETTERS = "FGJKMZ"  # after plain picofarads
_DIGITS = re.compile(f"([1-9][0-9]{{1,2}})([0-9])([{_LETTERS}]?)", re.ASCII)
_RKM = re.compile(f"(0|[1-9][0-9]{{0,4}})?([{''.join(CAPACITOR_LETTERS)}])([0-9]{{0,3}})([{_LETTERS}]?)")
_POINT = re.compile(f"([0-9]?)R([0-9]{{1,2}})([{_LETTERS}]?)", re.ASCII)
_PLAIN = re.compile(rf"([0-9]{{0,6}})(?:[.,]([0-9]{{1,4}}))?([{_DISC_LETTERS}]?)", re.ASCII)
_COIL = re.compile(f"([1-9][0-9])([0-4])([{_LETTERS}]?)", re.ASCII)  # up to 990 mH
_ZENER = re.compile("([1-9][0-9]{0,2})V([0-9]{0,2})", re.ASCII)


def read_capacitor(text: str) -> tuple[Meaning, ...]:
    """Everything a code can mean on a capacitor, likeliest first; empty where it is none.

    >>> [(m.value, m.kind) for m in read_capacitor("104")], read_capacitor("473J")[0].tolerance.text
    ([(1e-07, 'three-digit code')], '±5 %')
    """
    return (*_letter_code(text), *_digits(text), *_letter_r(text), *_plain(text))


def read_coil(text: str) -> tuple[Meaning, ...]:
    """What a code can mean on a coil: digits in microhenries, or R for the point.

    >>> [m.value for m in read_coil("101")], [m.value for m in read_coil("4R7")]
    ([0.0001], [4.7e-06])
    """
    if match := _COIL.fullmatch(text):
        henries = scaled(int(match[1]), int(match[2]) - 6)
        return (Meaning("coil", henries, "H", "three-digit code", _coil_tolerance(match[3]), None,
                        series_of(henries, 2), "in microhenries, practice"),)
    match = _POINT.fullmatch(text)
    if not match or not (match[1] + match[2]).strip("0"):
        return ()
    henries = scaled(int(match[1] + match[2]), -6 - len(match[2]))
    return (Meaning("coil", henries, "H", "R for the point", _coil_tolerance(match[3]), None,
                    series_of(henries), "in microhenries, practice"),)


def read_zener(text: str) -> tuple[Meaning, ...]:
    """What a code can mean on a zener diode: V for the point.

    >>> [m.value for m in read_zener("5V1")]
    [5.1]
    """
    match = _ZENER.fullmatch(text)
    if not match:
        return ()
    volts = scaled(int(match[1] + match[2]), -len(match[2]))
    note = "V for the point, practice"
    return (Meaning("zener", volts, "V", "letter code", series=series_of(volts), note=note),)


def _digits(text: str) -> tuple[Meaning, ...]:
    """104, 473J: digits and zeros, in picofarads; 9 is ×0.1, 8 ×0.01 or a very large value."""
    match = _DIGITS.fullmatch(text)
    if not match:
        return ()
    figures, zeros, letter = match.groups()
    kind = "three-digit code" if len(figures) == 2 else "four-digit code"
    powers = {"8": ((8, "tantalum and polymer"), (-2, "8 for ×0.01")), "9": ((-1, "9 for ×0.1"),)}
    rare = "seldom on capacitors" if len(figures) == 3 else ""
    found = []
    for power, note in powers.get(zeros, ((int(zeros), ""),)):
        notes = "; ".join(part for part in ("in picofarads", note, rare) if part)
        farads = _farads(scaled(int(figures), power - 12), kind, letter, notes)
        found.append(replace(farads, series=series_of(farads.value, len(figures))))
    return tuple(found)


def _letter_code(text: str) -> tuple[Meaning, ...]:
    """4n7, p47, 100n: a letter in place of the point."""
    match = _RKM.fullmatch(text)
    if not match:
        return ()
    whole, letter, part, last = match[1] or "", match[2], match[3], match[4]
    if (not whole and not part) or not (whole + part).strip("0"):
        return ()
    notes = ["m is thousandths of a farad"] if letter == "m" else []
    if last == "F":  # 4n7F: as people write the unit
        notes, last = [*notes, "F taken as the unit, not as 1 %"], ""
    farads = scaled(int(whole + part), CAPACITOR_LETTERS[letter] - len(part))
    return (_farads(farads, "letter code", last, "; ".join(notes)),)


def _letter_r(text: str) -> tuple[Meaning, ...]:
    """4R7: R for the point, picofarads on small ceramic parts, microfarads on cans."""
    match = _POINT.fullmatch(text)
    if not match or not (match[1] + match[2]).strip("0"):
        return ()
    figures, places = int(match[1] + match[2]), len(match[2])
    return tuple(_farads(scaled(figures, power - places), "R for the point", match[3], note)
                 for power, note in ((-12, "in picofarads, on ceramic parts, practice"),
                                     (-6, "in microfarads, on cans, practice")))


def _plain(text: str) -> tuple[Meaning, ...]:
    """0.1, 47, 2200: microfarads on films and cans, picofarads on discs."""
    match = _PLAIN.fullmatch(text)
    if not match:
        return ()
    whole, part, letter = match[1], match[2] or "", match[3]
    if not (whole + part).strip("0") or (len(whole) > 1 and whole[0] == "0"):
        return ()
    figures = int(whole + part)
    # a number that no capacitor is sold in is not a plain number but a code
    if series_of(float(figures)) not in E24:
        return ()
    places = len(part)
    micro = _farads(scaled(figures, -places - 6), "plain number", letter, "in microfarads, on films and cans")
    pico = _farads(scaled(figures, -places - 12), "plain number", letter, "in picofarads, on ceramic discs")
    if part:
        return (micro,) if whole in ("", "0") else (micro, pico)
    if letter and len(whole) > 2:
        return ()  # 473J is the code
    if letter:
        return (pico,)
    return (pico, micro) if len(whole) == 2 else (micro, pico)


def _coil_tolerance(letter: str) -> Tolerance | None:
    return capacitor_tolerance(letter, 1.0)


def _farads(value: float, kind: str, letter: str, note: str) -> Meaning:
    tolerance = capacitor_tolerance(letter, value)
    return Meaning("capacitor", value, "F", kind, tolerance, None, series_of(value), note)
