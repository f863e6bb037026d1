"""Which pin of a component is which: by the names its library gives them, or by the letters of its part."""

from __future__ import annotations

import re
from collections.abc import Mapping

from incircuit.netlists.component import Component
from incircuit.netlists.names import pin_names

Pins = tuple[tuple[str, str], ...]
Roles = Mapping[str, frozenset[str]]


def _roles(**names: str) -> Roles:
    return {role: frozenset(text.split()) for role, text in names.items()}


DIODE = _roles(A="A ANODE", K="K C CATHODE KATHODE")
BIPOLAR = _roles(B="B BASE", C="C COLLECTOR", E="E EMITTER")
MOS = _roles(G="G GATE", D="D DRAIN", S="S SOURCE")
IGBT = _roles(G="G GATE", C="C COLLECTOR", E="E EMITTER")
THYRISTOR = _roles(A="A ANODE", K="K C CATHODE", G="G GATE")
TRIAC = _roles(MT1="MT1 A1 T1", MT2="MT2 A2 T2", G="G GATE")
OPTO = _roles(A="A ANODE", K="K C1 CATHODE", C="C COLLECTOR", E="E EMITTER")
REGULATOR = _roles(IN="IN VI VIN INPUT", OUT="OUT VO VOUT OUTPUT", GND="GND ADJ COM COMMON GND/ADJ ADJ/GND")
REFERENCE = _roles(A="A ANODE", K="K C CATHODE", REF="REF R ADJ")
RELAY = _roles(A1="A1 COIL1", A2="A2 COIL2")
CONTACTS = _roles(COM="11 COM C", NC="12 NC", NO="14 NO")
MAINS_BRIDGE: Roles = {"+": frozenset({"+", "V+", "DC+"}), "-": frozenset({"-", "V-", "DC-"})}


def by_name(c: Component, roles: Roles, rest: bool = False) -> Pins | None:
    """(role, net) for every role, by the names of the pins; None where one is missing or is on two nets.

    `rest`: pins of other names do not matter (a tab, a second source pin).
    """
    found: dict[str, str] = {}
    for number, name, net in c.pins:
        word = (name or number).strip().upper()
        role = next((role for role, names in roles.items() if word in names), None)
        if role is None and not rest:
            return None
        if role is not None and found.setdefault(role, net) != net:
            return None
    return tuple((role, found[role]) for role in roles) if set(found) == set(roles) else None


def by_letters(c: Component, letters: str) -> Pins | None:
    """By the letters at the end of a library part: pin 1 of ``NPN_BCE`` is B. A fourth pin is the tab."""
    match = re.search(r"[_-]([A-Z]{3})$", c.part.upper())
    if not match or set(match[1]) != set(letters):
        return None
    nets = {number: net for number, _, net in c.pins}
    if not {"1", "2", "3"} <= set(nets):
        return None
    at = {letter: nets[str(k)] for k, letter in enumerate(match[1], start=1)}
    return tuple((letter, at[letter]) for letter in letters)


def by_number(c: Component, order: str) -> Pins | None:
    """Pins 1, 2, … as the roles of a text: ``K A``; None where there are others."""
    roles = order.split()
    nets = {number: net for number, _, net in c.pins}
    if set(nets) != {str(k) for k in range(1, len(roles) + 1)}:
        return None
    return tuple((role, nets[str(k)]) for k, role in enumerate(roles, start=1))


def two_nets(c: Component) -> Pins | None:
    """Pins 1 and 2 of a part of two pins, in the order of the netlist."""
    return (("1", c.pins[0][2]), ("2", c.pins[1][2])) if len(c.pins) == 2 else None


_SUPPLY = re.compile(r"[ADP]?(VCC|VDD|VBAT|VIO)[0-9]*|V\+|VS\+|VCC_.*")
_GROUND = re.compile(r"[ADP]?(GND|VSS|VEE)[0-9]*|V-|VS-|COM")


def supply_pins(pins: Pins) -> tuple[tuple[str, str], ...]:
    """Options of a chip that say which of its pins feed it, by their usual names; none unless both are."""
    fed = [pin for pin, _ in pins if _SUPPLY.fullmatch(pin.upper())]
    ground = [pin for pin, _ in pins if _GROUND.fullmatch(pin.upper())]
    return (("supply", ",".join(fed)), ("ground", ",".join(ground))) if fed and ground else ()


def own_pins(c: Component) -> Pins:
    """The pins by their own names, numbers where several have one name or none."""
    names = [name or number for number, name, _ in c.pins]
    twice = {name for name in names if names.count(name) > 1}
    texts = [f"{name}{c.pins[k][0]}" if name in twice else name for k, name in enumerate(names)]
    return tuple(zip(pin_names(texts), (net for _, _, net in c.pins), strict=True))
