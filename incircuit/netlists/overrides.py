"""What the user says a part is: ``U3 optocoupler 1=A 2=K 3=E 4=C``, ``D5 led green``, ``TP* none``."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

from incircuit.board.faults import a_, did_you_mean
from incircuit.board.kinds import ALIASES, KINDS, KindSpec, kind_named
from incircuit.board.model import Part
from incircuit.board.valuelist import looks_like_value
from incircuit.errors import NetlistError, Problem, UnitError
from incircuit.netlists.devices import Found
from incircuit.units import parse_value, shown

LEAVE_OUT = "none"


@dataclass(frozen=True, slots=True)
class Override:
    """Parts whose ref, value, library part or model is like `pattern` are of `kind` (None: left out).

    `pins` are (pin of the netlist, pin of the kind); `text` is what was typed.
    """

    pattern: str
    kind: KindSpec | None
    pins: tuple[tuple[str, str], ...]
    words: tuple[str, ...]
    value: float | None
    text: str

    def meets(self, found: Found) -> bool:
        """Whether it is meant for that part."""
        return any(fnmatchcase(name, self.pattern) for name in (found.part.ref, *found.names) if name)


def parse_override(text: str) -> Override:
    """PATTERN KIND [OLD=NEW …] [value] [words], or PATTERN none. Raises NetlistError."""
    tokens = text.split()
    if len(tokens) < 2:
        raise _wrong(text, "is no part and kind", 'write "U3 optocoupler 1=A 2=K 3=E 4=C"')
    pattern, word = tokens[:2]
    kind = kind_named(word)
    if kind is None and word != LEAVE_OUT:
        raise _wrong(text, f'"{shown(word)}" is not a kind of part',
                     did_you_mean(word, (*KINDS, *ALIASES, LEAVE_OUT)) or f"{LEAVE_OUT} leaves it out")
    pins: list[tuple[str, str]] = []
    words: list[str] = []
    value: float | None = None
    for token in tokens[2:]:
        old, equals, new = token.partition("=")
        if equals and old and new:
            pins.append((old, new))
        elif kind is not None and token in kind.words:
            words.append(token)
        elif kind is not None and looks_like_value(token) and kind.unit:
            try:
                value = parse_value(token, kind.unit)
            except UnitError as error:
                raise _wrong(text, str(error), "") from None
        else:
            known = " ".join(kind.words) if kind else ""
            raise _wrong(text, f'"{shown(token)}" does not belong to it',
                         f"words of {a_(kind.name)}: {known}" if kind and known else "pins are OLD=NEW")
    _check_pins(text, kind, [new for _, new in pins])
    return Override(pattern, kind, tuple(pins), tuple(words), value, text)


def _check_pins(text: str, kind: KindSpec | None, names: Sequence[str]) -> None:
    if kind is None or kind.style == "open":
        return
    for name in names:
        if name not in kind.pin_names:
            raise _wrong(text, f"{a_(kind.name)} has no pin {shown(name)}",
                         f"its pins are {' '.join(kind.pin_names)}")


def _wrong(text: str, message: str, hint: str) -> NetlistError:
    return NetlistError((Problem("--as", 1, 1, f'"{shown(text)}": {message}', hint=hint),))


def overridden(found: Found, override: Override) -> Found | None:
    """The part as it was said to be, None where it is left out. Raises NetlistError where pins do not fit."""
    kind, part = override.kind, found.part
    if kind is None:
        return None
    options = tuple((key, text) for key, text in part.options if kind.option(key) is not None)
    words = override.words or tuple(word for word in part.words if word in kind.words)
    value = override.value
    if value is None and kind.unit and kind.unit == KINDS[part.kind].unit:
        value = part.value
    pins = renamed(part, kind, dict(override.pins), words)
    if isinstance(pins, str):
        raise _wrong(override.text, f"{part.ref}: {pins}", _say_which(part, kind))
    asked = kind.value_required and value is None
    if asked and not any(key in (*kind.value_options, *kind.instead_of_value) for key, _ in options):
        raise _wrong(override.text, f"{part.ref}: {a_(kind.name)} needs its value",
                     "write it behind the kind")
    said = replace(part, kind=kind.name, pins=pins, value=value, words=words, options=options)
    return replace(found, part=said, why="as you said")


def renamed(part: Part, kind: KindSpec, names: dict[str, str],
            words: tuple[str, ...]) -> tuple[tuple[str, str], ...] | str:
    """The pins of a part under the names of a kind, or what is wrong. Pins that match none are left out."""
    unknown = [old for old in names if old not in part.pin_names]
    if unknown:
        return f"it has no pin {shown(unknown[0])}"
    now = [(names.get(pin, pin), net) for pin, net in part.pins]
    if kind.style == "open":
        return tuple(now)
    layouts = kind.required_pins(words) or ((),)
    nets = dict(now)
    for layout in layouts:
        if set(layout) <= set(nets):
            kept = [pin for pin in (*layout, *kind.optional) if pin in nets]
            return tuple((pin, nets[pin]) for pin in dict.fromkeys(kept))
    if kind.style == "bare" and not names and len(part.pins) == 2:
        return tuple(zip(("1", "2"), (net for _, net in part.pins), strict=True))
    return "its pins are not those of " + a_(kind.name)


def _say_which(part: Part, kind: KindSpec) -> str:
    have = " ".join(f"{pin}=?" for pin in part.pin_names[:8])
    return f"say which is which: {have}; {a_(kind.name)} has {' '.join(kind.pin_names)}"
