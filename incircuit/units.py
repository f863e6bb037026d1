"""Values as the trade writes them, to floats and back: 4k7 ⇄ 4700.0. Strict, no locale.

Written forms: the letter code of IEC 60062 (``4k7 2R2 10R 0R1 R47 4n7 5V1``), plain and scientific
numbers with an optional prefix and unit (``10000 4.7e-5 4.7k 470uF 10mV 5%``). M is mega, m is
milli; k and K are both kilo, as in IEC 60062. Conversion goes through the decimal text, so ``4k7``
is exactly 4700.0. Everything else is refused with a sentence that says what would be right.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, Decimal

from incircuit.errors import UnitError

PREFIXES = {"f": -15, "p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3,
            "k": 3, "K": 3, "M": 6, "G": 9, "T": 12}
"""Power of ten of each prefix (SI brochure, table 7; K beside k from IEC 60062)."""

UNITS = {"Ω": "Ω", "\u2126": "Ω", "ohm": "Ω", "ohms": "Ω", "R": "Ω", "F": "F", "H": "H", "V": "V", "A": "A",
         "Hz": "Hz", "W": "W", "s": "s", "%": "%"}
"""Units as they may be written, each with the symbol used here; R is ohms in IEC 60062."""

UNIT_WORDS = {"Ω": "ohms", "F": "farads", "H": "henries", "V": "volts", "A": "amps", "Hz": "hertz",
              "W": "watts", "s": "seconds", "%": "percent", "K": "kelvins", "1": "a plain number"}
"""What each unit symbol is called in a sentence; ``1`` is the unit of a plain number."""

_SIGNED = frozenset({"V", "A", "1", ""})
_LONGEST = 80
_PLAIN = re.compile(r"(-?)([0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE]([+-]?[0-9]+))? ?([^\s0-9.+-]*)", re.ASCII)
_LETTER = re.compile(r"(-?)([0-9]*)([a-zA-Zµμ])([0-9]+)([^\s0-9.+-]*)", re.ASCII)
_CODE_UNITS = {"R": "Ω", "V": "V", "F": "F"}  # letters that stand for the point and the unit at once
_LEADING = frozenset("Rpnuµμm")  # R47, p47: letters that may stand before all digits (IEC 60062)
_LOWER_UNITS = {"": "", "f": "F", "fd": "F", "h": "H", "v": "V", "volt": "V", "volts": "V", "a": "A",
                "amp": "A", "amps": "A", "hz": "Hz", "w": "W", "r": "R",
                "ohm": "Ω", "ohms": "Ω", "ω": "Ω", "o": "Ω"}
_FALLBACK = "write it like 4k7, 0R1, 100n or 2.5e-3"


def parse_quantity(text: str, expected: str = "") -> tuple[float, str]:
    """Value in SI units and the unit written (``""`` if none).

    Percent comes as a fraction: ``5%`` is 0.05. `expected` only settles what a letter means where
    it could be two things: K is kelvin where kelvins are expected, f is refused for farads.
    Raises UnitError, whose message names the text and says what would be right.

    >>> parse_quantity("4k7"), parse_quantity("470uF"), parse_quantity("0R1"), parse_quantity("5%")
    ((4700.0, ''), (0.00047, 'F'), (0.1, 'Ω'), (0.05, '%'))
    """
    found = _quantity(text, expected)
    if found is None:
        raise UnitError(f'"{shown(text)}" is not a value: {_advice(text, expected)}')
    value, unit = found
    if math.isinf(value):
        raise UnitError(f'"{shown(text)}" is too large a number: {_FALLBACK}')
    if value == 0 and re.search("[1-9]", re.sub("[eE].*", "", text)):
        raise UnitError(f'"{shown(text)}" is too small a number: write 0 if it is meant')
    if value < 0 and (unit or expected) not in _SIGNED:
        raise UnitError(f'"{shown(text)}" is below zero: {UNIT_WORDS[unit or expected]} cannot be')
    return value + 0.0, unit  # + 0.0 turns -0.0 into 0.0


def parse_value(text: str, unit: str = "") -> float:
    """Value of `text` in SI units.

    `unit` is the unit the value must have, written or understood: one of `UNIT_WORDS`; ``""`` takes
    any unit and ``"1"`` none. A percentage must be written with its sign and comes as a fraction.
    Raises UnitError.

    >>> parse_value("4k7", "Ω"), parse_value("2.52n", "A"), parse_value("50%", "%")
    (4700.0, 2.52e-09, 0.5)
    """
    value, written = parse_quantity(text, unit)
    if not unit or written == unit:
        return value
    if written:
        raise UnitError(f'"{shown(text)}" is in {UNIT_WORDS[written]}, expected {_in_words(unit)}')
    if unit == "%":
        hint = f"{value * 100:g}%" if 0 < value < 1 else f"{value:g}%"
        raise UnitError(f'"{shown(text)}" has no % sign: did you mean {hint}?')
    return value


def rkm(x: float, unit: str = "Ω") -> str:
    """Shortest letter code (IEC 60062) that `parse_value` reads back as exactly `x`.

    `unit` gives the letter for the point where there is no prefix: R for Ω. Percent is a fraction
    (0.05 is ``5%``). Values outside 1 f to
    1000 T are written in scientific notation. Raises UnitError for nan and infinities.

    >>> rkm(4700.0), rkm(10.0), rkm(0.1), rkm(4.7e-9, "F"), rkm(5.1, "V"), rkm(0.022)
    ('4k7', '10R', '0R1', '4n7', '5V1', '22m')
    """
    if not math.isfinite(x):
        raise UnitError(f"{x} cannot be written as a value")
    if x < 0:
        return "-" + rkm(-x, unit)
    if not x:
        return "0" + (unit if unit == "%" else _point(unit))
    number = Decimal(repr(float(x)))
    if unit == "%":
        percent = (number * 100).normalize()
        return f"{percent:f}%" if abs(percent.adjusted()) < 15 else f"{percent}%"
    exponent = number.adjusted() // 3 * 3
    if not -12 <= exponent <= 12:
        return repr(float(x)) + ("" if unit == "1" else unit)
    if exponent == -3 and unit == "Ω" and number >= Decimal("0.1"):
        exponent = 0
    whole, _, part = f"{number.scaleb(-exponent):f}".partition(".")
    part = part.rstrip("0")
    letter = _letter(exponent).replace("µ", "u") if exponent else _point(unit)
    if not exponent and letter not in _CODE_UNITS:
        return f"{whole}.{part}{letter}" if part else f"{whole}{letter}"
    return f"{whole}{letter}{part}"


def format_value(x: float, unit: str = "", digits: int = 3) -> str:
    """Engineering notation for people: `digits` significant digits, prefix, unit.

    Rounds half to even on the shortest decimal text of `x`. Farads skip milli, as the trade does;
    percent (a fraction) and ``°C`` take no prefix.

    >>> format_value(4700, "Ω"), format_value(0.0047, "F"), format_value(0.05, "%"), format_value(0, "V")
    ('4.70 kΩ', '4700 µF', '5.00 %', '0 V')
    >>> format_value(999.96, "Ω"), format_value(0.61, "V", digits=2), format_value(float("inf"), "Ω")
    ('1.00 kΩ', '610 mV', '∞ Ω')
    """
    unit = "" if unit == "1" else unit
    if not math.isfinite(x):
        return f"{'not a number' if math.isnan(x) else '∞' if x > 0 else '−∞'} {unit}".rstrip()
    if not x:
        return f"0 {unit}".rstrip()
    number = Decimal(repr(float(x))) * (100 if unit == "%" else 1)
    number = number.quantize(Decimal((0, (1,), number.adjusted() - digits + 1)), ROUND_HALF_EVEN)
    exponent = 0 if unit in ("%", "°C") else number.adjusted() // 3 * 3
    if not (-15 if unit in ("A", "") else -12) <= exponent <= 12:  # femto is for currents
        return f"{number:.{digits - 1}e} {unit}".rstrip()
    if unit == "F" and exponent == -3:
        exponent = -6
    scaled = number.scaleb(-exponent)
    places = max(0, digits - 1 - scaled.adjusted())
    body = f"{scaled:.{places}f}"
    return f"{body} {_letter(exponent) if exponent else ''}{unit}".rstrip()


DAY = 86400.0
"""[s] What takes longer is not waited for."""


def duration(seconds: float | None) -> str:
    """A time as a person counts it; None and more than a day: "not in a day".

    >>> [duration(s) for s in (0.0033, 0.047, 0.33, 1.0, 1.43, 43.2, 325.5, 5000.0, 9000.0, None)]
    ['3.3 ms', '47 ms', '0.3 s', '1 s', '1.4 s', '43 s', '5.4 min', '83 min', '2.5 h', 'not in a day']
    """
    if seconds is None or seconds > DAY:
        return "not in a day"
    if seconds < 0.095:
        return format_value(seconds, "s", 2)
    unit, size = ("s", 1.0) if seconds < 119.5 else ("min", 60.0) if seconds < 7170.0 else ("h", 3600.0)
    count = seconds / size
    text = f"{count:.0f}" if count >= 9.95 else f"{count:.1f}".removesuffix(".0")
    return f"{text} {unit}"


def shown(text: str) -> str:
    """Text made safe and short for a message: control characters escaped, the middle cut out."""
    safe = "".join(c if c.isprintable() else f"\\x{ord(c):02x}" for c in text[:_LONGEST + 1])
    return safe if len(safe) <= _LONGEST else safe[:_LONGEST - 1] + "…"


def _quantity(text: str, expected: str) -> tuple[float, str] | None:
    if len(text) > _LONGEST:
        return None
    if match := _PLAIN.fullmatch(text):
        sign, digits, power, tail = match.groups()
        split = _prefix_and_unit(tail, expected)
        if split is None or (power is not None and split[0]) or (split[1] == "%" and split[0]):
            return None
        exponent, unit = split
        if unit == "%":
            exponent = -2
        return float(f"{sign}{digits}e{exponent + int(power or '0')}"), unit
    if match := _LETTER.fullmatch(text):
        sign, whole, letter, part, tail = match.groups()
        unit = _CODE_UNITS.get(letter, UNITS.get(tail, ""))
        known = letter in PREFIXES or letter in _CODE_UNITS if whole else letter in _LEADING
        if not known or (tail and UNITS.get(tail) != unit) or tail in ("R", "%"):
            return None
        if letter == "f" and (unit or expected) not in ("A", ""):
            return None
        return float(f"{sign}{whole or '0'}.{part}e{PREFIXES.get(letter, 0)}"), unit
    return None


def _prefix_and_unit(tail: str, expected: str) -> tuple[int, str] | None:
    """Power of ten and unit of what follows the digits; None where it is neither."""
    if expected == "K" and tail.endswith("K"):
        return (0, "K") if tail == "K" else None
    if tail in UNITS or not tail:
        return 0, UNITS.get(tail, "")
    prefix, rest = tail[0], tail[1:]
    if prefix not in PREFIXES or (rest and rest not in UNITS) or rest in ("R", "%"):
        return None
    unit = UNITS.get(rest, "")
    if prefix == "f" and (unit or expected) not in ("A", ""):
        return None
    return PREFIXES[prefix], unit


def _letter(exponent: int) -> str:
    return {-15: "f", -12: "p", -9: "n", -6: "µ", -3: "m", 3: "k", 6: "M", 9: "G", 12: "T"}[exponent]


def _point(unit: str) -> str:
    return {"Ω": "R", "1": "", "": ""}.get(unit, unit)


def _in_words(unit: str) -> str:
    return UNIT_WORDS[unit] if unit == "1" else f"{UNIT_WORDS[unit]} ({unit})"


def _advice(text: str, expected: str) -> str:
    """The sentence that says what would have been right."""
    if len(text) > _LONGEST:
        return _FALLBACK
    good: dict[tuple[float, str], str] = {}
    for candidate in _rewritten(text):
        found = _quantity(candidate, expected)
        if found is not None and math.isfinite(found[0]):
            good.setdefault(found, candidate)
    if good:
        return f"did you mean {' or '.join(list(good.values())[:2])}?"
    return _FALLBACK


def _rewritten(text: str) -> Iterator[str]:
    """What may have been meant, likeliest first; the caller keeps what parses."""
    plain = unicodedata.normalize("NFKC", text.strip()).replace("−", "-").replace("–", "-")
    plain = plain.lstrip("+").replace("μ", "u").replace("µ", "u").replace("_", "").replace("'", "")
    plain = plain.replace(" ", "")
    if re.fullmatch("-?[0-9]{1,3},[0-9]{3}", plain):
        yield plain.replace(",", "")  # 1,500 may be either
    plain = plain.replace(",", ".") if plain.count(",") == 1 and "." not in plain else plain.replace(",", "")
    yield plain
    match = re.fullmatch(r"(-?[0-9]*)([.a-zA-Z]?)([0-9]*)([a-zA-ZωΩ]*)", plain)
    if not match:
        return
    whole, point, part, tail = match.groups()
    if point.isalpha() and not part:
        point, tail = "", point + tail
    if point.isalpha():
        for letter in (point.lower(), point.upper()):
            yield f"{whole}{letter}{part}"
        yield f"{whole}.{part}{point}"
        return
    number = f"{whole}{point}{part}"
    for suffix in _suffixes(tail):
        yield number + suffix


def _suffixes(tail: str) -> Iterator[str]:
    """Prefix and unit that may have been meant by a tail such as ``pf``, ``meg`` or ``mfd``."""
    low = tail.lower()
    if low.startswith("meg"):
        yield "M" + _LOWER_UNITS.get(low[3:], "")
    if low in ("mfd", "mf"):  # old marking for microfarads
        yield "uF"
        return
    if tail == "f":
        yield from ("pF", "F")
    for prefix in dict.fromkeys((tail[:1], low[:1])):
        if prefix in PREFIXES and low[1:] in _LOWER_UNITS:
            if low[1:2] == "f":
                yield prefix
            yield prefix + ("" if low[1:] == "r" else _LOWER_UNITS[low[1:]])
    if low in _LOWER_UNITS:
        yield _LOWER_UNITS[low]
