"""The text behind `key=` to numbers, drops, words and pins: one place for the reader and for `parts`."""

from __future__ import annotations

from incircuit.board.kinds import KINDS, OptionSpec
from incircuit.board.model import Part
from incircuit.errors import UnitError
from incircuit.units import UNIT_WORDS, parse_value, shown

DROP_CURRENT = 1e-3
"""Current [A] at which a forward drop is meant when none is written: that of a meter's diode test."""


def number_of(spec: OptionSpec, text: str) -> float:
    """Value [SI unit of the option] of a ``number`` or ``percent`` option. Raises UnitError."""
    unit = "%" if spec.form == "percent" else spec.unit or "1"
    value = parse_value(text, unit)
    if value < 0 and not spec.signed:
        raise UnitError(f'"{shown(text)}" is below zero: {spec.name} cannot be')
    if value == 0 and not spec.zero:
        raise UnitError(f'"{shown(text)}" is zero: {spec.name} cannot be')
    if unit == "%" and value > 1:
        raise UnitError(f'"{shown(text)}" is more than 100%: {spec.name} cannot be')
    return value


def drop_of(text: str) -> tuple[float, float]:
    """(volts, amps) of a forward drop such as ``0.62@1mA``; the current is 1 mA when not written.

    Raises UnitError.

    >>> drop_of("0.62"), drop_of("0.9V@10mA")
    ((0.62, 0.001), (0.9, 0.01))
    """
    volts_text, at, amps_text = text.partition("@")
    volts = parse_value(volts_text, "V")
    amps = parse_value(amps_text, "A") if at else DROP_CURRENT
    if volts <= 0 or amps <= 0:
        raise UnitError(f'"{shown(text)}" is not a forward drop: both volts and amps are above zero')
    return volts, amps


def check_option(spec: OptionSpec, text: str) -> str:
    """What is wrong with the text of an option, as a sentence; ``""`` if nothing is."""
    try:
        if spec.form in ("number", "percent"):
            number_of(spec, text)
        elif spec.form == "drop":
            drop_of(text)
    except UnitError as error:
        return str(error)
    if spec.form == "word" and text not in spec.choices:
        return f'"{shown(text)}" is not one of: {", ".join(spec.choices)}'
    if spec.form == "pins" and not all(text.split(",")):
        return f'"{shown(text)}" is not a list of pins: write them with a comma between'
    return ""


def option_number(part: Part, key: str) -> float | None:
    """Value [SI] of a ``number`` or ``percent`` option of a part, other words for it included.

    None where it is not given. Raises UnitError for text that the reader would have refused and
    KeyError for a key the kind does not have.
    """
    found = _given(part, key)
    return None if found is None else number_of(*found)


def option_drop(part: Part, key: str) -> tuple[float, float] | None:
    """(volts, amps) of a ``drop`` option of a part, None where not given. Raises as `option_number`."""
    found = _given(part, key)
    return None if found is None else drop_of(found[1])


def option_pins(part: Part, key: str) -> tuple[str, ...]:
    """Pin names of a ``pins`` option, in the order typed; empty where not given."""
    found = _given(part, key)
    return () if found is None else tuple(found[1].split(","))


def _given(part: Part, key: str) -> tuple[OptionSpec, str] | None:
    kind = KINDS[part.kind]
    wanted = kind.option(key)
    if wanted is None:
        raise KeyError(f"{part.kind} has no option {key}")
    for name, text in part.options:
        spec = kind.option(name)
        if spec is not None and (name == key or key == spec.same_as):
            return spec, text
    return None


def unit_in_words(spec: OptionSpec) -> str:
    """What an option expects, for help and messages: ``ohms``, ``a plain number``, ``one of: none``."""
    if spec.form == "word":
        return f"one of: {', '.join(spec.choices)}"
    words = {"drop": "volts, or volts@amps", "percent": "percent", "pins": "pin names", "text": "text"}
    return words.get(spec.form) or UNIT_WORDS[spec.unit or "1"]
