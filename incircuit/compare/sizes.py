"""How large a fault is, in words that say no more than the reading tells."""

from __future__ import annotations

import math

from incircuit.units import format_value

NARROW = 1.6
"""What fits within this ratio is given as one number."""
LEAK_ENDS = 5e6
"""From here on [ohm] a leak is as good as none."""


def size_words(word: str, magnitude: float | None, span: tuple[float, float] | None) -> str:
    """Size of a fault of some kind, empty where the reading does not tell.

    >>> size_words("leaky", 470.0, (420.0, 510.0)), size_words("leaky", 90e3, (20e3, 9e6))
    ('about 470 Ω', 'over 20 kΩ')
    >>> size_words("short", 0.02, (0.01, 0.4)), size_words("drifted", 2.1, (1.9, 2.3))
    ('under 0.4 Ω', 'about 2.1 times')
    """
    if span is None or magnitude is None:
        return ""
    low, high = span
    if word in ("short", "leaky"):
        if high > NARROW * low and word == "short" and low <= 0.05:
            return f"under {_ohms(high)}"
        if high > NARROW * low and word == "leaky" and high >= LEAK_ENDS:
            return f"over {_ohms(low)}"
        return f"about {_ohms(magnitude)}" if high <= NARROW * low else f"{_ohms(low)} to {_ohms(high)}"
    if high <= NARROW * low:
        return f"about {_times(magnitude)} times"
    return f"{_times(low)} to {_times(high)} times"


def _times(factor: float) -> str:
    """Two digits, without an exponent.

    >>> _times(0.0512), _times(2.0), _times(12345.0)
    ('0.051', '2', '12000')
    """
    digits = 1 - math.floor(math.log10(factor))
    return f"{round(factor, digits):.{max(digits, 0)}f}".rstrip("0").rstrip(".") if digits > 0 else (
        f"{round(factor, digits):.0f}")


def _ohms(value: float) -> str:
    if value < 1.0:
        return f"{value:.1g} Ω"
    return format_value(value, "Ω", digits=2)
