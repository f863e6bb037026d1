"""How large a fault is, in words that say no more than the reading tells."""

from __future__ import annotations

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
        return f"about {magnitude:.2g} times"
    return f"{low:.2g} to {high:.2g} times"


def _ohms(value: float) -> str:
    if value < 1.0:
        return f"{value:.1g} Ω"
    return format_value(value, "Ω", digits=2)
