"""IGBTs and modules of power switches."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.parts.data import JunctionSet, Row
from incircuit.parts.elements import Element
from incircuit.parts.junctions import junction, junction_parameters
from incircuit.parts.sheet import Sheet, is_none, relative, resistance
from incircuit.parts.transistors import channel


@dataclass(frozen=True, slots=True)
class _Switch:
    """What every switch of a part has in common. `diode` is None where the package has none."""

    row: Row
    collector: JunctionSet | None
    diode: JunctionSet | None
    package: bool


def _switch_data(sheet: Sheet, package: bool) -> _Switch:
    row = sheet.data()
    none = is_none(sheet, "freewheel") if sheet.spec.option("freewheel") else False
    if "body" in row.table:
        return _Switch(row, None, junction_parameters(sheet, row.text("body"), "body"), package)
    diode = junction_parameters(sheet, row.text("freewheel"), "freewheel")
    collector = junction_parameters(sheet, row.text("collector"), "collector")
    return _Switch(row, collector, None if none else diode, package)


def _switch(sheet: Sheet, label: str, c: str, g: str | None, e: str, data: _Switch) -> tuple[Element, ...]:
    """One switch between c and e, an IGBT or (no collector junction) an NMOS.

    An IGBT above its threshold is a MOS channel that feeds a PNP: the emitter junction of that PNP
    lies in series with the channel. Below threshold nothing flows. A gate that has no pin is taken
    at its emitter, where an uncharged one lies: its channel is left out.
    """
    found: list[Element] = []
    pre = f"{label} " if label else ""
    if data.diode is not None:
        what = "freewheel" if data.collector is not None else "body"
        found.append(junction(sheet, f"{pre}{what}", e, c, data.diode, data.package))
    if g is None:
        return tuple(found)
    if data.collector is None:
        return (*found, channel(sheet, f"{pre}channel", c, g, e, 1, data.row, ("vto", "vth"), data.package))
    mid = sheet.inner(f"{pre}mid")
    found.append(junction(sheet, f"{pre}collector", c, mid, data.collector, data.package, "collector"))
    return (*found, channel(sheet, f"{pre}channel", mid, g, e, 1, data.row, ("vth", "vto"), data.package))


def igbt(sheet: Sheet) -> tuple[Element, ...]:
    """IGBT: freewheel junction E→C unless ``freewheel=none``, path C→E above threshold."""
    return _switch(sheet, "", sheet.node("C"), sheet.node("G"), sheet.node("E"), _switch_data(sheet, False))


def _gate(sheet: Sheet, pin: str) -> str | None:
    return sheet.node(pin) if sheet.has(pin) else None


def half_bridge(sheet: Sheet) -> tuple[Element, ...]:
    """Two switches, + to OUT and OUT to −; EH is the upper emitter's own lead."""
    data = _switch_data(sheet, True)
    plus, out, minus = sheet.node("+"), sheet.node("OUT"), sheet.node("-")
    found = (*_switch(sheet, "high", plus, _gate(sheet, "GH"), out, data),
             *_switch(sheet, "low", out, _gate(sheet, "GL"), minus, data))
    if not sheet.has("EH"):
        return found
    vary = relative(sheet, data.row.number("sense_tol"), "sense")
    return (*found, resistance(sheet, "sense", out, sheet.node("EH"), data.row.number("sense"), vary))


def three_phase_inverter(sheet: Sheet) -> tuple[Element, ...]:
    """Six switches; with NU NV NW the lower emitters are open, else all go to −."""
    data = _switch_data(sheet, True)
    plus = sheet.node("+")
    found: list[Element] = []
    for phase in "UVW":
        out = sheet.node(phase)
        low = sheet.node(f"N{phase}") if sheet.has(f"N{phase}") else sheet.node("-")
        found += _switch(sheet, f"{phase}H", plus, _gate(sheet, f"G{phase}H"), out, data)
        found += _switch(sheet, f"{phase}L", out, _gate(sheet, f"G{phase}L"), low, data)
    return tuple(found)
