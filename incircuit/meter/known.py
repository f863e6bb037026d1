"""What a technician types to measure a meter: known resistors as it shows them, a second meter's figures."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.errors import MeterError, UnitError
from incircuit.meter.typed import digit_weight, last_digit, parse_shown
from incircuit.units import parse_value, shown

UNMARKED = 0.05
"""Tolerance of a resistor typed without one, half width; usual for unmarked film parts (from memory)."""
LARGEST_TOLERANCE = 0.2
SECOND_PERCENT, SECOND_DIGITS = 1.0, 2.0
"""Accuracy of the second meter where nothing else is said: hand-held ones on DC volts and milliamps
(from memory)."""


@dataclass(frozen=True, slots=True)
class Known:
    """A known resistor as the meter shows it.

    `ohms` [Ω] and `tolerance` (fraction, half width) of the resistor, `shown` [V or Ω] the display,
    `step` the weight of its last digit, `text` as typed.
    """

    ohms: float
    tolerance: float
    shown: float
    step: float
    text: str


@dataclass(frozen=True, slots=True)
class Second:
    """A figure of the second meter [V or A], wrong by `half` at most, `text` as typed."""

    value: float
    half: float
    text: str


def parse_known(text: str, mode: str) -> Known:
    """A known resistor and its reading in `mode` (diode, ohms). Raises MeterError.

    >>> parse_known("10R 1%=10.3", "ohms")
    Known(ohms=10.0, tolerance=0.01, shown=10.3, step=0.1, text='10R 1%=10.3')
    >>> parse_known("1k=0.921", "diode").tolerance
    0.05
    """
    resistor, equals, display = text.partition("=")
    words = resistor.split()
    if not equals or not words or len(words) > 2 or not display.strip():
        raise MeterError(f'"{shown(text)}": expected a resistor, its tolerance, and what the meter shows, '
                         'such as "10R 1%=10.3"')
    try:
        ohms = parse_value(words[0], "Ω")
        tolerance = parse_value(words[1], "%") if len(words) == 2 else UNMARKED
        typed = parse_shown(display, mode)
        step = last_digit(display, mode)
    except UnitError as error:
        raise MeterError(f'"{shown(text)}": {error}') from None
    if typed.value is None:
        raise MeterError(f'"{shown(text)}": overload tells nothing, take a resistor the meter can show')
    if not 0.0 < ohms < 1e9 or typed.value < 0.0:
        raise MeterError(f'"{shown(text)}": expected a resistor above 0 and below 1G, and a display '
                         "without a minus")
    if not 0.0 < tolerance <= LARGEST_TOLERANCE:
        raise MeterError(f'"{shown(text)}": a tolerance of {100 * tolerance:g} % tells nothing, expected '
                         f"above 0 and at most {100 * LARGEST_TOLERANCE:g} %")
    return Known(ohms, tolerance, typed.value, step, text)


def parse_leads(text: str) -> Known:
    """What ohms shows with the probes held together. Raises MeterError."""
    try:
        typed, step = parse_shown(text, "ohms"), last_digit(text, "ohms")
    except UnitError as error:
        raise MeterError(f"leads {error}") from None
    if typed.value is None:
        raise MeterError("leads: with the probes held together a meter shows no overload: look at the leads")
    return Known(0.0, 0.0, typed.value, step, f"leads {text}")


def parse_second(text: str, unit: str, percent: float = SECOND_PERCENT,
                 digits: float = SECOND_DIGITS) -> Second:
    """A figure of the second meter in `unit` (V, A), good for ± (percent of it + digits). Raises MeterError.

    Half a digit is added for rounding.
    """
    try:
        value, step = parse_value(text, unit), digit_weight(text, unit)
    except UnitError as error:
        raise MeterError(str(error)) from None
    if not value or not 1e-12 < abs(value) < 1e3:
        raise MeterError(f'"{shown(text)}" is no figure of a meter\'s own current or voltage')
    return Second(value, abs(value) * percent / 100.0 + (digits + 0.5) * step, text)


def of_range(text: str) -> tuple[float | None, str]:
    """The full scale [Ω] and the figure of ``400=0.68mA``; no full scale where only a figure is given.

    Raises MeterError.
    """
    scale, equals, figure = text.partition("=")
    if not equals:
        return None, text.strip()
    try:
        return parse_value(scale.strip(), "Ω"), figure.strip()
    except UnitError as error:
        raise MeterError(f'"{shown(text)}": {error}') from None
