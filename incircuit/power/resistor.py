"""A resistor to discharge a bank with: value, power, energy."""

from __future__ import annotations

import math
from dataclasses import dataclass

SANE_WATTS = 50.0
"""Peak power aimed at [W]: a wirewound part on insulated clips, no sparks to speak of (common practice)."""
LEAST_OHMS = 10.0
JOULES_PER_WATT = 2.0
"""A wirewound resistor takes so much at once for each watt of its rating, with a margin (from memory)."""
OVERLOAD = 5.0
"""It bears so many times its rated power for 5 s (from memory)."""
LEAST_WATTS = 5.0
"""Above 60 V nothing smaller has the body for it (common practice)."""
RATINGS = (1.0, 2.0, 5.0, 10.0, 25.0, 50.0, 100.0, 200.0)
"""Wirewound resistors as sold [W]."""
EMPTY = 34.0
"""[V] Discharged to the lowest limit."""
MOST_SECONDS = 60.0
"""Longer than this nobody holds two clips."""
E12 = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
"""IEC 60063."""


@dataclass(frozen=True, slots=True)
class Discharger:
    """A resistor of `ohms`: it meets `peak_watts` and `peak_amps` at first and takes `joules` in all.

    `watts` is the least rating of a wirewound part that bears it, `seconds` to 34 V (0 where below), `volts`
    what it has to stand.
    """

    ohms: float
    watts: float
    peak_watts: float
    peak_amps: float
    joules: float
    seconds: float
    volts: float


def discharger(farads: float, volts: float) -> Discharger:
    """A resistor for that bank [F, V]: peak power about 50 W, or more where that would take over a minute."""
    ohms = max(LEAST_OHMS, volts * volts / SANE_WATTS)
    constants = math.log(volts / EMPTY) if volts > EMPTY else 1.0
    ohms = max(LEAST_OHMS, min(ohms, MOST_SECONDS / (farads * constants)))
    ohms = _e12(ohms)
    peak, joules = volts * volts / ohms, 0.5 * farads * volts * volts
    seconds = ohms * farads * math.log(volts / EMPTY) if volts > EMPTY else 0.0
    least = max(joules / JOULES_PER_WATT, peak / OVERLOAD if ohms * farads >= 1.0 else 0.0)
    least = max(least, LEAST_WATTS if volts > 60.0 else 0.0)
    watts = next((w for w in RATINGS if w >= least), RATINGS[-1])
    return Discharger(ohms, watts, peak, volts / ohms, joules, seconds, volts)


def _e12(ohms: float) -> float:
    """The next value of E12 not below."""
    decade = 10.0 ** math.floor(math.log10(ohms) + 1e-12)
    step = next((s for s in (*E12, 10.0) if s * decade >= ohms * (1.0 - 1e-9)), 10.0)
    return float(f"{step * decade:.3g}")
