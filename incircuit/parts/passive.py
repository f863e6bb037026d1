"""Resistive and capacitive parts, contacts, and parts without any path for direct current."""

from __future__ import annotations

from incircuit.parts.elements import Capacitance, Element, Resistance, Spread
from incircuit.parts.sheet import (
    Sheet,
    given,
    hint,
    number,
    option_ohms,
    relative,
    resistance,
    tolerance,
    two_pins,
    value,
)


def _ends(sheet: Sheet) -> tuple[str, str]:
    first, second = two_pins(sheet)
    return sheet.node(first), sheet.node(second)


def _tol(sheet: Sheet) -> float:
    typed = tolerance(sheet)
    return sheet.data().number("tol") if typed is None else typed


def resistor(sheet: Sheet) -> tuple[Element, ...]:
    """Resistor or shunt: one resistance with its tolerance; 0R is a link."""
    a, b = _ends(sheet)
    return (resistance(sheet, "resistance", a, b, value(sheet, "ohms"), relative(sheet, _tol(sheet))),)


def thermistor(sheet: Sheet) -> tuple[Element, ...]:
    """Thermistor: its value at 25 °C; an NTC follows B, a PTC is flat below its switching point."""
    a, b = _ends(sheet)
    beta = number(sheet, "b", sheet.data().number("b")) if sheet.word() == "ntc" else 0.0
    return (resistance(sheet, "resistance", a, b, value(sheet, "ohms"), relative(sheet, _tol(sheet)),
                       ntc_beta=beta),)


def varistor(sheet: Sheet) -> tuple[Element, ...]:
    """Varistor: open at meter volts, which are far below its own, but for a typed leakage."""
    a, b = _ends(sheet)
    value(sheet, "volts")
    if not given(sheet, "leak"):
        return ()
    ohms = number(sheet, "leak", 0.0)
    return (resistance(sheet, "leak", a, b, ohms, relative(sheet, sheet.data().number("leak_tol"))),)


def potentiometer(sheet: Sheet) -> tuple[Element, ...]:
    """Potentiometer: two resistances that share the track at the wiper; either may be zero.

    Where ``at=`` is not typed the wiper may stand anywhere: what one side gains the other loses, so
    the two share one variate with opposite signs and the track keeps its value.
    """
    one, wiper, three = (sheet.node(pin) for pin in ("1", "W", "3"))
    track, tol, data = value(sheet, "ohms"), _tol(sheet), sheet.data()
    at = number(sheet, "at", data.number("at"))
    sides = (("1-W", one, wiper, at), ("W-3", wiper, three, 1.0 - at))
    if given(sheet, "at"):
        vary = relative(sheet, tol, package=True, match=0.0)
        return tuple(resistance(sheet, what, a, b, track * share, vary) for what, a, b, share in sides)
    reach, group = data.number("at_unknown"), sheet.inner("wiper")
    return tuple(resistance(sheet, what, a, b, track * share, Spread(tol, sign * reach, group))
                 for (what, a, b, share), sign in zip(sides, (1.0, -1.0), strict=True))


def capacitor(sheet: Sheet) -> tuple[Element, ...]:
    """Capacitor: a capacitance with esr, and a leakage where typed or the class has one (R = τ/C)."""
    a, b = _ends(sheet)
    data, farads = sheet.data(), value(sheet, "farads")
    esr, tol = data.number("esr_seconds") / farads if farads else 0.0, data.number("esr_tol")
    if given(sheet, "esr"):
        esr, tol = option_ohms(sheet, "esr", esr, tol)
    found: list[Element] = [Capacitance(
        sheet.name("capacitance"), sheet.ref, a, b, farads, esr, sheet.charge,
        relative(sheet, _tol(sheet), "farads"), relative(sheet, tol, "esr"))]
    seconds = data.number("leak_seconds")
    ohms = number(sheet, "leak", seconds / farads if farads else float("inf"))
    if ohms != float("inf"):
        found.append(resistance(sheet, "leak", a, b, ohms, relative(sheet, data.number("leak_tol"), "leak")))
    return tuple(found)


def contact(sheet: Sheet) -> tuple[Element, ...]:
    """Fuse, jumper, link or switch: a small resistance when whole or closed, nothing when open."""
    a, b = _ends(sheet)
    data = sheet.data()
    ohms, tol = option_ohms(sheet, "r", data.number("r"), data.number("tol"))  # noted even when open
    if sheet.word() in ("open", "blown"):
        return ()
    return (Resistance(sheet.name("contact"), sheet.ref, a, b, ohms, relative(sheet, tol)),)


def nothing(sheet: Sheet) -> tuple[Element, ...]:
    """Connector, crystal or spark gap: no path for direct current between its pins."""
    for pin in sheet.part.pin_names:
        sheet.node(pin)
    return ()


def pins_named(sheet: Sheet, key: str) -> tuple[str, ...]:
    """Pins listed by an option (``supply=VCC,VDD``); notes a fault for a pin the part lacks."""
    text = sheet.part.option(key)
    if not text:
        return ()
    known = sheet.part.pin_names
    pins = tuple(dict.fromkeys(text.split(",")))
    for pin in pins:
        if pin not in known:
            sheet.complain(f"{key}={pin} is not a pin of it", f"{key}=", hint(pin, known))
    return tuple(pin for pin in pins if pin in known)
