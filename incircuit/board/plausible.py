"""Which values a kind usually has. All limits are from memory: common practice, no source.

They are wide on purpose: what lies outside is worth a second look, not wrong.
"""

from __future__ import annotations

from incircuit.board.faults import a_
from incircuit.board.kinds import KINDS
from incircuit.board.model import Part
from incircuit.board.options import number_of
from incircuit.errors import UnitError
from incircuit.units import format_value, rkm

USUAL: dict[tuple[str, str], tuple[float, float]] = {
    ("resistor", "film"): (5e-3, 1e8),
    ("resistor", "wirewound"): (1e-3, 1e6),
    ("resistor", "carbon"): (0.1, 1e8),
    ("shunt", ""): (1e-5, 10.0),
    ("thermistor", "ntc"): (0.1, 1e7),
    ("thermistor", "ptc"): (0.01, 1e5),
    ("varistor", ""): (3.0, 5e3),
    ("potentiometer", ""): (1.0, 1e7),
    ("capacitor", "ceramic"): (1e-13, 1e-3),
    ("capacitor", "film"): (1e-12, 1e-2),
    ("capacitor", "electrolytic"): (1e-8, 10.0),
    ("capacitor", "tantalum"): (1e-9, 1e-2),
    ("inductor", "power"): (1e-8, 100.0),
    ("inductor", "signal"): (1e-10, 10.0),
    ("choke", ""): (1e-8, 100.0),
    ("crystal", ""): (1e3, 1e9),
    ("zener", ""): (0.9, 600.0),
    ("tvs", "unidirectional"): (2.0, 2e3),
    ("tvs", "bidirectional"): (2.0, 2e3),
}
"""Smallest and largest usual value [SI] by kind and first word group; from memory."""

USUAL_OPTIONS: dict[str, tuple[float, float]] = {
    "is": (1e-24, 1e-2), "n": (0.5, 20.0), "rs": (0.0, 1e4), "bv": (0.5, 1e5), "bf": (0.1, 1e5),
    "br": (1e-4, 1e4), "hfe": (0.1, 1e5), "b": (500.0, 1e4), "esr": (0.0, 1e4), "dcr": (0.0, 1e6),
    "vth": (0.1, 20.0), "leak": (10.0, 1e15), "r1": (1.0, 1e7), "r2": (1.0, 1e7), "load": (0.1, 1e9),
    "vz": (0.9, 2e3),
}
"""Smallest and largest usual value [SI] of options, by the last piece of their name; from memory."""

_SLIPS = (1e9, 1e-9, 1e3, 1e-3, 1e-6, 1e-12)
"""Factors of common slips: m typed for M and back, k or m left out, u or p left out."""

_SMALL_SLIPS = (1e-6, 1e-12, 1e-9, 1e-3, 1e3, 1e6)
"""The same for farads and henries below a million, where the prefix is forgotten first."""


def value_doubt(part: Part) -> tuple[str, str] | None:
    """(message, hint) when a part's value is unusual for its kind, None otherwise.

    >>> value_doubt(Part("C1", "capacitor", (("1", "A"), ("2", "B")), 10.0))
    ('C1: 10.0 F is unusual for a ceramic capacitor', 'did you mean 10u?')
    """
    kind = KINDS.get(part.kind)
    word = kind.chosen(part.words) if kind else ""
    limits = USUAL.get((part.kind, word))
    if kind is None or limits is None or not part.value or limits[0] <= part.value <= limits[1]:
        return None
    value = format_value(part.value, kind.unit)
    named = a_(f"{word} {part.kind}".strip())
    return f"{part.ref}: {value} is unusual for {named}", _meant(part.value, kind.unit, limits)


def option_doubts(part: Part) -> list[tuple[str, str]]:
    """(message, hint) for every option whose number is unusual."""
    kind = KINDS.get(part.kind)
    doubts = []
    for key, text in part.options if kind else ():
        spec, limits = kind.option(key) if kind else None, USUAL_OPTIONS.get(_last(key))
        if spec is None or spec.form != "number" or limits is None:
            continue
        try:
            number = number_of(spec, text)
        except UnitError:
            continue  # a board built in code; the writer refuses it
        if not limits[0] <= number <= limits[1]:
            value = format_value(number, spec.unit)
            hint = _meant(number, spec.unit, limits)
            doubts.append((f"{part.ref}: {key}={text} is unusual: {value}", hint))
    return doubts


def _last(key: str) -> str:
    first, _, last = key.partition(".")
    return first if first == "dcr" else last or first


def _meant(value: float, unit: str, limits: tuple[float, float]) -> str:
    """What a slip of prefix would explain."""
    if unit == "A":
        return "check its prefix"
    for factor in _SMALL_SLIPS if unit in ("F", "H") and value < 1e6 else _SLIPS:
        if limits[0] <= value * factor <= limits[1]:
            return f"did you mean {rkm(float(f'{value * factor:.12g}'), unit or '1')}?"
    return "M is mega, m is milli, u is micro"
