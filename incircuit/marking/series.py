"""Preferred values: the E series of IEC 60063, nearest value and neighbours.

A series of n values a decade is 10^(i/n), rounded to two digits up to E24 and to three from E48
on, with the exceptions that the standard keeps for older use.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from decimal import Decimal

from incircuit.errors import MarkError

_E24_EXCEPTIONS = {10: 27, 11: 30, 12: 33, 13: 36, 14: 39, 15: 43, 16: 47, 22: 82}
_E192_EXCEPTIONS = {185: 920}
# both: IEC 60063 (2015), where the rounded power differs from the value of the table

_E24 = tuple(10 * _E24_EXCEPTIONS.get(i, round(10 * 10 ** (i / 24))) for i in range(24))
_E192 = tuple(_E192_EXCEPTIONS.get(i, round(100 * 10 ** (i / 192))) for i in range(192))

SERIES: dict[str, tuple[int, ...]] = {
    "E3": _E24[::8], "E6": _E24[::4], "E12": _E24[::2], "E24": _E24,
    "E48": _E192[::4], "E96": _E192[::2], "E192": _E192,
}
"""Values of one decade, 100 to 999, coarsest series first; each half holds every second of the next."""

E24 = ("E3", "E6", "E12", "E24")
"""Series whose values are all in E24."""

SMALLEST, LARGEST = 1e-18, 1e16
"""Bounds [SI units] of what is looked up: well beyond any part that can be marked."""


def decades(value: float) -> tuple[Decimal, int]:
    """Significand in 100 … 999.… and the power of ten it is to be multiplied by, exactly.

    Raises MarkError for what is not between `SMALLEST` and `LARGEST`.

    >>> decades(4700.0), decades(0.0475)
    ((Decimal('470'), 1), (Decimal('475'), -4))
    """
    if not SMALLEST <= value <= LARGEST:  # also where it is not a number
        raise MarkError(f"{value:g} has no marking: it must be between {SMALLEST:g} and {LARGEST:g}")
    number = Decimal(repr(float(value)))
    power = number.adjusted() - 2
    significand = number.scaleb(-power)
    return Decimal(int(significand)) if significand == int(significand) else significand, power


def scaled(significand: int, power: int) -> float:
    """``significand × 10^power`` as the float nearest to that decimal number.

    >>> scaled(475, -4)
    0.0475
    """
    return float(f"{significand}e{power}")


def series_of(value: float, figures: int = 3) -> str:
    """The coarsest series that has the value, ``""`` where none has.

    `figures` is how many digits the mark has: with 2, a series finer than E24 is chance.

    >>> series_of(4700.0), series_of(62.0), series_of(0.0499), series_of(122.0), series_of(140.0, 2)
    ('E3', 'E24', 'E96', '', '')
    """
    if not SMALLEST <= value <= LARGEST:
        return ""
    significand, _ = decades(value)
    names = E24 if figures < 3 else SERIES
    return next((name for name in names if significand in SERIES[name]), "")


def nearest(value: float, series: str) -> float:
    """The value of the series with the least difference; the lower one of two equally near.

    `series` is a key of `SERIES`. Raises MarkError.

    >>> nearest(4.9e3, "E24"), nearest(4.9e3, "E96"), nearest(9.9, "E12")
    (4700.0, 4870.0, 10.0)
    """
    values = _values(series)
    significand, power = decades(value)
    steps = (*values, 1000)
    best = min(steps, key=lambda step: (abs(step - significand), step))
    return scaled(best, power)


def neighbours(value: float, series: str) -> tuple[float, float]:
    """The next value of the series strictly below and the next strictly above. Raises MarkError.

    >>> neighbours(4700.0, "E12"), neighbours(5000.0, "E12"), neighbours(1.0, "E6")
    ((3900.0, 5600.0), (4700.0, 5600.0), (0.68, 1.5))
    """
    values = _values(series)
    significand, power = decades(value)
    below, above = bisect_left(values, significand) - 1, bisect_right(values, significand)
    low = scaled(values[below], power) if below >= 0 else scaled(values[-1], power - 1)
    high = scaled(values[above], power) if above < len(values) else scaled(1000, power)
    return low, high


def _values(series: str) -> tuple[int, ...]:
    try:
        return SERIES[series]
    except KeyError:
        raise MarkError(f'"{series}" is no series of preferred values: {", ".join(SERIES)}') from None
