"""Parts with windings: what direct current meets is the resistance of the wire."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from itertools import pairwise

from incircuit.parts.data import row
from incircuit.parts.elements import Coil, Element, Resistance, Spread
from incircuit.parts.sheet import Sheet, given, hint, number, option_ohms, relative, resistance, two_pins

_TAP = re.compile(r"(.*?)([0-9]+)", re.ASCII)


def windings_of(pins: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    """Windings by name: pins that share the name before their number, in the order of the numbers.

    A pin that is alone with its name (a screen) is no winding.

    >>> windings_of(("P1", "P2", "S1", "S2", "S3", "SCREEN"))
    {'P': ('P1', 'P2'), 'S': ('S1', 'S2', 'S3')}
    """
    found: dict[str, list[tuple[int, str]]] = {}
    for pin in pins:
        match = _TAP.fullmatch(pin)
        if match:
            found.setdefault(match[1], []).append((int(match[2]), pin))
    return {name: tuple(pin for _, pin in sorted(taps)) for name, taps in found.items() if len(taps) > 1}


def _winding(sheet: Sheet, key: str, what: str, a: str, b: str, share: float = 1.0,
             package: bool = False, turns: float = 1.0) -> Element:
    """One winding or a section of one, `share` of its resistance and turns; copper where not typed. `turns`
    are those of the whole winding as a part of the first one's."""
    data = sheet.data()
    ohms, tol = option_ohms(sheet, key, data.number("dcr"), data.number("tol"))
    match = data.number("match") if "match" in data.table else None
    henries, off = data.number("henries"), data.number("henries_unknown")
    if sheet.part.value and sheet.spec.unit == "H":
        henries, off = sheet.part.value, data.number("henries_tol")
    henries *= (turns * share) ** 2
    tempco = 0.0 if given(sheet, key) else row("classes", "copper").number("tempco")
    vary = relative(sheet, tol, match=match, package=package)
    return resistance(sheet, what, a, b, ohms * share, vary, henries, tempco=tempco, coil=_coil(sheet, off))


def _coil(sheet: Sheet, off: float) -> Coil:
    """Core, leakage and spread of every winding of the part."""
    data = sheet.data()
    leakage, times = data.number("leakage"), data.number("leakage_times")
    if given(sheet, "k"):
        k = number(sheet, "k", 1.0 - leakage)
        if k >= 1.0:
            sheet.complain(f"k={k:g} is no coupling", "k=", "below 1: 0.99 where a percent of the flux leaks")
            k = 1.0 - leakage
        leakage, times = 1.0 - k, row("classes", "transformer", "all").number("typed_k_times")
    return Coil(sheet.ref, leakage, math.log(times), Spread(shared=off, group=f"{sheet.ref} henries"))


def inductor(sheet: Sheet) -> tuple[Element, ...]:
    """Coil: one winding."""
    first, second = two_pins(sheet)
    return (_winding(sheet, "dcr", "winding", sheet.node(first), sheet.node(second)),)


def _dcr_key(sheet: Sheet, winding: str) -> str:
    return f"dcr.{winding}" if given(sheet, f"dcr.{winding}") else "dcr"


def _check_dcr(sheet: Sheet, windings: tuple[str, ...]) -> None:
    """Note a fault for ``dcr.X`` or ``turns.X`` where there is no winding X."""
    for key, _ in sheet.part.options:
        what, _, name = key.partition(".")
        if what in ("dcr", "turns") and name and name not in windings:
            sheet.complain(f"{key}= names no winding of it", f"{key}=", hint(name, windings))
    if given(sheet, "dcr"):  # read once even where every winding has its own
        number(sheet, "dcr", 0.0)


def choke(sheet: Sheet) -> tuple[Element, ...]:
    """Choke of two windings A and B, insulated from each other, alike within one part."""
    _check_dcr(sheet, ("A", "B"))
    return tuple(_winding(sheet, _dcr_key(sheet, w), f"{w}1-{w}2", sheet.node(f"{w}1"), sheet.node(f"{w}2"),
                          package=True) for w in ("A", "B"))


def transformer(sheet: Sheet) -> tuple[Element, ...]:
    """Windings insulated from each other; a tapped one shares its resistance equally over its sections."""
    windings = windings_of(sheet.part.pin_names)
    if not windings:
        sheet.complain("no winding: two pins must share a name before their number", sheet.ref,
                       "name them P1 P2, S1 S2")
    _check_dcr(sheet, tuple(windings))
    found: list[Element] = []
    turns = _turns(sheet, tuple(windings))
    for name, taps in windings.items():
        key = _dcr_key(sheet, name)
        for a, b in pairwise(taps):
            found.append(_winding(sheet, key, f"{a}-{b}", sheet.node(a), sheet.node(b),
                                  1.0 / (len(taps) - 1), turns=turns[name]))
    return tuple(found)


def _turns(sheet: Sheet, windings: tuple[str, ...]) -> dict[str, float]:
    """Turns of each winding as a part of the first one's; as many where none are typed."""
    typed = {name: number(sheet, f"turns.{name}", 1.0) for name in windings if given(sheet, f"turns.{name}")}
    first = typed.get(windings[0], 1.0) if windings else 1.0
    return {name: typed.get(name, first) / first for name in windings}


def relay(sheet: Sheet) -> tuple[Element, ...]:
    """Relay at rest: the coil, and COM–NC closed; COM–NO open."""
    found = [_winding(sheet, "dcr", "coil", sheet.node("A1"), sheet.node("A2"))]
    data = sheet.data()
    ohms, tol = option_ohms(sheet, "r", data.number("contact"), data.number("contact_tol"))
    if sheet.has("COM") and sheet.has("NC"):
        found.append(resistance(sheet, "contact", sheet.node("COM"), sheet.node("NC"), ohms,
                                relative(sheet, tol, "contact")))
    return tuple(found)


def motor_winding(sheet: Sheet) -> tuple[Element, ...]:
    """Three phases in star (to a node inside) or delta, alike within a few percent; or one winding."""
    if not (sheet.has("U") or sheet.has("V") or sheet.has("W")):
        return inductor(sheet)
    nodes = {pin: sheet.node(pin) for pin in ("U", "V", "W")}
    if sheet.word() == "delta":
        sides = tuple((f"{a}-{b}", nodes[a], nodes[b]) for a, b in ("UV", "VW", "WU"))
    else:
        sides = tuple((pin, node, sheet.inner("star")) for pin, node in nodes.items())
    return tuple(_turned(_winding(sheet, "dcr", what, a, b, package=True)) for what, a, b in sides)


def _turned(winding: Element) -> Element:
    """One of three phases about a rotor, their axes 120° apart: what they share is −1/2 of their own (P. C.
    Krause, Analysis of Electric Machinery, from memory). What a cage in the rotor takes is not known."""
    assert isinstance(winding, Resistance)
    return replace(winding, coil=winding.coil and replace(winding.coil, cosine=-0.5))
