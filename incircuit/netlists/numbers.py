"""Numbers as a SPICE deck writes them, and the trade's letter code, which decks hold as well.

In a deck M is milli, mega is MEG, F is femto, and letters after the scale are ignored. The letter code
of IEC 60062 (4k7, 2R2) is read as what it says; a deck read by a simulator that does not know it has 4 k
there, so it is remarked.
"""

from __future__ import annotations

import math
import re

_SCALES = {"t": 12, "g": 9, "meg": 6, "k": 3, "m": -3, "u": -6, "µ": -6, "μ": -6, "n": -9, "p": -12, "f": -15,
           "a": -18}
_LETTERS = {"R": 0, "r": 0, "k": 3, "K": 3, "M": 6, "G": 9, "m": -3, "u": -6, "U": -6, "µ": -6, "μ": -6,
            "n": -9, "N": -9, "p": -12, "P": -12}
_MIL = 25.4e-6  # [m] a thousandth of an inch, as SPICE has it
_NUMBER = re.compile(r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))(?:[eE]([+-]?[0-9]{1,4}))?([a-zA-ZµμΩ%]*)")
_LETTER = re.compile(r"([0-9]{1,12})([RrkKMGmuUµμnNpP])([0-9]{1,12})([a-zA-ZΩ]*)")


def spice_number(text: str) -> tuple[float, str] | None:
    """(value, remark) of a number, None for what is none. The remark says what may be meant otherwise.

    >>> spice_number("4.7k"), spice_number("2meg"), spice_number("10pF"), spice_number("3mH")
    ((4700.0, ''), (2000000.0, ''), (1e-11, ''), (0.003, ''))
    >>> spice_number("4k7"), spice_number("1k2k3"), spice_number("{r}")
    ((4700.0, 'read as 4.7k, the letter code'), None, None)
    """
    if len(text) > 60:
        return None
    if match := _LETTER.fullmatch(text):
        whole, letter, part, _ = match.groups()
        scale = "meg" if letter == "M" else "" if letter in "Rr" else letter
        return (float(f"{whole}.{part}e{_LETTERS[letter]}"),
                f"read as {whole}.{part}{scale}, the letter code")
    match = _NUMBER.fullmatch(text)
    if not match:
        return None
    digits, power, tail = match.groups()
    low = tail.lower()
    if low.startswith("mil"):
        value = float(f"{digits}e{power or 0}") * _MIL
    else:
        key = "meg" if low.startswith("meg") else low[:1]
        value = float(f"{digits}e{int(power or 0) + _SCALES.get(key, 0)}")
    if not math.isfinite(value):
        return None
    return value + 0.0, "M is milli in a deck; mega is MEG" if tail == "M" else ""
