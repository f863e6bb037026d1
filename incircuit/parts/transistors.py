"""Bipolar and MOS transistors, transistors with resistors inside, optocouplers."""

from __future__ import annotations

from incircuit.parts.data import Row, bipolar_set
from incircuit.parts.elements import Channel, Element, Junction
from incircuit.parts.junctions import bipolar, bipolar_parameters, junction, junction_parameters
from incircuit.parts.sheet import Sheet, given, number, option_ohms, relative, resistance, spread


def _bce(sheet: Sheet) -> tuple[str, str, str]:
    return sheet.node("B"), sheet.node("C"), sheet.node("E")


def transistor(sheet: Sheet) -> tuple[Element, ...]:
    """NPN or PNP: two junctions and the transport current between collector and emitter."""
    data = bipolar_parameters(sheet, bipolar_set(sheet.data().text("bipolar")))
    return bipolar(sheet, "", 1 if sheet.spec.name == "npn" else -1, *_bce(sheet), data)


def darlington(sheet: Sheet) -> tuple[Element, ...]:
    """Two transistors, base–emitter resistors r1 (first) and r2 (second), a diode across C–E."""
    b, c, e = _bce(sheet)
    sign, row, inner = (1 if sheet.word() == "npn" else -1), sheet.data(), sheet.inner("inner")
    data = bipolar_parameters(sheet, bipolar_set(row.text("bipolar")))
    diode = junction_parameters(sheet, row.text("diode"), "diode")
    r1, tol1 = option_ohms(sheet, "r1", row.number("r1"), row.number("r_tol"))
    r2, tol2 = option_ohms(sheet, "r2", row.number("r2"), row.number("r_tol"))
    anode, cathode = (e, c) if sign > 0 else (c, e)
    return (
        *bipolar(sheet, "first", sign, b, c, inner, data),
        *bipolar(sheet, "second", sign, inner, c, e, data),
        resistance(sheet, "r1", b, inner, r1, relative(sheet, tol1, package=True)),
        resistance(sheet, "r2", inner, e, r2, relative(sheet, tol2, package=True)),
        junction(sheet, "diode", anode, cathode, diode, label="diode"),
    )


def bias_transistor(sheet: Sheet) -> tuple[Element, ...]:
    """Transistor with r1 from B to its base inside and r2 from there to E."""
    b, c, e = _bce(sheet)
    row, base = sheet.data(), sheet.inner("base")
    data = bipolar_parameters(sheet, bipolar_set(row.text("bipolar")))
    r1, tol1 = option_ohms(sheet, "r1", row.number("r1"), row.number("r_tol"))
    r2, tol2 = option_ohms(sheet, "r2", row.number("r2"), row.number("r_tol"))
    return (
        resistance(sheet, "r1", b, base, r1, relative(sheet, tol1, package=True)),
        resistance(sheet, "r2", base, e, r2, relative(sheet, tol2, package=True)),
        *bipolar(sheet, "", 1 if sheet.word() == "npn" else -1, base, c, e, data),
    )


def optocoupler(sheet: Sheet) -> tuple[Element, ...]:
    """LED A→K and an NPN C–E whose base may have no lead.

    A meter's 1 mA in the LED of one part does turn its own transistor on a little, but no meter
    reads both sides at once, so nothing couples them here.
    """
    row = sheet.data()
    led = junction_parameters(sheet, row.text("junction"), "led")
    data = bipolar_parameters(sheet, bipolar_set(row.text("bipolar")))
    base = sheet.node("B") if sheet.has("B") else sheet.inner("base")
    return (junction(sheet, "led", sheet.node("A"), sheet.node("K"), led, label="led"),
            *bipolar(sheet, "", 1, base, sheet.node("C"), sheet.node("E"), data))


def channel(sheet: Sheet, what: str, d: str, g: str, s: str, sign: int, row: Row,
            keys: tuple[str, ...] = ("vto",), package: bool = False) -> Channel:
    """A channel: threshold and transconductance from the class or as typed under one of `keys`.

    With ``vto=`` or ``kp=`` alone the other takes SPICE's default (0 V, 20 µA/V²), but for an IGBT,
    which SPICE does not know: there a typed ``kp=`` leaves the class's threshold.
    """
    spice = keys[0] == "vto" and given(sheet, "vto", "kp")
    key = next((key for key in keys if given(sheet, key)), keys[0])
    vto = number(sheet, key, 0.0 if spice else sign * row.number("vth" if "vth" in row.table else "vto"))
    kp = number(sheet, "kp", 2e-5 if spice else row.number("kp"))
    vary = spread(sheet, row.number("vto_spread"), row.number("vto_match"), "threshold", package)
    return Channel(sheet.name(what), sheet.ref, d, g, s, vto, kp, sign, sheet.charge, vary)


def body_junction(sheet: Sheet, what: str, d: str, s: str, sign: int, class_name: str,
                  package: bool = False) -> Junction:
    """Body junction of a MOS transistor: source to drain in an n channel part."""
    data = junction_parameters(sheet, class_name, "body")
    anode, cathode = (s, d) if sign > 0 else (d, s)
    return junction(sheet, what, anode, cathode, data, package)


def mos(sheet: Sheet) -> tuple[Element, ...]:
    """NMOS or PMOS: a channel with insulated gate and the body junction across it."""
    d, g, s = sheet.node("D"), sheet.node("G"), sheet.node("S")
    sign, row = (1 if sheet.spec.name == "nmos" else -1), sheet.data()
    return (channel(sheet, "channel", d, g, s, sign, row),
            body_junction(sheet, "body", d, s, sign, row.text("body")))
