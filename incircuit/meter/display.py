"""From what a meter measures to what it shows: ranges, rounding, digits, OL, accuracy.

Pure functions. The ohms display is ratiometric: R = v/i, both at the meter's own terminals, so the
lead resistance is in it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, TypeVar

from incircuit.meter.profile import Accuracy, ContinuityMode, DiodeMode, Range

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Quantity = TypeVar("Quantity", float, NDArray[np.float64])
else:
    Quantity = TypeVar("Quantity")

OVERLOAD = "OL"
_PREFIXES = ((1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (0.0, "m"))
_FARADS = ((1e-6, "µ"), (1e-9, "n"), (1e-12, "p"))
_SLACK = 1e-9  # of a step: rounding of binary numbers is not an overload


@dataclass(frozen=True, slots=True)
class Shown:
    """What the display shows.

    `text` as read off it, ``0.011 V`` or ``OL``; `value` [V or Ω] the number shown, None for OL;
    `beep` whether the beeper sounds; `range` the ohms range it stands in, None on diode test.
    """

    text: str
    value: float | None
    unit: str
    overload: bool = False
    beep: bool = False
    range: Range | None = None


def quantise(values: Quantity, resolution: float) -> Quantity:
    """Nearest whole number of steps of `resolution`; half goes to even. Floats or arrays, any shape.

    A zero comes without a sign; infinities stay what they are.
    """
    if isinstance(values, (int, float)):
        steps = values / resolution
        if not math.isfinite(steps):
            return steps
        return round(round(steps) * resolution, decimals(resolution, most=15)) + 0.0  # 10.1, not 10.1 + 2e-15
    import numpy as np

    return np.asarray(np.rint(values / resolution) * resolution + 0.0)


def fits(reading: float, full_scale: float, resolution: float) -> bool:
    """Whether a range of `full_scale` can show the reading once it is rounded to `resolution`."""
    if not math.isfinite(reading):
        return False
    return abs(quantise(reading, resolution)) <= full_scale + _SLACK * resolution


def half_width(accuracy: Accuracy, resolution: float, reading: Quantity, resistance: float = 0.0) -> Quantity:
    """Half width of the accuracy band, in the unit of `reading`; floats or arrays.

    ±(percent·|reading| + digits·resolution), and for a needle (`Accuracy.arc`) on a range with
    `resistance` Rm [Ω] behind it, arc·(reading + Rm)²/Rm: the slope of the scale R ↦ Rm/(R + Rm).
    """
    width = abs(reading) * (accuracy.percent / 100.0) + accuracy.digits * resolution
    if accuracy.arc and resistance:
        width = width + (accuracy.arc / 100.0) * (reading + resistance) ** 2 / resistance
    return width


def range_half_width(chosen: Range, reading: Quantity) -> Quantity:
    """`half_width` [Ω] of an ohms range."""
    return half_width(chosen.accuracy, chosen.resolution, reading, chosen.source.resistance)


def diode_overloads(mode: DiodeMode, volts: float) -> bool:
    """Whether the diode test shows OL at a terminal voltage [V]: rounded, it reaches `overload`."""
    if not math.isfinite(volts):
        return True
    return abs(quantise(volts, mode.resolution)) >= mode.overload - _SLACK * mode.resolution


def show_diode(mode: DiodeMode, volts: float) -> Shown:
    """What the diode test shows at a terminal voltage [V] (positive terminal against negative)."""
    if diode_overloads(mode, volts):
        return Shown(OVERLOAD, None, "V", overload=True)
    value = quantise(volts, mode.resolution)
    return Shown(f"{_digits(value, mode.resolution, 1.0)} V", value, "V")


def show_ohms(chosen: Range, ohms: float) -> Shown:
    """What one ohms range shows for a resistance [Ω] seen at the terminals, or OL if it does not fit."""
    if not fits(ohms, chosen.full_scale, chosen.resolution):
        return Shown(OVERLOAD, None, "Ω", overload=True, range=chosen)
    value = quantise(ohms, chosen.resolution)
    scale, prefix = next((s or 1e-3, p) for s, p in _PREFIXES if chosen.full_scale >= s)
    return Shown(f"{_digits(value, chosen.resolution, scale)} {prefix}Ω", value, "Ω", range=chosen)


def show_plain(chosen: Range, value: float, unit: str) -> Shown:
    """What a range of farads (``F``), volts (``V``) or esr (``Ω``) shows; OL beyond its end."""
    if not fits(value, chosen.full_scale, chosen.resolution):
        return Shown(OVERLOAD, None, unit, overload=True, range=chosen)
    read = quantise(value, chosen.resolution)
    scale, prefix = 1.0, ""
    if unit == "F":  # the trade knows no millifarads
        scale, prefix = next((s, p) for s, p in _FARADS if chosen.full_scale >= s or p == "p")
    text = f"{_digits(read, chosen.resolution, scale)} {prefix}{unit}"
    return Shown(text, read, unit, range=chosen)


def show_continuity(mode: ContinuityMode, ohms: float) -> Shown:
    """What continuity shows, and whether it beeps: the resistance [Ω] seen is below the threshold."""
    shown = show_ohms(mode.range, ohms)
    return Shown(shown.text, shown.value, shown.unit, shown.overload, ohms < mode.beeps_below, mode.range)


def decimals(resolution: float, scale: float = 1.0, most: int = 9) -> int:
    """Digits behind the point that a step of `resolution` needs in units of `scale`, up to `most`.

    >>> decimals(1e-3), decimals(0.1), decimals(10.0, 1e3), decimals(0.25), decimals(1e3, 1e3)
    (3, 1, 2, 2, 0)
    """
    exponent = (Decimal(repr(resolution)) / Decimal(repr(scale))).normalize().as_tuple().exponent
    return min(max(0, -exponent), most) if isinstance(exponent, int) else 0


def _digits(value: float, resolution: float, scale: float) -> str:
    text = f"{value / scale:.{decimals(resolution, scale)}f}"
    return text.lstrip("-") if not text.strip("-0.") else text
