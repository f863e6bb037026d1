"""From a device of a deck to a part of a board: one function a letter."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from incircuit.board.model import Part
from incircuit.netlists.flat import Device
from incircuit.netlists.models import (
    BREAKDOWN_OF_ZENERS,
    Model,
    bipolar_options,
    diode_options,
    mos_options,
    numbers,
)
from incircuit.netlists.notes import Notes, Word
from incircuit.units import shown

Options = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Found:
    """A part as first understood. `why` says what its kind was guessed from, empty where the netlist says it;
    `names` are what an override may call it by beside its ref, `at` is where it stands.
    """

    part: Part
    why: str
    names: tuple[str, ...]
    at: Word


Maker = Callable[[Device, Notes], list[Found]]


def parts_of(device: Device, notes: Notes) -> list[Found]:
    """The parts of a device, none where it had to be left out (with an error noted)."""
    return _MAKERS[device.letter](device, notes)


def _found(device: Device, kind: str, pins: tuple[str, ...], why: str = "", *, name: str = "",
           value: float | None = None, words: tuple[str, ...] = (), options: Options = (),
           ref: str = "") -> Found:
    part = Part(ref or device.ref, kind, tuple(zip(pins, device.nets, strict=False)), value, words=words,
                options=options)
    return Found(part, why, (name,) if name else (), device.card.head)


def _value(device: Device, notes: Notes, *keys: str) -> float | None:
    """The value of an R, C or L: behind the nets, behind its model's name, or as ``r=``."""
    card = device.card
    words = [w for w in (*card.words[2:4], *(card.pair(key) for key in keys)) if w is not None]
    for word in words:
        value = device.number(word)
        if value is not None:
            _remark(device, word, notes)
            return value
    what = f"{shown(words[0].text)} is no plain number" if words else "has no value"
    notes.error(words[0] if words else card.head, f"{card.head.text}: {what}: it is left out",
                "write a number, or the name of a .param that is one")
    return None


def _remark(device: Device, word: Word, notes: Notes) -> None:
    from incircuit.netlists.numbers import spice_number

    found = spice_number(word.text)
    if found and found[1]:
        notes.warn(word, f"{device.card.head.text}: {shown(word.text)}: {found[1]}")


def _area(device: Device, at: int) -> float:
    """Area factor behind a model's name or as ``area=``."""
    card = device.card
    words = [card.pair("area"), *card.words[at:at + 1]]
    found = [v for w in words if w is not None and (v := device.number(w)) is not None and v > 0.0]
    return found[0] if found else 1.0


def _many(device: Device) -> float:
    """How many are in parallel: ``m=``."""
    return _extra(device, "m") or 1.0


def _model(device: Device, at: int, kinds: tuple[str, ...], notes: Notes, family: str) -> Model | None:
    """The model named at a position; None, with a note, where there is none of these kinds."""
    word = device.card.words[at]
    model = device.scope.model(word.text)
    if model is None:
        notes.warn(word, f"{device.card.head.text}: the deck has no .model {shown(word.text)}")
        return None
    if model.kind not in kinds:
        notes.warn(word, f"{device.card.head.text}: model {model.name} is of type {shown(model.kind)}",
                   f"expected {' or '.join(kinds)}")
        return None
    lost = model.left_out(family)
    if lost:
        notes.warn(model.at, f"model {model.name}: {', '.join(lost)} left out: the board file has no word "
                   "for it")
    return model


def _resistor(device: Device, notes: Notes) -> list[Found]:
    ohms = _value(device, notes, "r")
    if ohms is None:
        return []
    if ohms < 0.0:
        notes.error(device.card.head, f"{device.card.head.text} is below zero ohms: it is left out")
        return []
    if ohms == 0.0:
        return [_found(device, "link", ("1", "2"), "0 Ω", options=(("r", "0"),))]
    return [_found(device, "resistor", ("1", "2"), value=ohms)]


def _capacitor(device: Device, notes: Notes) -> list[Found]:
    farads = _value(device, notes, "c")
    if farads is None or farads <= 0.0:
        if farads is not None:
            notes.error(device.card.head, f"{device.card.head.text} has no capacitance: it is left out")
        return []
    esr = _extra(device, "rser")
    return [_found(device, "capacitor", ("1", "2"), value=farads,
                   options=numbers((("esr", esr),)) if esr else ())]


def _inductor(device: Device, notes: Notes) -> list[Found]:
    henries = _value(device, notes, "l")
    if henries is None:
        return []
    ohms = _extra(device, "rser")
    why = "" if ohms else "the deck gives no winding resistance: dcr=0"
    return [_found(device, "inductor", ("1", "2"), why, value=abs(henries),
                   options=numbers((("dcr", ohms),)) if ohms else (("dcr", "0"),))]


def _extra(device: Device, key: str) -> float | None:
    """A number a card may carry beside its value; None where there is none above zero."""
    word = device.card.pair(key)
    value = device.number(word) if word is not None else None
    return value if value is not None and value > 0.0 else None


def _diode(device: Device, notes: Notes) -> list[Found]:
    name = device.card.words[2].text if len(device.card.words) > 2 else ""
    if not name:
        notes.warn(device.card.head, f"{device.ref} names no model: typical data of a rectifier")
        return [_found(device, "diode", ("A", "K"), "letter D, no model")]
    model = _model(device, 2, ("d",), notes, "d")
    low = name.lower()
    if model is None:
        kind = "led" if "led" in low else "diode"
        why = f"letter D; typical data, no model {shown(name)}"
        return [_found(device, kind, ("A", "K"), why, name=name)]
    options = diode_options(model, _area(device, 3), _many(device))
    volts = model.get(0.0, "bv", "vb")
    if "led" in low:
        kind, why = "led", f"model {model.name}"
    elif 0.0 < volts < BREAKDOWN_OF_ZENERS:
        kind, why = "zener", f"model {model.name} breaks down at {volts:g} V"
    else:
        kind, why = "diode", f"letter D, model {model.name}"
    words = ("schottky",) if kind == "diode" and "schott" in low else ()
    return [_found(device, kind, ("A", "K"), why, name=name, options=options, words=words)]


def _bipolar(device: Device, notes: Notes) -> list[Found]:
    at = len(device.nets)
    name = device.card.words[at].text
    model = _model(device, at, ("npn", "pnp", "lpnp"), notes, "bjt")
    if model is None:
        return [_found(device, "chip", ("C", "B", "E"), "letter Q, its model is not in the deck", name=name)]
    return [_found(device, model.kind.removeprefix("l"), ("C", "B", "E"), name=name,
                   options=bipolar_options(model, _area(device, at + 1) * _many(device)))]


def _mos(device: Device, notes: Notes) -> list[Found]:
    at = len(device.nets)
    card, name = device.card, device.card.words[at].text
    model = _model(device, at, ("nmos", "pmos", "vdmos"), notes, "mos")
    if model is None:
        return [_found(device, "chip", ("D", "G", "S"), "letter M, its model is not in the deck", name=name)]
    p = model.kind == "pmos" or "pchan" in model.flags
    kind = "pmos" if p else "nmos"
    if at > 3 and device.nets[3] != device.nets[2]:
        notes.warn(card.words[3], f"{card.head.text}: its bulk is taken as joined to its source",
                   "the board file knows no transistor with a bulk of its own")
    level = model.get(1.0, "level")
    if model.kind != "vdmos" and level not in (0.0, 1.0):
        notes.warn(model.at, f"model {model.name} is of level {level:g}: typical data are taken",
                   "level 1 and VDMOS are carried over")
        return [_found(device, kind, ("D", "G", "S"), f"model {model.name}, typical data", name=name)]
    sizes = {key: device.number(word) for key in ("w", "l") if (word := card.pair(key)) is not None}
    width, length = (sizes.get(key) or model.get(1e-4, key) for key in ("w", "l"))
    ratio = 1.0 if model.kind == "vdmos" else width / length
    options = mos_options(model, ratio, _many(device))
    return [_found(device, kind, ("D", "G", "S"), name=name, options=options)]


def _junction_fet(device: Device, notes: Notes) -> list[Found]:
    """A junction FET as its channel and its two gate junctions; beta·(v − vto)² is one of kp = 2·beta."""
    name = device.card.words[3].text if len(device.card.words) > 3 else ""
    model = _model(device, 3, ("njf", "pjf"), notes, "jfet") if name else None
    if model is None:
        return [_found(device, "chip", ("D", "G", "S"), "letter J, its model is not in the deck", name=name)]
    n, area = model.kind == "njf", _area(device, 4) * _many(device)
    volts = model.get(-2.0, "vto", "vt0")
    drain, gate, source = device.nets
    channel = numbers((("vto", volts if n else -volts), ("kp", 2.0 * area * model.get(1e-4, "beta")),
                       ("body.is", 1e-30)))
    why = "letter J: the board file has no junction FET; a channel and two gate junctions stand for it"
    found = [_found(device, "nmos" if n else "pmos", ("D", "G", "S"), why, name=name, options=channel)]
    junction = numbers((("is", area * model.get(1e-14, "is")), ("n", model.get(1.0, "n"))))
    for end, net in (("D", drain), ("S", source)):
        anode, cathode = (gate, net) if n else (net, gate)
        part = Part(f"{device.ref}-G{end}", "diode", (("A", anode), ("K", cathode)), options=junction)
        found.append(Found(part, f"gate junction of {device.ref}", (), device.card.head))
    return found


def _source(device: Device, notes: Notes) -> list[Found]:  # noqa: ARG001  as all makers
    """A source of a deck is what a board is fed by: unplugged, a connector. One of 0 V measures current."""
    words = device.card.words[2:]
    rest = [w for w in words if w.text.lower() != "dc"]
    plain = len(rest) == 1 and not device.card.pairs
    volts = device.number(rest[0]) if rest else None
    if device.letter == "v" and plain and volts == 0.0:
        return [_found(device, "link", ("1", "2"), "a source of 0 V", options=(("r", "0"),))]
    said = " ".join(w.text for w in rest[:3]).replace('"', "") or "0"
    what = "supply" if device.letter == "v" else "current source"
    return [_found(device, "connector", ("1", "2"), f"a {what} of the deck, unplugged",
                   options=(("text", f"{what} {said}"),))]


def _switch(device: Device, notes: Notes) -> list[Found]:  # noqa: ARG001  as all makers
    part = Part(device.ref, "switch", (("1", device.nets[0]), ("2", device.nets[1])), words=("open",))
    return [Found(part, "nothing drives it on a dead board: open", (), device.card.head)]


def _whole(device: Device, notes: Notes) -> list[Found]:
    """A subcircuit that cannot be put in place: a chip with its pins."""
    name = device.card.words[-1].text
    pins = _pin_names(device.ports)
    notes.warn(device.card.head, f"{device.card.head.text}: {device.why}: it becomes a chip with no inside",
               f'say what it is: --as "{device.ref} KIND {pins[0] if pins else 1}=PIN …"')
    return [_found(device, "chip", pins, device.why, name=name)] if pins else []


def _pin_names(names: Mapping[str, str] | tuple[str, ...]) -> tuple[str, ...]:
    """Names that can be those of a chip's pins, each once."""
    from incircuit.netlists.names import pin_names

    return pin_names(tuple(names))


_MAKERS: Mapping[str, Maker] = {
    "r": _resistor, "c": _capacitor, "l": _inductor, "d": _diode, "q": _bipolar, "m": _mos,
    "j": _junction_fet, "v": _source, "i": _source, "s": _switch, "w": _switch, "x": _whole,
}
