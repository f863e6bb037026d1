"""What a technician types off the display: ``0.011``, ``OL``, ``10k1``, ``586mV``, ``beep``."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import NamedTuple

from incircuit.errors import UnitError
from incircuit.units import parse_value, shown

UNIT_OF_MODE = {"diode": "V", "ohms": "Ω", "continuity": "Ω", "farads": "F", "esr": "Ω", "volts": "V"}
HIGHEST_DIODE = 20.0  # [V] beyond any diode test: whoever types 586 means millivolts
HIGHEST_FARADS = 0.1  # [F] beyond any hand-held meter (from memory): whoever types 470 means microfarads
_OVERLOADS = frozenset({"ol", "o.l", ".ol", "0l", "0.l", ".0l"})
SOUNDS = {"beep": True, "beeps": True, "silent": False, "silence": False}
"""What the beeper does, as it is typed."""
MOTIONS = {"diode": ("climbs", "drifts"), "ohms": ("climbs", "drifts"), "continuity": ("chirp",)}
"""What a display that does not stand still is typed as: the numbers rise, they move, a short beep."""


class Typed(NamedTuple):
    """A typed reading: `value` [V, Ω or F] or None, whether it was OL, the beeper if it was told, and a
    `word` of `MOTIONS` where the display did not stand still."""

    value: float | None
    overload: bool
    beep: bool | None = None
    word: str = ""

DENIED = {"climbs": "does not climb", "drifts": "does not drift", "chirp": "no chirp"}
"""What is said of a display that does not do so."""


def parse_shown(text: str, mode: str) -> Typed:
    """Read what the display showed in `mode` (diode, ohms, continuity, farads, esr, volts).

    >>> parse_shown("0.011", "diode").value, parse_shown("10k1", "ohms").value
    (0.011, 10100.0)
    >>> parse_shown("O.L", "ohms")
    Typed(value=None, overload=True, beep=None, word='')
    >>> parse_shown("beep", "continuity").beep, parse_shown("climbs", "diode").word
    (True, 'climbs')

    Raises UnitError, which says what was found and what would be right.
    """
    if mode not in UNIT_OF_MODE:
        raise UnitError(f'"{shown(mode)}" is not a mode: expected one of {", ".join(UNIT_OF_MODE)}')
    plain = text.strip()
    if plain.lower().lstrip("-−") in _OVERLOADS:
        return Typed(None, True)
    if mode == "continuity" and plain.lower() in SOUNDS:
        return Typed(None, False, SOUNDS[plain.lower()])
    if plain.lower() in SOUNDS:
        raise UnitError(f'"{shown(plain)}" is what continuity tells, not {mode}: expected a number or OL')
    if plain.lower() in (words := MOTIONS.get(mode, ())):
        return Typed(None, False, word=plain.lower())
    if any(plain.lower() in other for other in MOTIONS.values()):
        can = f", {' or '.join(words)}" if words else ""
        raise UnitError(f'"{shown(plain)}" is not what {mode} does: expected a number or OL{can}')
    if near := get_close_matches(plain.lower(), words, 1, 0.7):
        raise UnitError(f'"{shown(plain)}" is neither a number nor a word for it: did you mean {near[0]}?')
    if mode in ("ohms", "continuity") and re.match(r"[-−][0-9.]", plain):
        raise UnitError(f'"{shown(plain)}" is below zero: a charge left on a capacitor reads so; discharge, '
                        "verify on volts, read again")
    value = parse_value(plain, UNIT_OF_MODE[mode])
    if mode == "diode" and abs(value) > HIGHEST_DIODE:
        raise UnitError(f'"{shown(plain)}" is {value:g} V, more than a diode test shows: '
                        f"did you mean {value:g}mV?")
    if mode == "farads" and value >= HIGHEST_FARADS:
        raise UnitError(f'"{shown(plain)}" is {value:g} F, more than a meter shows: did you mean {value:g}u?')
    return Typed(value, False)


def last_digit(text: str, mode: str) -> float:
    """Weight of the last digit typed [V or Ω]: what was typed stands for ± half of it. 0 for OL or a beep.

    >>> last_digit("0.55", "diode"), last_digit("10k1", "ohms"), last_digit("4.7e3", "ohms")
    (0.01, 100.0, 100.0)
    >>> last_digit("OL", "ohms")
    0.0
    """
    typed = parse_shown(text, mode)
    return 0.0 if typed.value is None else digit_weight(text.strip(), UNIT_OF_MODE[mode])


def digit_weight(text: str, unit: str) -> float:
    """Weight of the last digit of a value typed in `unit`, in SI units.

    >>> digit_weight("0.92mA", "A"), digit_weight("2.8", "V")
    (1e-05, 0.1)

    Raises UnitError.
    """
    value = step = parse_value(text, unit)
    for k in range(len(re.sub("(?<=[0-9.])[eE].*", "", text))):  # the power of ten is not on the display
        if text[k].isdigit():
            digit = "0" if text[k] != "0" else "1"
            other = parse_value(f"{text[:k]}{digit}{text[k + 1:]}", unit)
            step = abs(other - value) / abs(int(digit) - int(text[k]))
    return float(f"{step:.6g}")
