"""What was found when a meter was measured: in words, as plain data, and as comments of its profile."""

from __future__ import annotations

import math
from collections.abc import Iterator
from textwrap import wrap
from typing import Any, NamedTuple

from incircuit.meter.fit import Figure
from incircuit.meter.measured import Measured
from incircuit.meter.offsets import RangeFound
from incircuit.meter.profile import Range
from incircuit.meter.sheet import accuracy_sheet, accuracy_words, meter_sheet, ohms_words, put_out
from incircuit.meter.writer import profile_text
from incircuit.units import format_value

COMMENT = 98
"""Characters in a line of comment."""
HOW = ("The accuracy below holds what these figures leave uncertain (JCGM 100:2008, GUM: limits taken as",
       "rectangular 4.3.7, added as squares 5.1.2, told with factor 2 6.3.3, errors left standing F.2.4.5).")


class _Ohms(NamedTuple):
    """A range as found, as it is in the profile, and as it was in the base."""

    found: RangeFound | None
    now: Range
    was: Range


def findings(found: Measured) -> list[str]:
    """What was found, one sentence a line; uncertainties are about 95 % (factor 2)."""
    lines = [f"{found.meter.name}, with what was not measured taken from {found.base.name}. "
             "± holds in 95 of 100 cases."]
    if found.leads:
        lines.append(f"leads: {_plus_minus(found.leads, 'Ω')}")
    ohms = list(_ohms(found))
    lines += [f"{ohms_words(o.now.full_scale)} range: {_gain(o.found.gain)}; {_accuracy_change(o)}"
              for o in ohms if o.found and o.found.gain and o.found.readings]
    lines += [f"{ohms_words(o.now.full_scale)} range, not read: {_accuracy_change(o)}"
              for o in ohms if o.found and not o.found.readings and o.now.accuracy != o.was.accuracy]
    lines += [f"{ohms_words(o.now.full_scale)} range puts out {put_out(o.now.source)}"
              for o in ohms if o.now.source != o.was.source]
    return [*lines, *_diode(found), *found.notes]


def profile_of(found: Measured) -> str:
    """The profile with the findings, and how they were made, as comments above it."""
    lines = [piece for line in findings(found) for piece in wrap(line, COMMENT, subsequent_indent="  ")]
    return profile_text(found.meter, [*lines, *HOW])


def measured_sheet(found: Measured) -> dict[str, Any]:
    """What was found as plain data; every uncertainty is expanded, factor 2."""
    return {
        "meter": meter_sheet(found.meter), "base": found.base.name,
        "leads": _figure(found.leads), "diode_current": _figure(found.diode_current),
        "ranges": [{"full_scale": o.now.full_scale, "gain": _figure(o.found.gain),
                    "zero": _figure(o.found.zero), "readings": o.found.readings,
                    "accuracy": accuracy_sheet(o.now.accuracy)} for o in _ohms(found) if o.found],
        "notes": list(found.notes),
    }


def _ohms(found: Measured) -> Iterator[_Ohms]:
    if found.meter.ohms and found.base.ohms:
        both = zip(found.meter.ohms.ranges, found.base.ohms.ranges, strict=True)
        for n, (now, was) in enumerate(both):
            yield _Ohms(found.ranges[n] if found.ranges else None, now, was)


def _diode(found: Measured) -> Iterator[str]:
    diode = found.meter.diode
    if diode and diode != found.base.diode:
        volts = format_value(diode.source.open_circuit, "V")
        current = f"{_plus_minus(found.diode_current, 'A')} up to {volts}" if found.diode_current else None
        yield f"diode test: {current or put_out(diode.source)}; accuracy {accuracy_words(diode.accuracy)}"


def _gain(gain: Figure) -> str:
    off = 100.0 * gain.value
    return f"reads {_two(abs(off), 100.0 * gain.expanded)} % too {'high' if off >= 0 else 'low'}"


def _accuracy_change(o: _Ohms) -> str:
    kept = o.found and o.found.readings and o.now.accuracy == o.was.accuracy
    return f"accuracy {accuracy_words(o.now.accuracy)}{', as the base' if kept else ''}"


def _plus_minus(figure: Figure, unit: str) -> str:
    """Value and uncertainty with the same digits: ``0.921 ± 0.012 mA``."""
    scale, prefix = (1e-3, "m") if unit == "A" else (1.0, "")
    return f"{_two(figure.value / scale, figure.expanded / scale)} {prefix}{unit}"


def _two(value: float, expanded: float) -> str:
    """Both rounded to the second digit of the uncertainty (GUM 7.2.6).

    >>> _two(0.9214, 0.01234), _two(0.3, 1.26), _two(-0.0, 0.0)
    ('0.921 ± 0.012', '0.3 ± 1.3', '0 ± 0')
    """
    if expanded <= 0.0:
        return f"{value + 0.0:g} ± 0"
    places = max(0, 1 - math.floor(math.log10(expanded)))
    return f"{round(value, places) + 0.0:.{places}f} ± {expanded:.{places}f}"


def _figure(figure: Figure | None) -> dict[str, float] | None:
    return None if figure is None else {"value": figure.value, "uncertainty": figure.expanded}
