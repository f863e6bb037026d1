"""A meter back to the TOML text `load_meter` reads."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence

from incircuit.meter.profile import KNEE, Accuracy, ContinuityMode, DiodeMode, Meter, OhmsMode, Range, Source


def profile_text(meter: Meter, comments: Sequence[str] = ()) -> str:
    """The profile of a meter; `comments` stand above it, one line each.

    Reading it back gives the same meter but for its digest.
    """
    lines = [f"# {line}".rstrip() for line in comments]
    lines += [f"name = {_text(meter.name)}", f"source = {_text(meter.source)}",
              f"lead_resistance = {_number(meter.lead_resistance)}",
              f"updates_per_second = {_number(meter.updates_per_second)}"]
    if meter.diode:
        lines += ["", "[diode]", *_diode(meter.diode)]
    if meter.ohms:
        lines += ["", "[ohms]", *_ohms(meter.ohms)]
    if meter.continuity:
        lines += ["", "[continuity]", *_continuity(meter.continuity, meter.ohms)]
    lines += _charging(meter)
    return "\n".join(lines) + "\n"


def _charging(meter: Meter) -> list[str]:
    lines: list[str] = []
    if meter.farads:
        f = meter.farads
        lines += ["", "[farads]", f"low = {_number(f.low)}", f"high = {_number(f.high)}",
                  f"open_circuit = {_number(f.ranges[0].source.open_circuit)}", *_red(f.red),
                  *_plain(f.ranges, current=True)]
    if meter.esr:
        e = meter.esr
        lines += ["", "[esr]", f"hertz = {_number(e.hertz)}", f"volts = {_number(e.volts)}", *_red(e.red),
                  *_plain(e.ranges)]
    if meter.volts:
        v = meter.volts
        lines += ["", "[volts]", f"input_resistance = {_number(v.input_resistance)}", *_red(v.red),
                  *_plain(v.ranges)]
    return lines


def _plain(ranges: Sequence[Range], current: bool = False) -> list[str]:
    lines = ["ranges = ["]
    for r in ranges:
        amps = [f"current = {_number(r.source.current)}"] if current else []
        keys = [f"full_scale = {_number(r.full_scale)}", *amps, f"resolution = {_number(r.resolution)}",
                _accuracy(r.accuracy)]
        lines.append(f"  {{ {', '.join(keys)} }},")
    return [*lines, "]"]


def _diode(mode: DiodeMode) -> list[str]:
    return [*_source(mode.source), f"overload = {_number(mode.overload)}",
            f"resolution = {_number(mode.resolution)}", _accuracy(mode.accuracy), *_red(mode.red)]


def _ohms(mode: OhmsMode) -> list[str]:
    lines = ['ranging = "manual"'] if mode.manual else []
    return [*lines, *_red(mode.red), "ranges = [",
            *(f"  {{ {', '.join(_range(r))} }}," for r in mode.ranges), "]"]


def _continuity(mode: ContinuityMode, ohms: OhmsMode | None) -> list[str]:
    shared = ohms is not None and mode.range in ohms.ranges
    lines = [f"range = {_number(mode.range.full_scale)}"] if shared else _range(mode.range)
    red = _red(mode.red) or (['red = "+"'] if shared and ohms and ohms.red < 0 else [])
    return [*lines, f"beeps_below = {_number(mode.beeps_below)}", *red]


def _range(r: Range) -> list[str]:
    return [f"full_scale = {_number(r.full_scale)}", *_source(r.source),
            f"resolution = {_number(r.resolution)}", _accuracy(r.accuracy)]


def _source(source: Source) -> list[str]:
    lines = [] if math.isinf(source.current) else [f"current = {_number(source.current)}"]
    lines.append(f"open_circuit = {_number(source.open_circuit)}")
    if math.isinf(source.current) or source.resistance != KNEE * source.open_circuit / source.current:
        lines.append(f"source_resistance = {_number(source.resistance)}")
    return lines


def _accuracy(accuracy: Accuracy) -> str:
    kept = [f"{key} = {_number(value)}" for key, value in
            (("percent", accuracy.percent), ("digits", accuracy.digits), ("arc", accuracy.arc))
            if value or key != "arc"]
    return f"accuracy = {{ {', '.join(kept)} }}"


def _red(red: int) -> list[str]:
    return ['red = "-"'] if red < 0 else []


def _number(value: float) -> str:
    """Shortest text that reads back as the same number; whole ones without a point."""
    if value == int(value) and 1.0 <= abs(value) < 1e4:
        return str(int(value))
    text = f"{value:g}"
    return text if float(text) == value else repr(float(value))


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # JSON's escapes are TOML's
