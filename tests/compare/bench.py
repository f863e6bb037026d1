"""A bench made up at random: a board with part spreads and one fault, and a meter, read by ngspice.

Nothing here uses the project's own solver, sampling or display: the spreads are drawn anew, uniform
within their limits, the operating point is ngspice's, and the display is worked out from the
profile's numbers.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.circuit.spice import operating_point
from incircuit.meter.profile import Meter, Range, Source
from incircuit.parts.elements import Channel, Coupling, Element, Junction, Resistance, Spread

BOLTZMANN_OVER_CHARGE = 1.380649e-23 / 1.602176634e-19  # [V/K], exact since 2019 (SI)


@dataclass(frozen=True)
class Driven:
    """The meter's source with the leads of this bench."""

    current: float
    open_circuit: float
    resistance: float
    lead_resistance: float
    sign: int


@dataclass(frozen=True)
class Read:
    """What the display showed: `value` [V or ohm], None on overload, `resolution` of its last digit."""

    value: float | None
    resolution: float


def drawn(elements: Sequence[Element], rng: random.Random) -> list[Element]:
    """The board with every part somewhere within its limits."""
    groups: dict[str, float] = {}

    def off(spread: Spread) -> float:
        shared = groups.setdefault(spread.group, rng.uniform(-1.0, 1.0)) if spread.shared else 0.0
        return spread.own * rng.uniform(-1.0, 1.0) + spread.shared * shared

    def shared(spread: Spread) -> Spread:
        return replace(spread, own=0.0)

    turned: dict[str, tuple[float, float]] = {}
    made: list[Element] = []
    for e in elements:
        if isinstance(e, Resistance):
            made.append(replace(e, ohms=e.ohms * max(1.0 + off(e.spread), 1e-3)))
        elif isinstance(e, Junction):  # the drop at 1 mA lies higher by dv, n is another
            vt, slope, common = BOLTZMANN_OVER_CHARGE * 298.15, 1.0 + off(e.n_spread), off(shared(e.spread))
            own = e.spread.own * rng.uniform(-1.0, 1.0)
            n = e.n * slope
            is_ = 1e-3 * math.exp((e.n * vt * math.log(e.is_ / 1e-3) - common - own) / (n * vt))
            turned[e.name] = slope, math.exp(own / (n * vt))
            made.append(replace(e, n=n, is_=is_))
        elif isinstance(e, Coupling):  # gain times the junction's current: one law for both of a transistor
            slope, own = turned[e.junction]
            made.append(replace(e, gain=e.gain ** (1.0 / slope) * own))
        elif isinstance(e, Channel):
            made.append(replace(e, vto=e.vto + e.sign * off(e.spread)))
        else:
            made.append(e)
    return made


def read(elements: Sequence[Element], red: str, black: str, meter: Meter, mode: str, swapped: bool,
         rng: random.Random) -> Read:
    """What a meter within its accuracy shows on this board."""
    sign = (-1 if swapped else 1) * getattr(meter, mode).red
    leads = meter.lead_resistance * rng.uniform(0.5, 1.5)
    error, celsius = rng.uniform(-1.0, 1.0), rng.uniform(20.0, 30.0)

    def terminal(source: Source) -> tuple[float, float]:
        driven = Driven(source.current, source.open_circuit, source.resistance, leads, sign)
        point = operating_point(elements, red, black, driven, celsius=celsius)
        return point.terminal_voltage, point.source_current

    if mode == "diode":
        diode = meter.diode
        assert diode is not None
        volts, _ = terminal(diode.source)
        width = diode.accuracy.percent / 100.0 * abs(volts) + diode.accuracy.digits * diode.resolution
        shown = round((volts + error * width) / diode.resolution) * diode.resolution
        return Read(None if shown >= diode.overload - 1e-9 else shown, diode.resolution)
    scales: tuple[Range, ...] = ()
    if mode == "ohms" and meter.ohms is not None:
        scales = meter.ohms.ranges
    elif meter.continuity is not None:
        scales = (meter.continuity.range,)
    for scale in scales:
        volts, amps = terminal(scale.source)
        if amps <= 0.0:
            continue
        ohms = volts / amps
        width = scale.accuracy.percent / 100.0 * ohms + scale.accuracy.digits * scale.resolution
        shown = round((ohms + error * width) / scale.resolution) * scale.resolution
        if shown <= scale.full_scale + 1e-9 * scale.resolution:
            return Read(max(shown, 0.0), scale.resolution)
    return Read(None, scales[-1].resolution)
