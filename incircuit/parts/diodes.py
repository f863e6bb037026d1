"""Diodes alone and in packages, suppressors, LEDs, thyristors, triacs and trigger diodes."""

from __future__ import annotations

from dataclasses import replace

from incircuit.parts.data import JunctionSet
from incircuit.parts.elements import Element, Junction
from incircuit.parts.junctions import junction, junction_parameters
from incircuit.parts.sheet import Sheet, given, number, option_ohms, relative, resistance, value


def _set(sheet: Sheet) -> JunctionSet:
    return junction_parameters(sheet, sheet.data().text("junction"))


def _package(sheet: Sheet, pairs: tuple[tuple[str, str], ...]) -> tuple[Junction, ...]:
    """Junctions from pin to pin in one package."""
    data = _set(sheet)
    return tuple(junction(sheet, f"{a}-{k}", sheet.node(a), sheet.node(k), data, package=True)
                 for a, k in pairs)


def diode(sheet: Sheet) -> tuple[Element, ...]:
    """Diode or LED: one junction A→K."""
    return (junction(sheet, "junction", sheet.node("A"), sheet.node("K"), _set(sheet)),)


def dual_diode(sheet: Sheet) -> tuple[Element, ...]:
    """Two junctions in one package: common cathode, common anode, or in series with the middle out."""
    pairs = {"common-cathode": (("A1", "K"), ("A2", "K")),
             "common-anode": (("A", "K1"), ("A", "K2")),
             "series": (("A", "M"), ("M", "K"))}
    return _package(sheet, pairs[sheet.word(1)])


def bridge(sheet: Sheet) -> tuple[Element, ...]:
    """Bridge of two or three phases: − to each AC pin, each AC pin to +."""
    phases = tuple(pin for pin in ("AC1", "AC2", "AC3") if pin in sheet.spec.pins)
    return _package(sheet, tuple((ac, "+") for ac in phases) + tuple(("-", ac) for ac in phases))


def _suppressor_set(sheet: Sheet) -> JunctionSet:
    """The set of a zener or suppressor, its breakdown from the value, ``vz=`` or ``bv=``."""
    data = _set(sheet)
    if given(sheet, "bv"):
        return data
    if given(sheet, "vz"):
        return replace(data, bv=number(sheet, "vz", 1.0))
    volts = value(sheet, "volts")
    if volts <= 0.0:
        sheet.complain("the breakdown voltage must be above zero", sheet.ref)
    return replace(data, bv=volts if volts > 0.0 else 1.0)


def zener(sheet: Sheet) -> tuple[Element, ...]:
    """Zener: a junction that breaks down at its voltage with the test current `ibv`.

    Its law is SPICE's, a sharp knee; real parts below about 5 V turn on softly and read less in
    reverse than this says (from memory).
    """
    return (junction(sheet, "junction", sheet.node("A"), sheet.node("K"), _suppressor_set(sheet)),)


def tvs(sheet: Sheet) -> tuple[Element, ...]:
    """Suppressor: as a zener; bidirectional, two such back to back."""
    data, a, k = _suppressor_set(sheet), sheet.node("A"), sheet.node("K")
    if sheet.word() != "bidirectional":
        return (junction(sheet, "junction", a, k, data),)
    middle = sheet.inner("mid")
    return (junction(sheet, "A-mid", a, middle, data, package=True),
            junction(sheet, "K-mid", k, middle, data, package=True))


def thyristor(sheet: Sheet) -> tuple[Element, ...]:
    """Thyristor: gate junction with the shorted-emitter resistance across it; A–K and A–G block.

    Anode and gate region face each other over the n base: A→base and G→base in series block either
    way. Latching is left out: a meter's current is below the holding current of power parts (some
    mA and more), and without it a reading has one answer. A sensitive-gate part may latch on the
    diode range and then reads about 0.7 V A to K: this model does not show it.
    """
    a, k, g = (sheet.node(pin) for pin in ("A", "K", "G"))
    data, base = sheet.data(), sheet.inner("base")
    inner = junction_parameters(sheet, data.text("anode"))
    ohms, tol = option_ohms(sheet, "rgk", data.number("rgk"), data.number("rgk_tol"))
    return (
        junction(sheet, "G-K", g, k, _set(sheet)),
        resistance(sheet, "gate resistance", g, k, ohms, relative(sheet, tol)),
        junction(sheet, "A-base", a, base, inner, package=True, label="base"),
        junction(sheet, "G-base", g, base, inner, package=True, label="base"),
    )


def triac(sheet: Sheet) -> tuple[Element, ...]:
    """Triac: a low resistance G–MT1 either way; MT2 is open to both at meter current."""
    sheet.node("MT2")
    data = sheet.data()
    ohms, tol = option_ohms(sheet, "rgk", data.number("rgk"), data.number("rgk_tol"))
    return (resistance(sheet, "gate resistance", sheet.node("G"), sheet.node("MT1"), ohms,
                       relative(sheet, tol)),)


def diac(sheet: Sheet) -> tuple[Element, ...]:
    """Trigger diode: blocks either way below its breakover voltage, as two junctions back to back.

    A meter on a range of ohms or diodes stays far below it. Above it the real part falls back by some volts,
    which is left out: what is powered beyond breakover is not predicted right.
    """
    data = _set(sheet)
    data = replace(data, bv=data.bv if sheet.part.value is None else value(sheet, "volts"))
    one, two, base = sheet.node("1"), sheet.node("2"), sheet.inner("base")
    return (junction(sheet, "base-1", base, one, data, package=True, label="base"),
            junction(sheet, "base-2", base, two, data, package=True, label="base"))
