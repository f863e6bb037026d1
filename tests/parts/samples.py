"""One part of every kind, class and layout, for tests that must not forget a kind."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from incircuit.board.kinds import KINDS, KindSpec
from incircuit.board.model import Board, Part
from incircuit.board.reader import parse_board

OWN_PINS = {
    "transformer": ("P1", "P2", "P3", "S1", "S2"),
    "connector": ("1", "2", "3"),
    "chip": ("VCC", "GND", "IN", "OUT"),
}
VALUES = {"Ω": 4700.0, "F": 4.7e-6, "H": 1e-3, "V": 12.0, "Hz": 8e6}


def sample(kind: str, *words: str, pins: tuple[str, ...] = (), **options: str) -> Part:
    """X1 of a kind, each pin on a net of its own.

    ``a_b=`` stands for the option ``a.b=`` and ``is_=`` for ``is=``.
    """
    spec = KINDS[kind]
    names = pins or spec.required_pins(words)[0] if spec.layouts else pins or OWN_PINS[kind]
    typed = {key.rstrip("_").replace("_", "."): text for key, text in options.items()}
    if kind == "chip" and not pins:
        typed = {"supply": "VCC", "ground": "GND", **typed}
    return Part("X1", kind, tuple((name, f"n{name}") for name in names), VALUES.get(spec.unit),
                words=words, options=tuple(typed.items()))


def every_sample() -> Iterator[Part]:
    """Every kind with every combination of its words, every layout, with and without optional pins."""
    for spec in KINDS.values():
        for words in product(*spec.word_groups):
            chosen = tuple(word for word in words if word)
            for pins in _layouts(spec, chosen):
                yield sample(spec.name, *chosen, pins=pins)


def _layouts(spec: KindSpec, words: tuple[str, ...]) -> Iterator[tuple[str, ...]]:
    if not spec.layouts:
        yield ()
        return
    for pins in spec.required_pins(words):
        yield pins
        if spec.optional:
            yield pins + spec.optional


def named(part: Part) -> str:
    """A test id."""
    return " ".join((part.kind, *part.words, str(len(part.pins))))


def board(text: str) -> Board:
    """A board of statements, without its first line."""
    return parse_board(f'board "test"\n{text}\n')
