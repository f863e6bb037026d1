"""A meter measured on the bench: known resistors and a second meter's figures make a profile of it.

What the readings tell is put into the profile, what they leave uncertain goes into its accuracy, and
everything else is taken from a base profile. Pure functions.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from incircuit.errors import MeterError
from incircuit.meter.currents import is_scale, measured_diode, measured_sources, red_of
from incircuit.meter.fit import Figure
from incircuit.meter.known import Known, Second
from incircuit.meter.offsets import OhmsFound, RangeFound, ohms_found, widened
from incircuit.meter.profile import ContinuityMode, Meter, OhmsMode, read_meter
from incircuit.meter.writer import profile_text
from incircuit.units import format_value, shown

INPUT = 10e6
"""[Ω] What a second meter's volts put across the leads (from memory)."""
COARSE = 0.03
"""Above this expanded uncertainty of a gain (a fraction) better resistors are worth the trouble."""
LOADED = 0.9
"""Beyond this part of test current times `INPUT`, the volts are the second meter's own doing."""


@dataclass(frozen=True, slots=True)
class Looked:
    """What was measured.

    `ohms` and `diode` are known resistors as the meter shows them, the leads held together being
    one of 0 Ω; `diode_current` [A] and `diode_volts` [V] (open circuit) a second meter's figures,
    `currents` and `volts` the same on ohms, by full scale [Ω], volts for all ranges under None.
    """

    ohms: Sequence[Known] = ()
    diode: Sequence[Known] = ()
    diode_current: Second | None = None
    diode_volts: Second | None = None
    currents: Mapping[float, Second] = field(default_factory=dict)
    volts: Mapping[float | None, Second] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Measured:
    """The meter as measured, and what was found on the way, uncertainties with factor 2 (about 95 %).

    `leads` [Ω] None where nothing told, `ranges` empty where no resistor was read on ohms,
    `diode_current` [A], `notes` plain sentences on what to know before trusting it.
    """

    meter: Meter
    base: Meter
    leads: Figure | None
    ranges: tuple[RangeFound, ...]
    diode_current: Figure | None
    notes: tuple[str, ...]


def measured_meter(name: str, base: Meter, looked: Looked, trusted: bool = False) -> Measured:
    """A profile named `name` from what was measured, the rest as in `base`.

    `trusted`: the accuracy in `base` is known to be this meter's own, from its manual. Otherwise the
    readings alone say how far ohms can be off.
    Raises MeterError where the readings contradict each other, cannot be a meter's, or belong to a mode
    the base does not have.
    """
    _check_modes(base, looked)
    if not name.strip() or not name.isprintable():
        raise MeterError(f'"{shown(name)}" is no name for a meter: expected one line of text')
    found = ohms_found(base.ohms, base.lead_resistance, looked.ohms) if base.ohms and looked.ohms else None
    leads = found.leads if found else Figure(base.lead_resistance, 0.6)
    lead_ohms = max(0.0, float(f"{leads.value:.2g}")) if found else base.lead_resistance
    diode, current = base.diode, None
    if base.diode:
        diode, current = measured_diode(base.diode, leads, looked.diode, looked.diode_current,
                                        looked.diode_volts)
    ohms = _ohms(base.ohms, looked, found, lead_ohms, trusted) if base.ohms else None
    meter = Meter(name.strip(), f"measured; the rest as {base.name} ({base.source})", lead_ohms,
                  base.updates_per_second, diode, ohms, _continuity(base, ohms), "", base.farads, base.esr,
                  base.volts)
    read_meter(profile_text(meter).encode(), "as measured")  # refuses here what would not load later
    return Measured(meter, base, found.leads if found else None, found.ranges if found else (), current,
                    tuple(_notes(looked, found, meter, base)))


def _check_modes(base: Meter, looked: Looked) -> None:
    asked = {"diode": looked.diode or looked.diode_current or looked.diode_volts,
             "ohms": looked.ohms or looked.currents or looked.volts}
    if not any(asked.values()):
        raise MeterError('nothing was measured: read a known resistor or two, such as "10R 1%=10.3"')
    for mode, there in asked.items():
        if there and mode not in base.modes:
            raise MeterError(f"the base {base.name} has no {mode} mode, it has: {', '.join(base.modes)}; "
                             "name another base")


def _ohms(mode: OhmsMode, looked: Looked, found: OhmsFound | None, leads: float, trusted: bool) -> OhmsMode:
    volts = {scale: s for scale, s in looked.volts.items() if not _is_loaded(mode, scale, s)}
    ranges = measured_sources(mode, looked.currents, volts)
    if found is not None:
        ranges = tuple(replace(r, accuracy=widened(r, f, found.leads, leads, trusted))
                       for r, f in zip(ranges, found.ranges, strict=True))
    red = red_of(mode, (*looked.currents.values(), *looked.volts.values()))
    return replace(mode, ranges=ranges, red=red)


def _is_loaded(mode: OhmsMode, scale: float | None, volts: Second) -> bool:
    """Whether a voltage is no more than the test current makes in the second meter's own input."""
    r = mode.ranges[-1]
    if scale is not None:
        r = next((each for each in mode.ranges if is_scale(scale, each)), r)
    elif mode.manual:
        return False
    across = r.source.current * INPUT
    return LOADED * across <= abs(volts.value) <= 1.1 * across


def _continuity(base: Meter, ohms: OhmsMode | None) -> ContinuityMode | None:
    """Continuity stays on the range it used."""
    mode = base.continuity
    if mode is None or base.ohms is None or ohms is None or mode.range not in base.ohms.ranges:
        return mode
    return replace(mode, range=ohms.ranges[base.ohms.ranges.index(mode.range)],
                   red=ohms.red if mode.red == base.ohms.red else mode.red)


def _notes(looked: Looked, found: OhmsFound | None, meter: Meter, base: Meter) -> Iterator[str]:
    """What to know before trusting the profile."""
    if found and found.leads.value + found.leads.expanded < 0.0:
        yield (f"It reads {format_value(-found.leads.value, 'Ω', 2)} too little at zero ohms: if a zeroing "
               "function is on, take it off and read again.")
    if found and any(r.readings and r.gain and r.gain.expanded > COARSE for r in found.ranges):
        yield "These resistors say little about the accuracy; 1 % ones, of 100 Ω and more, say more."
    if found and any(r.gain and not r.readings for r in found.ranges):
        yield "Ranges on which no known resistor was read are taken to be as far off as the others."
    if found and not any(k.ohms <= 1e3 for k in looked.ohms):
        yield (f"The leads were not measured: hold the probes together and give what ohms shows. Taken about "
               f"{base.lead_resistance:g} Ω.")
    for scale, volts in looked.volts.items():
        if base.ohms and _is_loaded(base.ohms, scale, volts):
            yield (f'"{shown(volts.text)}" is what the test current makes in the second meter\'s own '
                   f"{format_value(INPUT, 'Ω', 2)}: not used. Hold a lower range and measure there.")
    if base.diode and meter.diode and meter.diode.overload < base.diode.overload:
        yield f"The diode test ends at its open-circuit {format_value(meter.diode.overload, 'V')}."
    if looked.currents:
        yield "Accuracy on ohms is that of the display; the test current moves only what junctions show."
