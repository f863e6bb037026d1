"""Integrated circuits: what their pins show to a meter, the rest being unknown."""

from __future__ import annotations

from incircuit.parts.elements import Element
from incircuit.parts.junctions import junction, junction_parameters
from incircuit.parts.passive import pins_named
from incircuit.parts.sheet import Sheet, is_none, option_ohms, relative, resistance


def chip(sheet: Sheet) -> tuple[Element, ...]:
    """Any integrated circuit.

    Clamp junctions ground→pin and pin→supply at every other pin (not with ``clamps=none``), to the
    first supply and ground listed; a substrate junction from the first ground to every supply, and
    either way between grounds; ``load=`` from first supply to first ground. Without ``supply=`` and
    ``ground=`` nothing is known and nothing is there.
    """
    grounds, supplies = pins_named(sheet, "ground"), pins_named(sheet, "supply")
    data = sheet.data()
    clamp = junction_parameters(sheet, data.text("clamp"))
    substrate = junction_parameters(sheet, data.text("substrate"))
    found: list[Element] = []

    def join(what: str, a: str, k: str) -> None:
        chosen = substrate if what == "substrate" else clamp
        found.append(junction(sheet, f"{a}-{k} {what}", sheet.node(a), sheet.node(k), chosen, True, what))

    for supply in supplies if grounds else ():
        join("substrate", grounds[0], supply)
    for ground in grounds[1:]:
        join("substrate", grounds[0], ground)
        join("substrate", ground, grounds[0])
    if not is_none(sheet, "clamps"):
        for pin in sheet.part.pin_names:
            if pin in grounds or pin in supplies:
                continue
            if grounds:
                join("clamp", grounds[0], pin)
            if supplies:
                join("clamp", pin, supplies[0])
    load = sheet.part.option("load") is not None
    ohms, tol = option_ohms(sheet, "load", 0.0, data.number("load_tol"))
    if load and grounds and supplies:
        found.append(resistance(sheet, "load", sheet.node(supplies[0]), sheet.node(grounds[0]), ohms,
                                relative(sheet, tol)))
    elif load:
        sheet.complain("load= needs supply= and ground=", "load=", "name the two pins")
    return tuple(found)


def shunt_regulator(sheet: Sheet) -> tuple[Element, ...]:
    """Three-pin shunt reference, as a meter sees it below its reference voltage (from memory).

    A→K the substrate; A→REF the clamp of the input; REF→K base–collector of the input transistor.
    K to A stays open: it would draw only from about 2 V on, where a diode test reads over.
    """
    data = junction_parameters(sheet, sheet.data().text("junction"))
    pairs = (("A", "K"), ("A", "REF"), ("REF", "K"))
    return tuple(junction(sheet, f"{a}-{k}", sheet.node(a), sheet.node(k), data, True) for a, k in pairs)


def linear_regulator(sheet: Sheet) -> tuple[Element, ...]:
    """Linear regulator (from memory): OUT→IN through the pass transistor, GND→IN and GND→OUT through
    the substrate, and the divider from OUT to GND. What it draws from IN to GND is left out."""
    row = sheet.data()
    data = junction_parameters(sheet, row.text("junction"))
    ohms, tol = option_ohms(sheet, "r", row.number("r"), row.number("r_tol"))
    pairs = (("OUT", "IN"), ("GND", "IN"), ("GND", "OUT"))
    return (
        *(junction(sheet, f"{a}-{k}", sheet.node(a), sheet.node(k), data, True) for a, k in pairs),
        resistance(sheet, "divider", sheet.node("OUT"), sheet.node("GND"), ohms, relative(sheet, tol)),
    )
