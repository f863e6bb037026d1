"""An axis of values: where a value lies, and round numbers to mark on it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from incircuit.draw.bodies import plain

LEAST = 1e-3
"""[V, ohm or s] Where a logarithmic axis ends at the latest when no digit is known."""
SPREAD = 30.0
"""Values that differ by more than this factor go on a logarithmic axis, ohms only."""


@dataclass(frozen=True, slots=True)
class Axis:
    """Values from `low` to `high` [V, ohm or s] on pixels `start` to `end`, `log` for decades."""

    low: float
    high: float
    start: float
    end: float
    log: bool = False

    def at(self, value: float) -> float:
        """Where a value lies [px], held within the axis."""
        if self.log:
            part = math.log(max(value, self.low) / self.low) / math.log(self.high / self.low)
        else:
            part = (value - self.low) / (self.high - self.low)
        return self.start + (self.end - self.start) * min(max(part, 0.0), 1.0)

    def ticks(self, most: int = 7) -> tuple[float, ...]:
        """Round values on the axis, at most about `most`.

        >>> Axis(0.0, 0.65, 0.0, 100.0).ticks()
        (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
        """
        if self.log:
            first, last = math.ceil(math.log10(self.low) - 1e-9), math.floor(math.log10(self.high) + 1e-9)
            found = [10.0**k for k in range(first, last + 1, max(1, math.ceil((last - first) / most)))]
            if len(found) >= 3:
                return tuple(found)
            fine = [m * 10.0**k for k in range(first - 1, last + 1) for m in (1, 2, 5)]
            return tuple(v for v in fine if self.low <= v <= self.high)
        step = _round_step((self.high - self.low) / most)
        first, last = math.ceil(self.low / step - 1e-9), math.floor(self.high / step + 1e-9)
        return tuple(float(f"{k * step:.12g}") for k in range(first, last + 1))


def _round_step(least: float) -> float:
    """1, 2 or 5 times a power of ten, not below `least`."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= least * (1 - 1e-9))


def axis_for(values: Iterable[float], start: float, end: float, resolution: float, log: bool) -> Axis:
    """An axis that holds some finite values with a little room on both sides; `log` where it may be one."""
    found = sorted(values) or [0.0, 1.0]
    low, high = found[0], found[-1]
    least = resolution or LEAST
    if log and high > SPREAD * max(low, least):
        return Axis(max(low, least) / 1.3, high * 1.3, start, end, True)
    room = max(0.06 * (high - low), 4 * least)
    bottom = low - room
    if low >= 0 and (bottom < 0 or low < 0.25 * (high - low)):
        bottom = -0.02 * (high + room)  # from zero where that costs little
    return Axis(bottom, high + room, start, end)


def tick_text(value: float, unit: str) -> str:
    """A value on an axis: ``0.2 V``, ``10 kΩ``."""
    if unit in ("V", "s"):
        return f"{value:g} {unit}"
    return plain(value, unit)
