"""What a meter puts out, from a second meter's figures and from resistors read on the diode test."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from incircuit.errors import MeterError
from incircuit.meter.fit import Figure, Prior, Row, contradiction, fit, rectangular
from incircuit.meter.known import Known, Second
from incircuit.meter.profile import KNEE, DiodeMode, OhmsMode, Range, Source
from incircuit.units import format_value, shown

LEAST_TEST, MOST_TEST = 10e-6, 50e-3
"""[A] No diode test lies outside; hand-held ones have 0.5 to 1.5 mA (from memory)."""
FREE_LOG = 20.0
"""Standard uncertainty of the logarithm of a current nothing is known about."""


def diode_current(mode: DiodeMode, leads: Figure, known: Sequence[Known], second: Second | None) -> Figure:
    """Test current [A] of a constant-current diode test; `leads` [Ω] lie in series with each resistor.

    Least squares over the logarithms of the second meter's milliamps and of volts per ohm; the
    display's accuracy is common to all resistors. Raises MeterError where they contradict each other.
    """
    rows = [_resistor_row(mode, leads, k) for k in known]
    if second is not None:
        size = abs(second.value)
        rows.append(Row({"log": 1.0}, math.log(size), rectangular(second.half / size), second.text))
    priors = {"log": Prior(0.0, FREE_LOG), "gain": Prior(0.0, rectangular(mode.accuracy.percent / 100.0)),
              "zero": Prior(0.0, rectangular(mode.accuracy.digits * mode.resolution))}
    if wrong := contradiction(rows, priors):
        row, due = wrong
        told = format_value(math.exp(row.value), "A"), format_value(math.exp(due.value), "A")
        raise MeterError(f'"{shown(row.text)}" means {told[0]}, the others leave {told[1]} '
                         f"± {100 * due.expanded:.1f} %: the test current is not constant, or something was "
                         "misread; read it again, and check the resistors")
    log = fit(rows, priors).figure(log=1.0)
    current = math.exp(log.value)
    if not LEAST_TEST <= current <= MOST_TEST:
        limits = f"{format_value(LEAST_TEST, 'A', 2)} to {format_value(MOST_TEST, 'A', 2)}"
        raise MeterError(f"a diode test of {format_value(current, 'A')}: expected {limits}; check the units")
    return Figure(current, current * log.expanded)


def measured_diode(mode: DiodeMode, leads: Figure, known: Sequence[Known], current: Second | None,
                   volts: Second | None) -> tuple[DiodeMode, Figure | None]:
    """The diode test with what was measured, and its test current [A] where that was.

    A test current that is uncertain by so many percent moves what a resistor shows by as many, and a
    junction by less, so it is added to the accuracy in squares. Raises MeterError.
    """
    source = with_volts(mode.source, volts)
    for k in known:
        if k.shown >= min(source.open_circuit, mode.overload):
            end = format_value(min(source.open_circuit, mode.overload), "V")
            raise MeterError(f'"{shown(k.text)}" is more than the {end} the diode test can show: take '
                             "a smaller resistor, or say what its open-circuit voltage is")
    if math.isinf(source.current) and known:
        raise MeterError(f'"{shown(known[0].text)}": the base\'s diode test is a voltage behind a '
                         "resistance; give its current with the leads on a second meter instead")
    signs = {math.copysign(1.0, s.value) for s in (current, volts) if s is not None}
    if len(signs) > 1:
        raise MeterError("the diode test's current and voltage differ in sign: red to red, black to black")
    found = None
    if math.isinf(source.current):
        source = with_current(source, current)
    elif known or current:
        found = diode_current(mode, leads, known, current)
        source = _constant(source, found.value, source.open_circuit)
    accuracy = mode.accuracy
    if found is not None:
        percent = math.hypot(accuracy.percent, 100.0 * found.expanded / found.value)
        accuracy = replace(accuracy, percent=float(f"{percent:.3g}"))
    red = -1 if -1.0 in signs else mode.red
    return DiodeMode(source, min(mode.overload, source.open_circuit), mode.resolution, accuracy, red), found


def measured_sources(mode: OhmsMode, currents: Mapping[float, Second],
                     volts: Mapping[float | None, Second]) -> tuple[Range, ...]:
    """Ranges of ohms with test currents by full scale [Ω], open-circuit volts by full scale or for all.

    Volts under None are for all ranges. Raises MeterError for a full scale the base does not have, and
    for a current that cannot reach it.
    """
    for scale in (*currents, *(s for s in volts if s is not None)):
        if not any(is_scale(scale, r) for r in mode.ranges):
            there = ", ".join(f"{r.full_scale:g}" for r in mode.ranges)
            raise MeterError(f"no range of {format_value(scale, 'Ω')} in the base: expected the full "
                             f"scale of one, in ohms: {there}")
    return tuple(_measured(r, _of(currents, r), _of(volts, r) or volts.get(None)) for r in mode.ranges)


def red_of(mode: OhmsMode, figures: Sequence[Second]) -> int:
    """+1, or −1 where the second meter says that red is minus. Raises MeterError where it says both."""
    signs = {1 if s.value > 0 else -1 for s in figures}
    if len(signs) > 1:
        raise MeterError("the ohms figures of the second meter differ in sign: red to red, black to black")
    return signs.pop() if -1 in signs else mode.red


def with_volts(source: Source, volts: Second | None) -> Source:
    """The source with another open-circuit voltage."""
    if volts is None:
        return source
    if math.isinf(source.current):
        return replace(source, open_circuit=abs(volts.value))
    return _constant(source, source.current, abs(volts.value))


def with_current(source: Source, current: Second | None) -> Source:
    """The source with another test current; of a voltage behind a resistance, that into a short circuit."""
    if current is None:
        return source
    if math.isinf(source.current):
        return replace(source, resistance=source.open_circuit / abs(current.value))
    return _constant(source, abs(current.value), source.open_circuit)


def _constant(source: Source, current: float, volts: float) -> Source:
    """A constant current; its knee is scaled with it."""
    current, volts = float(f"{current:.4g}"), float(f"{volts:.4g}")
    knee = source.resistance * source.current / source.open_circuit
    if math.isclose(knee, KNEE, rel_tol=1e-9):
        return Source(current, volts, KNEE * volts / current)
    return Source(current, volts, knee * volts / current)


def _measured(r: Range, current: Second | None, volts: Second | None) -> Range:
    source = with_current(with_volts(r.source, volts), current)
    needed = 0.0 if math.isinf(source.current) else source.current * r.full_scale
    if (current or volts) and needed > 1.05 * source.open_circuit:
        amps, ohms = format_value(source.current, "A"), format_value(r.full_scale, "Ω")
        least, there = format_value(needed, "V"), format_value(source.open_circuit, "V")
        raise MeterError(f"{amps} into the full scale of {ohms} needs {least}, but the range has {there} "
                         "open-circuit: measure both on it")
    return replace(r, source=source)


def _of(figures: Mapping[float, Second] | Mapping[float | None, Second], r: Range) -> Second | None:
    return next((f for s, f in figures.items() if s is not None and is_scale(s, r)), None)


def is_scale(scale: float, r: Range) -> bool:
    """Whether a range is the one of this full scale [Ω]."""
    return math.isclose(scale, r.full_scale, rel_tol=1e-6)


def _resistor_row(mode: DiodeMode, leads: Figure, known: Known) -> Row:
    ohms = known.ohms + leads.value
    if known.shown <= 0.0:
        raise MeterError(f'"{shown(known.text)}": no volts tell no current, take a larger resistor')
    sigma = rectangular(known.tolerance, 0.5 * max(mode.resolution, known.step) / known.shown)
    spread = math.hypot(sigma, 0.5 * leads.expanded / ohms)
    terms = {"log": 1.0, "gain": 1.0, "zero": 1.0 / known.shown}
    return Row(terms, math.log(known.shown / ohms), spread, known.text)
