"""One reading as it is judged, and the scale on which readings are taken as normal."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats

WORD = "word"
"""Mode of a reading that is no number but what the display did."""
MOVING = "word of a moving display"
"""Mode of a display that was moving when it was read: an event like a word."""


@dataclass(frozen=True, slots=True)
class Observed:
    """One reading: `value` [V or ohm] or None on overload.

    `error` and `rounding` are half widths of the meter's accuracy and of a step of the display,
    `end` [V or ohm] where the mode overloads. Readings of one `mode` share the meter's error. Of a display
    that was moving, `display` is what it showed; the reading itself is then an event, `MOVING`. `start` [ohm]
    is where the range begins whose digits were typed, 0 where that is the lowest or may be either of two.
    """

    value: float | None
    mode: str
    error: float
    rounding: float
    end: float
    display: Observed | None = None
    start: float = 0.0

    @property
    def low(self) -> bool:
        """Whether the range below could show the number: a junction reads so, or zeros were left out."""
        return self.value is not None and self.value <= self.start


def scaled(x: Floats, mode: str) -> Floats:
    """Volts as they are, ohms by asinh: as they are below an ohm, their logarithm above."""
    return np.asarray(x if is_linear(mode) else np.arcsinh(x))


def unscaled(x: Floats, mode: str) -> Floats:
    """The inverse of `scaled`."""
    return np.asarray(x if is_linear(mode) else np.sinh(x))


def steepness(x: Floats, mode: str) -> Floats:
    """What a relative change of a reading is on its scale: readings [V or ohm] to their factor."""
    ohms = np.minimum(np.abs(x), 1e15)
    return np.asarray(np.abs(x) if is_linear(mode) else ohms / np.hypot(1.0, ohms))


def is_linear(mode: str) -> bool:
    """Whether readings of a mode are taken as they are, not by their logarithm."""
    return mode.startswith(("diode", "beep", "volts", WORD))


def stray(seen: Observed) -> float:
    """Log density [1/V or 1/ohm] of a number that means nothing: any of the display's scale."""
    assert seen.value is not None
    slope = 1.0 if is_linear(seen.mode) else 1.0 / math.hypot(1.0, seen.value)
    return math.log(slope / float(scaled(np.array(seen.end), seen.mode)))


def on_scale(exact: Floats, seen: Sequence[Observed]) -> tuple[Floats, list[Observed], float]:
    """Everything on the scale on which readings are taken as normal, and the log of its slope."""
    found, total = [], 0.0
    curved = [i for i, s in enumerate(seen) if not is_linear(s.mode)]
    curves = exact.copy()
    curves[curved] = np.arcsinh(exact[curved])
    for i, s in enumerate(seen):
        if i not in curved:
            found.append(s)
            continue
        at = 0.0 if s.value is None else s.value
        slope = 1.0 / math.hypot(1.0, at)
        value = None if s.value is None else float(np.arcsinh(s.value))
        total += 0.0 if s.value is None else math.log(slope)
        end = float(np.arcsinh(s.end))
        found.append(Observed(value, s.mode, s.error * slope, s.rounding * slope, end))
    return curves, found, total
