"""A meter in words, and as plain data for programs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from incircuit.meter.profile import Accuracy, Meter, OhmsMode, Range, Source
from incircuit.units import format_value

OPENS = 0.4
"""[V] Above this on its terminals a meter makes silicon junctions conduct visibly (common practice)."""


def in_short(m: Meter) -> str:
    """One line: how it finds its range, what it puts out on the diode test, how far ohms reach."""
    said = []
    if m.ohms:
        said.append("by hand" if m.ohms.manual else "finds its range")
        first, last = m.ohms.ranges[0], m.ohms.ranges[-1]
        red = ", red is minus" if m.ohms.red < 0 else ""
        reach = f"{ohms_words(first.full_scale)} to {ohms_words(last.full_scale)}"
        said.append(f"ohms {reach}, {volts_on_ohms(m.ohms)}{red}")
    said.append(f"diode test {put_out(m.diode.source)}" if m.diode else "no diode test")
    if not m.continuity:
        said.append("no beeper")
    return "; ".join(said)


def volts_on_ohms(mode: OhmsMode) -> str:
    """The open-circuit voltages of ohms: ``1.0 V``, or ``1.5 to 9.0 V``."""
    volts = sorted({r.source.open_circuit for r in mode.ranges})
    low, high = f"{volts[0]:g}", f"{volts[-1]:g}"
    return f"{high} V" if low == high else f"{low} to {high} V"


def put_out(source: Source) -> str:
    """``1.00 mA up to 3.00 V``, or ``1.50 V behind 20.0 Ω``."""
    volts = format_value(source.open_circuit, "V")
    if math.isinf(source.current):
        return f"{volts} behind {format_value(source.resistance, 'Ω')}"
    return f"{format_value(source.current, 'A')} up to {volts}"


def accuracy_words(accuracy: Accuracy) -> str:
    """``±(0.8 % + 2 digits)``."""
    parts = [f"{accuracy.percent:g} %" if accuracy.percent else "",
             f"{accuracy.digits:g} digit{'' if accuracy.digits == 1 else 's'}" if accuracy.digits else "",
             f"{accuracy.arc:g} % of the arc" if accuracy.arc else ""]
    kept = [part for part in parts if part]
    return f"±({' + '.join(kept)})" if len(kept) > 1 else f"±{kept[0]}" if kept else "exact"


def mode_lines(m: Meter) -> Iterator[tuple[str, str]]:
    """(mode, what it puts out and shows) for every mode."""
    if m.diode:
        d = m.diode
        red = "" if d.red > 0 else ", red is minus"
        yield "diode", (f"{put_out(d.source)}{red}; shows volts, OL from {d.overload:g} V; last digit "
                        f"{format_value(d.resolution, 'V', 1)}, {accuracy_words(d.accuracy)}.")
    if m.ohms:
        way = "ranges by hand" if m.ohms.manual else "finds the lowest range that fits"
        shut = max(r.source.open_circuit for r in m.ohms.ranges) <= OPENS
        junctions = ("silicon junctions stay shut" if shut
                     else "junctions conduct, and read differently on each range")
        yield "ohms", f"red is {'plus' if m.ohms.red > 0 else 'minus'}, {way}; {junctions}."
    if m.continuity:
        c = m.continuity
        yield "continuity", (f"beeps below {ohms_words(c.beeps_below)}; puts out "
                             f"{put_out(c.range.source)}, shows ohms up to {ohms_words(c.range.full_scale)}.")
    if m.farads:
        f = m.farads
        yield "farads", (f"charges from {f.low:g} to {f.high:g} V and takes the time; "
                         f"up to {format_value(f.ranges[-1].full_scale, 'F')}.")
    if m.esr:
        e = m.esr
        yield "esr", (f"impedance at {format_value(e.hertz, 'Hz')}, {format_value(e.volts, 'V')} at most; "
                      f"up to {ohms_words(e.ranges[-1].full_scale)}.")
    if m.volts:
        v = m.volts
        yield "volts", (f"loads the pads with {format_value(v.input_resistance, 'Ω')}; "
                        f"up to {v.ranges[-1].full_scale:g} V.")


def range_rows(mode: OhmsMode) -> list[tuple[str, ...]]:
    """Per range: full scale, source, open circuit, volts at full scale, last digit, accuracy."""
    rows: list[tuple[str, ...]] = []
    for r in mode.ranges:
        behind = math.isinf(r.source.current)
        ohms, amps = format_value(r.source.resistance, "Ω"), format_value(r.source.current, "A")
        rows.append((ohms_words(r.full_scale), f"behind {ohms}" if behind else amps,
                     format_value(r.source.open_circuit, "V"), format_value(_full_volts(r), "V"),
                     ohms_words(r.resolution), accuracy_words(r.accuracy)))
    return rows


def meter_sheet(m: Meter) -> dict[str, Any]:
    """A meter as plain data, SI units; None for a mode it does not have."""
    return {
        "name": m.name, "source": m.source, "lead_resistance": m.lead_resistance,
        "updates_per_second": m.updates_per_second,
        "diode": None if m.diode is None else {
            **_source(m.diode.source), "overload": m.diode.overload, "resolution": m.diode.resolution,
            "accuracy": accuracy_sheet(m.diode.accuracy), "red": _sign(m.diode.red)},
        "ohms": None if m.ohms is None else {
            "red": _sign(m.ohms.red), "ranging": "manual" if m.ohms.manual else "auto",
            "ranges": [_range(r) for r in m.ohms.ranges]},
        "continuity": None if m.continuity is None else {
            **_range(m.continuity.range), "beeps_below": m.continuity.beeps_below,
            "red": _sign(m.continuity.red)},
        "farads": None if m.farads is None else {
            "low": m.farads.low, "high": m.farads.high, "red": _sign(m.farads.red),
            "ranges": [_range(r) for r in m.farads.ranges]},
        "esr": None if m.esr is None else {
            "hertz": m.esr.hertz, "volts": m.esr.volts, "red": _sign(m.esr.red),
            "ranges": [_bare(r) for r in m.esr.ranges]},
        "volts": None if m.volts is None else {
            "input_resistance": m.volts.input_resistance, "red": _sign(m.volts.red),
            "ranges": [_bare(r) for r in m.volts.ranges]},
    }


def ohms_words(ohms: float) -> str:
    """Ohms as they stand on a switch: ``400 Ω``, ``4 kΩ``, ``0.1 Ω``."""
    for factor, prefix in ((1e6, "M"), (1e3, "k")):
        if ohms >= factor:
            return f"{ohms / factor:g} {prefix}Ω"
    return f"{ohms:g} Ω"


def _full_volts(r: Range) -> float:
    if math.isinf(r.source.current):
        return r.source.open_circuit * r.full_scale / (r.full_scale + r.source.resistance)
    return min(r.source.open_circuit, r.source.current * r.full_scale)


def _source(source: Source) -> dict[str, Any]:
    current = None if math.isinf(source.current) else source.current
    return {"current": current, "open_circuit": source.open_circuit, "source_resistance": source.resistance}


def accuracy_sheet(accuracy: Accuracy) -> dict[str, float]:
    """An accuracy as plain data."""
    return {"percent": accuracy.percent, "digits": accuracy.digits, "arc": accuracy.arc}


def _range(r: Range) -> dict[str, Any]:
    return {"full_scale": r.full_scale, **_source(r.source), "resolution": r.resolution,
            "accuracy": accuracy_sheet(r.accuracy)}


def _bare(r: Range) -> dict[str, Any]:
    return {"full_scale": r.full_scale, "resolution": r.resolution, "accuracy": accuracy_sheet(r.accuracy)}


def _sign(red: int) -> str:
    return "+" if red > 0 else "-"
