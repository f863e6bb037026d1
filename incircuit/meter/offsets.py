"""How far a meter is off on ohms, and its leads, from known resistors."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from incircuit.errors import MeterError
from incircuit.meter.display import fits, half_width
from incircuit.meter.fit import COVERAGE, Figure, Fitted, Prior, Row, contradiction, fit, rectangular
from incircuit.meter.known import Known
from incircuit.meter.profile import Accuracy, OhmsMode, Range
from incircuit.units import format_value, shown

FREE_GAIN, FREE_LEADS = 10.0, 1e3
"""Standard uncertainty of a gain (as a fraction) and of leads [Ω] nothing is known about."""
LEADS = 0.3
"""[Ω] Standard uncertainty of leads nobody measured, about the base's; most have 0.1 to 0.5 (from memory)."""
CONTACT = 0.1
"""[Ω] A probe's contact differs by this from reading to reading, half width (from memory)."""
WORST_GAIN, WORST_LEADS = 0.10, 5.0
"""Beyond this fraction, or this many ohms, something else than the meter is wrong (from memory)."""


@dataclass(frozen=True, slots=True)
class RangeFound:
    """What was found on the range with this full scale [Ω].

    `gain` is how much too high it reads, as a fraction, None where nothing tells, `zero` [Ω] what it
    shows for 0 Ω with the leads; `readings` how many known resistors were read on it.
    """

    full_scale: float
    gain: Figure | None
    zero: Figure
    readings: int


@dataclass(frozen=True, slots=True)
class OhmsFound:
    """Leads [Ω] and every range, lowest first."""

    leads: Figure
    ranges: tuple[RangeFound, ...]


def ohms_found(mode: OhmsMode, base_leads: float, known: Sequence[Known]) -> OhmsFound:
    """Least squares over known resistors (0 Ω for the leads held together) read on ohms.

    What is shown is (1 + gain + gain of the range)·R + leads + zero of the range. The gain common to
    all ranges and the leads are free; what a range differs by is within its accuracy in `mode`.
    Raises MeterError where the readings contradict each other or no meter reads so.
    """
    at = [_range_of(mode, k) for k in known]
    rows = [_row(mode.ranges[n], n, k) for n, k in zip(at, known, strict=True)]
    priors = _priors(mode, Prior(0.0, FREE_LEADS))
    if fit(rows, priors).figure(leads=1.0).expanded > COVERAGE * LEADS:
        priors = _priors(mode, Prior(base_leads, LEADS))
    if wrong := contradiction(rows, priors):
        row, due = wrong
        ohms = known[rows.index(row)].ohms + due.value
        raise MeterError(f'"{shown(row.text)}" contradicts the other readings: they leave '
                         f"{format_value(ohms, 'Ω', 4)} ± {format_value(due.expanded, 'Ω', 2)} to be shown; "
                         "read it again, and check the resistors")
    found = fit(rows, priors)
    measured = any(k.ohms for k in known)
    read = [n for n, k in zip(at, known, strict=True) if k.ohms]
    ranges = tuple(_of_range(found, n, r, read.count(n), measured) for n, r in enumerate(mode.ranges))
    leads = found.figure(leads=1.0)
    _plausible(leads, ranges, at, known)
    return OhmsFound(leads, ranges)


def widened(r: Range, found: RangeFound, leads: Figure, taken: float, trusted: bool) -> Accuracy:
    """The accuracy that holds what is left where `taken` [Ω] are put down as leads.

    Nothing corrects a gain later, so its error is added to its uncertainty (GUM F.2.4.5). Where the
    accuracy of `r` is known to be the meter's own (`trusted`) and the error is within it, the smaller
    one holds.
    """
    percent = r.accuracy.percent
    if found.gain is not None:
        off = 100.0 * abs(found.gain.value)
        held = off + 100.0 * found.gain.expanded
        percent = percent if trusted and off <= percent <= held else _up(held, 2)
    zero = abs(found.zero.value - taken) + found.zero.expanded
    unread = r.accuracy.digits * r.resolution + abs(leads.value - taken) + leads.expanded
    digits = round(min(zero, unread) / r.resolution, 1)
    return Accuracy(percent, max(r.accuracy.digits, digits), r.accuracy.arc)


def _up(value: float, digits: int) -> float:
    """Rounded up to so many significant digits."""
    if value <= 0.0:
        return 0.0
    step = digits - 1 - math.floor(math.log10(value))
    return float(f"{math.ceil(round(value * 10.0**step, 6)) / 10.0**step:.{digits}g}")


def _range_of(mode: OhmsMode, known: Known) -> int:
    """The lowest range that shows the reading."""
    for n, r in enumerate(mode.ranges):
        if fits(known.shown, r.full_scale, r.resolution):
            return n
    raise MeterError(f'"{shown(known.text)}": the base shows no more than '
                     f"{format_value(mode.ranges[-1].full_scale, 'Ω')}; take a smaller one or another base")


def _row(r: Range, n: int, known: Known) -> Row:
    needle = half_width(Accuracy(arc=r.accuracy.arc), r.resolution, known.shown, r.source.resistance)
    sigma = rectangular(known.tolerance * known.ohms, 0.5 * max(r.resolution, known.step), CONTACT, needle)
    terms = {"gain": known.ohms, f"gain{n}": known.ohms, "leads": 1.0, f"zero{n}": 1.0}
    return Row(terms, known.shown - known.ohms, sigma, known.text)


def _priors(mode: OhmsMode, leads: Prior) -> dict[str, Prior]:
    priors = {"gain": Prior(0.0, FREE_GAIN), "leads": leads}
    for n, r in enumerate(mode.ranges):
        priors[f"gain{n}"] = Prior(0.0, rectangular(r.accuracy.percent / 100.0))
        priors[f"zero{n}"] = Prior(0.0, rectangular(r.accuracy.digits * r.resolution))
    return priors


def _of_range(found: Fitted, n: int, r: Range, readings: int, measured: bool) -> RangeFound:
    gain = found.figure(**{"gain": 1.0, f"gain{n}": 1.0}) if measured else None
    zero = found.figure(**{"leads": 1.0, f"zero{n}": 1.0})
    return RangeFound(r.full_scale, gain, zero, readings)


def _plausible(leads: Figure, ranges: Sequence[RangeFound], at: Sequence[int],
               known: Sequence[Known]) -> None:
    """Raises MeterError where leads or a gain cannot be a meter's."""
    if abs(leads.value) - leads.expanded > WORST_LEADS:
        raise MeterError(f"the leads would have {leads.value:.1f} Ω: look for a bad lead or contact, and "
                         f"check {_named(known)}")
    for n, found in enumerate(ranges):
        if found.readings and found.gain and abs(found.gain.value) - found.gain.expanded > WORST_GAIN:
            typed = [k for k, where in zip(known, at, strict=True) if where == n and k.ohms]
            word = "high" if found.gain.value > 0 else "low"
            raise MeterError(f"the {format_value(found.full_scale, 'Ω')} range would read "
                             f"{100 * abs(found.gain.value):.0f} % too {word}: no meter in order does; check "
                             f"{_named(typed)}")


def _named(known: Sequence[Known]) -> str:
    return " and ".join(f'"{shown(k.text)}"' for k in known[:3])
