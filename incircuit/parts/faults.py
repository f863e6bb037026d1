"""Fault texts: ``Q1 short C-E``, ``R7 open``, ``D3 leaky 470R``, ``R8 drifted 1.5``."""

from __future__ import annotations

import math
from difflib import get_close_matches
from typing import NamedTuple

from incircuit.board.kinds import kind_named
from incircuit.board.model import Board, Part
from incircuit.errors import StateError, UnitError
from incircuit.parts.defects import WORDS, Defect, defects_of, magnitude_of, main_pair
from incircuit.parts.structure import between, ordered, skeleton
from incircuit.units import parse_value, rkm, shown


class Fault(NamedTuple):
    """A defect of one part of a board; `magnitude` [Ω] or factor, None where not typed."""

    part: Part
    defect: Defect
    magnitude: float | None

    @property
    def text(self) -> str:
        """The fault as `parse_fault` reads it.

        A resistance is written in letter code, a factor as a plain number after ``x``.
        """
        size = self.magnitude
        unit = self.defect.magnitude.unit if self.defect.magnitude else ""
        tail = "" if size is None else f" {rkm(size)}" if unit == "Ω" else f" x{size!r}"
        return f"{self.part.ref} {self.defect.name}{tail}"


def parse_fault(board: Board, text: str) -> Fault:
    """The fault a text names: REF WORD [PINS] [MAGNITUDE].

    PINS are one pin or two with a hyphen between; a bare ``short`` or ``leaky`` means the pair that
    carries the power (C-E, D-S, A-K). MAGNITUDE is ohms for short and leaky, a factor for drifted
    and dried (``1.5`` or ``x1.5``), and for wrong-value the value itself or a factor (``x10``).
    Raises StateError with the nearest words.
    """
    tokens = text.split()
    if len(tokens) < 2:
        raise StateError(f'"{shown(text)}" is no fault: name part and defect, such as Q1 short C-E')
    part = _part(board, tokens[0])
    if tokens[1] not in WORDS:
        raise StateError(f'"{shown(text)}": {shown(tokens[1])} is not a defect{_hint(tokens[1], WORDS)}')
    pins, rest = _pins(part, tokens[1], tokens[2:])
    if len(rest) > 1:
        raise StateError(f'"{shown(text)}": {shown(rest[0])} {_not_pins(part, tokens[1])}')
    defect = _defect(part, tokens[1], pins, text)
    magnitude = _magnitude(part, defect, rest[0], text) if rest else None
    return Fault(part, defect, magnitude)


def _part(board: Board, ref: str) -> Part:
    try:
        return board.part(ref)
    except KeyError:
        refs = tuple(p.ref for p in board.parts)
        raise StateError(f"the board has no part {shown(ref)}{_hint(ref, refs, listed=False)}") from None


def _hint(word: str, known: tuple[str, ...], listed: bool = True) -> str:
    close = get_close_matches(word, known, 1, 0.5)
    if close:
        return f": did you mean {close[0]}?"
    return f": known are {', '.join(known)}" if listed else ""


def _pins(part: Part, word: str, tokens: list[str]) -> tuple[tuple[str, ...], list[str]]:
    """Pins named by the first tokens, and the tokens left."""
    names, two = part.pin_names, len(part.pins) == 2
    if len(tokens) > 1 and tokens[0] in names and tokens[1] in names and not two and tokens[0] != tokens[1]:
        return ordered(part, tokens[0], tokens[1]), tokens[2:]
    if tokens:
        for a in names:
            for b in names:
                if a != b and tokens[0] == f"{a}-{b}":
                    return ordered(part, a, b), tokens[1:]
        if tokens[0] in names and (not two or word == "open"):
            return (tokens[0],), tokens[1:]
    return (), tokens


def _not_pins(part: Part, word: str) -> str:
    return f"are no pins of {part.ref} for {word}: its pins are {' '.join(part.pin_names)}"


def _defect(part: Part, word: str, pins: tuple[str, ...], text: str) -> Defect:
    known = [d for d in defects_of(part, skeleton(part)) if d.word == word]
    if len(part.pins) == 2:
        pins = ()
    for defect in known:
        if set(defect.pins) == set(pins):
            return defect
    names = ", ".join(d.name for d in known)
    if not pins:
        return _bare(part, word, known, names, text)
    if word in ("short", "leaky") and len(pins) == 2:
        return Defect(part.ref, word, pins, magnitude_of(word), 0.0, "as typed")
    if word == "open" and (len(pins) == 1 or between(part, *pins)):
        return Defect(part.ref, word, pins, None, 0.0, "as typed")
    if not known:
        raise StateError(f'"{shown(text)}": {_cannot(part, word)}')
    raise StateError(f'"{shown(text)}": {part.ref} can be {names}')


def _bare(part: Part, word: str, known: list[Defect], names: str, text: str) -> Defect:
    """The defect meant by a word without pins on a part of several."""
    if len(known) == 1:
        return known[0]
    if not known:
        raise StateError(f'"{shown(text)}": {_cannot(part, word)}')
    main = main_pair(part)
    wanted = {main, main[:1]} if main else set()
    for defect in known:
        if main and word != "reversed" and defect.pins in wanted:
            return defect
    raise StateError(f'"{shown(text)}": say which: {names}')


def _cannot(part: Part, word: str) -> str:
    spec = kind_named(part.kind)
    kind = spec.name if spec else part.kind
    can = dict.fromkeys(d.word for d in defects_of(part, skeleton(part)))
    return f"a {kind} cannot be {word}; {part.ref} can be {', '.join(can)}"


def _magnitude(part: Part, defect: Defect, token: str, text: str) -> float:
    if defect.magnitude is None:
        raise StateError(f'"{shown(text)}": {defect.word} takes no number, found {shown(token)}')
    factor = token[1:] if token.startswith("x") else token
    try:
        if defect.magnitude.unit == "Ω":
            size = parse_value(token, "Ω")
        elif defect.word == "wrong-value" and factor == token:
            size = _as_factor(part, parse_value(token, _value_unit(part)))
        else:
            size = parse_value(factor, "1")
    except UnitError as error:
        raise StateError(f'"{shown(text)}": {error}') from None
    if not math.isfinite(size) or size < 0.0:
        raise StateError(f'"{shown(text)}": {shown(token)} cannot be')
    return size


def _value_unit(part: Part) -> str:
    spec = kind_named(part.kind)
    return spec.unit if spec else ""


def _as_factor(part: Part, wrong: float) -> float:
    return wrong / part.value if part.value else 1.0
