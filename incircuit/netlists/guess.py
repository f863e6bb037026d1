"""What kind of part a component is: by its reference, value, library part and pins. Never more than a guess.

References are as IEEE 315 and common practice have them (practice, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from incircuit.board.faults import a_
from incircuit.board.model import Part
from incircuit.netlists import roles
from incircuit.netlists.component import Component, Numbers, numbers_of, volts_in
from incircuit.netlists.devices import Found
from incircuit.netlists.notes import Notes
from incircuit.netlists.roles import Pins, by_letters, by_name, by_number, two_nets
from incircuit.units import shown


@dataclass(frozen=True, slots=True)
class _Guess:
    kind: str
    pins: Pins | None
    why: str
    words: tuple[str, ...] = ()
    unit: str = ""
    needs: bool = False  # a value it cannot do without
    value: float | None = None


def guessed(c: Component, notes: Notes) -> Found:
    """The part of a component; what fits no rule is a chip with the pins it has."""
    guess = next((g for rule in _RULES if (g := rule(c)) is not None and g.pins is not None), None)
    names = tuple(dict.fromkeys(name for name in (c.value, c.part, f"{c.library}:{c.part}") if name))
    if guess is None or guess.pins is None:
        why = f"ref {c.prefix or c.ref}, library part {c.part or 'not told'}: no rule fits"
        if guess is None and c.prefix in ("U", "IC"):
            why = f"ref {c.prefix}, library part {c.part or 'not told'}"
        pins = roles.own_pins(c)
        options = roles.supply_pins(pins)
        why += f", fed by {options[0][1]} and {options[1][1]}" if options else ""
        return Found(Part(c.ref, "chip", pins, options=options), why, names, c.at)
    numbers = numbers_of(c.value, guess.unit) if guess.unit else Numbers()
    value = guess.value if guess.value is not None else numbers.value
    if guess.needs and value is None:
        notes.error(c.value_at, f'{shown(c.ref)}: "{shown(c.value)}" is no value of {a_(guess.kind)}: it '
                    "becomes a chip with no inside", f'say it: --as "{c.ref} {guess.kind} VALUE"')
        why = f"{guess.why}, but its value cannot be read"
        return Found(Part(c.ref, "chip", guess.pins), why, names, c.at)
    if numbers.remark:
        notes.warn(c.value_at, f"{shown(c.ref)}: {numbers.remark}")
    kind = guess.kind
    why = ", ".join(filter(None, (guess.why, f"value {c.value}" if value is not None else "")))
    if kind == "resistor" and value == 0.0:
        kind, value = "link", None
    rating = numbers.rating if kind == "capacitor" else None
    part = Part(c.ref, kind, guess.pins, value, numbers.tolerance, rating, guess.words)
    return Found(part, why, names, c.at)


_CONNECTORS = frozenset(("J", "P", "CN", "CON", "X", "XS", "XP", "BT", "BAT", "H", "MH"))
_WINDINGS: roles.Roles = {"P1": frozenset(("AA",)), "P2": frozenset(("AB",)), "S1": frozenset(("SA",)),
                          "S2": frozenset(("SB",))}


def _by(c: Component) -> str:
    return f"ref {c.prefix}, library part {c.part}" if c.part else f"ref {c.prefix}"


def _resistive(c: Component) -> _Guess | None:
    if c.prefix in ("RV", "VR", "POT", "RP") or (c.prefix == "R" and c.says("potentiometer", "trim")):
        pot = by_name(c, {"1": frozenset("1"), "W": frozenset(("W", "2")), "3": frozenset("3")})
        if pot:
            return _Guess("potentiometer", pot, _by(c), unit="Ω", needs=True)
    if c.prefix in ("RV", "MOV", "VDR") or c.says("varistor"):
        return _Guess("varistor", two_nets(c), _by(c), unit="V", needs=True,
                      value=volts_in(c.value, c.part, c.description))
    if c.prefix in ("GDT", "SG") or c.says("spark gap", "gas discharge"):
        return _Guess("spark-gap", two_nets(c), _by(c))
    if c.prefix in ("RT", "TH", "NTC", "PTC", "THM") or c.says("thermistor"):
        positive = c.prefix == "PTC" or c.says("ptc")
        return _Guess("thermistor", two_nets(c), _by(c), ("ptc",) if positive else ("ntc",), "Ω", True)
    if c.prefix in ("R", "RS", "RSH") and not c.says("network", "pack"):
        return _Guess("shunt" if c.says("shunt") else "resistor", two_nets(c), _by(c), unit="Ω", needs=True)
    return None


def _storing(c: Component) -> _Guess | None:
    if c.prefix == "C":
        words = {"electrolytic": ("polari", "electrolytic", "elko", "c_pol", "cp"), "tantalum": ("tantal",),
                 "film": ("film", "mkp", "mkt")}
        word = next((w for w in ("tantalum", "film", "electrolytic") if c.says(*words[w])), "")
        unpolar = c.says("unpolari", "nonpolari", "non-polari", "bipolar")
        chosen = (word,) if word and not (unpolar and word == "electrolytic") else ()
        return _Guess("capacitor", two_nets(c), _by(c), chosen, "F", True)
    if c.prefix in ("L", "FB", "CH", "LF"):
        four = by_number(c, "A1 A2 B1 B2") if not any(x.isdigit() for x in c.part[3:]) else None
        if four:
            return _Guess("choke", four, f"{_by(c)}, windings 1-2 and 3-4", unit="H")
        return _Guess("inductor", two_nets(c), _by(c), unit="H")
    if c.prefix in ("Y", "XTAL", "QZ", "X") and (c.prefix != "X" or c.says("crystal", "resonator")):
        return _Guess("crystal", two_nets(c), _by(c), unit="Hz")
    return None


def _contacts(c: Component) -> _Guess | None:
    if c.prefix in ("F", "FU"):
        return _Guess("fuse", two_nets(c), _by(c))
    if c.prefix in ("SW", "S", "PB", "BTN") or c.part.lower().startswith("sw_"):
        return _Guess("switch", two_nets(c), f"{_by(c)}, taken as open", ("open",))
    if c.prefix in ("JP", "SJ"):
        closed = c.says("bridged", "closed")
        return _Guess("jumper", two_nets(c), f"{_by(c)}, taken as {'closed' if closed else 'open'}",
                      ("closed",) if closed else ("open",))
    if c.prefix in ("NT", "W"):
        return _Guess("link", two_nets(c), _by(c))
    if c.prefix in _CONNECTORS or c.says("connector", "conn_"):
        return _Guess("connector", roles.own_pins(c), _by(c))
    if c.prefix in ("K", "RL", "RY", "REL"):
        coil = by_name(c, roles.RELAY, rest=True)
        contacts = by_name(c, roles.CONTACTS, rest=True) or ()
        return _Guess("relay", (*coil, *contacts) if coil else None, f"{_by(c)}, at rest")
    return None


def _diodes(c: Component) -> _Guess | None:
    if c.prefix not in ("D", "ZD", "LED", "LD", "BR", "DB", "TVS", "CR", "VD", "Z"):
        return None
    if len(c.pins) == 4:
        return _bridge(c)
    if len(c.pins) == 3:
        return _dual(c)
    pins, by = by_name(c, roles.DIODE), _by(c)
    if pins is None:
        pins, by = by_number(c, "K A"), f"{by}, pin 1 taken as cathode"
        pins = pins and (pins[1], pins[0])
    if c.says("diac"):
        return _Guess("diac", two_nets(c), _by(c), unit="V", value=volts_in(c.value, c.part, c.description))
    if c.prefix in ("LED", "LD") or c.says("led"):
        colours = ("red", "orange", "yellow", "green", "blue", "white", "infrared")
        said = f"{c.value} {c.said}".lower()
        return _Guess("led", pins, by, tuple(x for x in colours if x in said.split())[:1])
    if c.prefix == "TVS" or c.says("tvs", "suppressor"):
        word = "bidirectional" if c.says("bidir") else "unidirectional"
        return _Guess("tvs", pins, by, (word,), "V", True, volts_in(c.value, c.part, c.description))
    if c.prefix in ("ZD", "Z") or c.says("zener"):
        return _Guess("zener", pins, by, unit="V", needs=True, value=volts_in(c.value, c.part, c.description))
    word = next((w for w, said in (("schottky", ("schottky",)), ("fast", ("fast recovery", "ultrafast")),
                                   ("signal", ("switching", "small signal"))) if c.says(*said)), "")
    return _Guess("diode", pins, by, (word,) if word else ())


def _bridge(c: Component) -> _Guess | None:
    ends = by_name(c, roles.MAINS_BRIDGE, rest=True)
    mains = [net for _, name, net in c.pins if name.upper() not in set().union(*roles.MAINS_BRIDGE.values())]
    if ends is None or len(mains) != 2:
        return None
    return _Guess("bridge", (("AC1", mains[0]), ("AC2", mains[1]), *ends), _by(c))


def _dual(c: Component) -> _Guess | None:
    """Two diodes in one package: two anodes and a cathode, the other way round, or one after the other."""
    anodes = [net for _, name, net in c.pins if name.upper() in roles.DIODE["A"]]
    cathodes = [net for _, name, net in c.pins if name.upper() in roles.DIODE["K"]]
    others = [net for _, name, net in c.pins
              if name.upper() not in roles.DIODE["A"] | roles.DIODE["K"]]
    if len(anodes) == 2 and len(cathodes) == 1:
        pins: Pins = (("A1", anodes[0]), ("A2", anodes[1]), ("K", cathodes[0]))
        word = "common-cathode"
    elif len(anodes) == 1 and len(cathodes) == 2:
        pins, word = (("A", anodes[0]), ("K1", cathodes[0]), ("K2", cathodes[1])), "common-anode"
    elif len(anodes) == len(cathodes) == len(others) == 1:
        pins, word = (("A", anodes[0]), ("M", others[0]), ("K", cathodes[0])), "series"
    else:
        return None
    return _Guess("dual-diode", pins, _by(c), (word, *(("schottky",) if c.says("schottky") else ())))


def _transistors(c: Component) -> _Guess | None:
    if c.prefix not in ("Q", "T", "TR", "V", "VT", "M", "SCR", "TRI"):
        return None
    thyristor = c.says("thyristor", "scr")
    for kinds, names, letters in _THREE_PINS:
        pins = by_name(c, names, rest=True) or (by_letters(c, letters) if letters else None)
        if pins is not None and not (kinds[0] in ("npn", "igbt") and thyristor):
            kind = _polarity(c, kinds)
            return _Guess(kind, pins, _by(c)) if kind else None
    return None


_THREE_PINS: tuple[tuple[tuple[str, ...], roles.Roles, str], ...] = (
    (("npn", "pnp"), roles.BIPOLAR, "BCE"), (("nmos", "pmos"), roles.MOS, "GDS"),
    (("igbt",), roles.IGBT, "GCE"), (("thyristor",), roles.THYRISTOR, "AKG"), (("triac",), roles.TRIAC, ""))


def _polarity(c: Component, kinds: tuple[str, ...]) -> str:
    """Which of two kinds the library says; the only one where there is one; empty where it says neither."""
    if kinds == ("npn", "pnp") and c.says("darlington", "digital", "pre-biased", "prebiased"):
        return ""
    if len(kinds) == 1:
        return kinds[0]
    marks = {"npn": ("npn",), "pnp": ("pnp",), "nmos": ("nmos", "n-ch", "n_ch", "nch", "n-mos"),
             "pmos": ("pmos", "p-ch", "p_ch", "pch", "p-mos")}
    found = [kind for kind in kinds if c.says(*marks[kind]) or any(m in c.value.lower() for m in marks[kind])]
    return found[0] if len(found) == 1 else ""


def _packages(c: Component) -> _Guess | None:
    if c.says("opto", "photocoupler") or c.prefix in ("OK", "OC", "OPT"):
        pins, why = by_name(c, roles.OPTO), _by(c)
        if pins is None and not any(name.strip("~") for _, name, _ in c.pins):
            pins, why = by_number(c, "A K E C"), f"{why}, pins 1 to 4 taken as A K E C"
        return _Guess("optocoupler", pins, why)
    if c.says("shunt regulator", "shunt reference", "programmable reference", "voltage reference"):
        return _Guess("shunt-regulator", by_name(c, roles.REFERENCE, rest=True), _by(c))
    linear = c.says("regulator") and not c.says("switching", "buck", "boost")
    if c.prefix in ("U", "IC", "VR", "REG") and linear:
        return _Guess("linear-regulator", by_name(c, roles.REGULATOR), _by(c))
    if c.prefix in ("T", "TR", "TX"):
        return _Guess("transformer", by_name(c, _WINDINGS), f"{_by(c)}, windings AA-AB and SA-SB")
    return None


_RULES: tuple[Callable[[Component], _Guess | None], ...] = (
    _packages, _resistive, _storing, _contacts, _diodes, _transistors)
