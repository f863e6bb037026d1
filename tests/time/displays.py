"""What a display does while capacitors charge, by ngspice: the meter's switch turned by hand between runs.

Nothing here uses the project's own transients: each stretch on one range is a transient of ngspice, and
begins with the charges the one before has left.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from incircuit.errors import EngineError
from incircuit.meter.profile import Meter, Range, Source
from incircuit.parts.elements import Capacitance, Element
from tests.time.spice import Floats, charging

TOUCH = 1e-7
"""Just after touching or turning the switch [s]."""
LONGEST_CHIRP = 2.0


@dataclass(frozen=True)
class Display:
    """Values [V or ohm] before the meter's error at each update, infinite on overload, the range each stood
    on, and how long a beeper sounds [s]."""

    values: list[float]
    ranges: list[int]
    beep: float


def scales_of(meter: Meter, mode: str) -> Sequence[Range]:
    """The ranges of ohms, continuity and diode test."""
    if mode == "diode":
        assert meter.diode is not None
        d = meter.diode
        return (Range(d.overload, d.resolution, d.accuracy, d.source),)
    if mode == "continuity":
        assert meter.continuity is not None
        return (meter.continuity.range,)
    assert meter.ohms is not None
    return meter.ohms.ranges


def watch(elements: Sequence[Element], red: str, black: str, meter: Meter, mode: str, leads: float,
          updates: int, celsius: float = 25.0) -> Display:
    """The display at its first `updates` updates, at a temperature."""
    scales, step = scales_of(meter, mode), 1.0 / meter.updates_per_second
    shown: list[float] = []
    stood: list[int] = []
    at = lowest = hunts = 0
    fell, beep = False, -1.0
    now = list(elements)
    while len(shown) < updates:
        source = scales[at].source
        later = np.array([step * n for n in range(1, updates - len(shown))])
        pad, held = _stretch(now, red, black, source, leads, later, celsius)
        raws = [_raw(mode, source, leads, float(v)) for v in pad]
        if mode == "continuity":
            assert meter.continuity is not None
            beep = _sounds(now, red, black, source, leads, updates * step, meter.continuity.beeps_below,
                           celsius)
        turn = stop = 0
        edge = (0.5 if mode != "diode" else -0.5) * scales[at].resolution
        for k, raw in enumerate(raws):
            fits = abs(raw) < scales[at].full_scale + edge
            if not fits and at < len(scales) - 1:
                turn = 1
            elif at > lowest and abs(raw) <= 0.9 * scales[at - 1].full_scale:
                turn = -1
            if turn:
                stop = k
                break
            fell = False
            shown.append(raw if fits else math.inf)
            stood.append(at)
        if turn:
            hunts += turn > 0 and stop > 0
            if turn > 0 and (fell or (hunts > 2 and stop > 0)):
                lowest = at + 1
            fell = turn < 0
            at += turn
            now = [replace(e, volts=float(held[e.name][stop]) if e.name in held else 0.0)
                   if isinstance(e, Capacitance) else e for e in now]
    return Display(shown, stood, beep)


def _stretch(elements: Sequence[Element], red: str, black: str, source: Source, leads: float,
             times: Floats, celsius: float) -> tuple[Floats, dict[str, Floats]]:
    """Pad voltages and charges just after the touch and at times [s]: the first moment needs a run of its
    own, for a long one begins with a long step."""
    pad, held = charging(elements, red, black, source, leads, np.array([TOUCH, 10.0 * TOUCH]), 1, celsius)
    if not len(times):
        return pad[:1], {name: v[:1] for name, v in held.items()}
    later, then = charging(elements, red, black, source, leads, times, 1, celsius)
    return (np.concatenate([pad[:1], later]),
            {name: np.concatenate([v[:1], then[name]]) for name, v in held.items()})


def _raw(mode: str, source: Source, leads: float, pad: float) -> float:
    amps = min(source.current, (source.open_circuit - pad) / (source.resistance + leads))
    volts = pad + amps * leads
    if math.isnan(pad):
        raise EngineError("no transient")
    return volts if mode == "diode" else volts / amps if amps > 0.0 else math.inf


def _sounds(elements: Sequence[Element], red: str, black: str, source: Source, leads: float, longest: float,
            below: float, celsius: float) -> float:
    """How long the beeper sounds from the first touch on [s]; infinite for to the end."""
    times = np.geomspace(1e-6, longest, 400)
    pad, _ = charging(elements, red, black, source, leads, times, 1, celsius)
    quiet = [t for t, v in zip(times, pad, strict=True) if _raw("ohms", source, leads, float(v)) >= below]
    return math.inf if not quiet else 0.0 if quiet[0] <= 1e-6 else float(quiet[0])


def motion(display: Display, last: int) -> str:
    """The word for it, where it is plain: climbs, or nothing."""
    seen = display.values[:last]
    steps = list(pairwise(seen))
    up = sum(b > 1.05 * a + 1e-3 for a, b in steps if math.isfinite(a))
    down = sum(b < a - 1e-3 - 0.002 * abs(a) for a, b in steps if math.isfinite(b))
    return "climbs" if up >= 3 and not down else ""


def sound(beep: float) -> str:
    """The word for a beeper."""
    if math.isinf(beep):
        return "beep"
    return "chirp" if 0.01 <= beep <= LONGEST_CHIRP - 0.2 else "silent" if beep < 0.001 else ""
