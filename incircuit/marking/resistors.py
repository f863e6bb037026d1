"""Codes printed on resistors: digits, EIA-96, the letter code of IEC 60062, plain numbers."""

from __future__ import annotations

import re

from incircuit.marking.model import Meaning, Tolerance
from incircuit.marking.series import E24, SERIES, scaled, series_of
from incircuit.marking.tables import EIA96_LETTERS, RESISTOR_LETTERS, TOLERANCE_LETTERS, resistor_tolerance

_LETTER = "".join(TOLERANCE_LETTERS)
_LINK = re.compile("0{1,4}|0+R0*|R0+|0+[.,]0+", re.ASCII)
_DIGITS = re.compile(f"([1-9][0-9]{{1,2}})([0-9])([{_LETTER}]?)", re.ASCII)
_EIA96 = re.compile(f"([0-9]{{2}})([{''.join(EIA96_LETTERS)}])", re.ASCII)
_RKM = re.compile(f"(0|[1-9][0-9]{{0,3}})?([{''.join(RESISTOR_LETTERS)}mE])([0-9]{{0,4}})([{_LETTER}]?)",
                  re.ASCII)
_PLAIN = re.compile(r"([0-9]{0,6})(?:[.,]([0-9]{1,4}))?", re.ASCII)
_NO_LETTER = {"m": -3, "E": 0}


def read_resistor(text: str) -> tuple[Meaning, ...]:
    """Everything a code can mean on a resistor, likeliest first; empty where it is none.

    >>> [(m.value, m.kind) for m in read_resistor("12R")]
    [(12.0, 'letter code'), (1.3, 'EIA-96')]
    """
    if _LINK.fullmatch(text):
        return (_ohms(0.0, "link", note="a wire link, zero ohms"),)
    return (*_letters(text), *_digits(text), *_eia96(text), *_plain(text))


def _digits(text: str) -> tuple[Meaning, ...]:
    """103, 4992: two or three digits and how many zeros follow them (IEC 60062)."""
    match = _DIGITS.fullmatch(text)
    if not match:
        return ()
    figures, zeros, letter = match.groups()
    kind = f"{'three' if len(figures) == 2 else 'four'}-digit code"
    ohms = scaled(int(figures), int(zeros))
    series = series_of(ohms, len(figures))
    note = ""
    if not series:
        note = f"{figures} is not in {'E24' if len(figures) == 2 else 'any E series'}"
    elif zeros == "0":
        note = f"{figures}0 ohms would be {figures}1 or {figures}0R"
    return (Meaning("resistor", ohms, "Ω", kind, resistor_tolerance(letter), None, series, note),)


def _eia96(text: str) -> tuple[Meaning, ...]:
    """68C: position in E96 from 01 to 96, then a multiplier (EIA-96)."""
    match = _EIA96.fullmatch(text)
    if not match or not 1 <= int(match[1]) <= len(SERIES["E96"]):
        return ()
    ohms = scaled(SERIES["E96"][int(match[1]) - 1], EIA96_LETTERS[match[2]])
    return (_ohms(ohms, "EIA-96", Tolerance.even(0.01)),)


def _letters(text: str) -> tuple[Meaning, ...]:
    """4k7, R010, 12R0: a letter in place of the point (IEC 60062)."""
    match = _RKM.fullmatch(text)
    if not match:
        return ()
    whole, letter, part, last = match[1] or "", match[2], match[3], match[4]
    if (not whole and (not part or letter in _NO_LETTER)) or not (whole + part).strip("0"):
        return ()
    if letter == "E" and (last or not whole):
        return ()
    power = RESISTOR_LETTERS.get(letter, _NO_LETTER.get(letter, 0))
    note = {"m": "m for thousandths; the letter code has L", "E": "E in place of R, older practice"}
    ohms = scaled(int(whole + part), power - len(part))
    return (_ohms(ohms, "letter code", resistor_tolerance(last), note.get(letter, "")),)


def _plain(text: str) -> tuple[Meaning, ...]:
    """4.7, 220: the ohms themselves, on large parts and drawings."""
    match = _PLAIN.fullmatch(text)
    if not match:
        return ()
    whole, part = match[1], match[2] or ""
    if not (whole + part).strip("0") or (len(whole) > 1 and whole[0] == "0"):
        return ()
    ohms = scaled(int(whole + part), -len(part))
    coded = _digits(text)
    # E24 values are written out; a finer one only counts where the digits make no sense as a code
    if coded and series_of(ohms) not in (E24 if coded[0].series else SERIES):
        return ()
    note = "if ohms are written out, on large parts" if coded else ""
    return (_ohms(ohms, "plain number", note=note),)


def _ohms(value: float, kind: str, tolerance: Tolerance | None = None, note: str = "") -> Meaning:
    return Meaning("resistor", value, "Ω", kind, tolerance, None, series_of(value), note)
