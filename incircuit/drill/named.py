"""What a trainee may name as the fault, and whether that is it."""

from __future__ import annotations

from collections.abc import Sequence

from incircuit.board.model import Board
from incircuit.board.pads import resolve_pad
from incircuit.board.state import HEALTHY
from incircuit.drill.case import Hidden
from incircuit.errors import DrillError, PadError, StateError
from incircuit.parts import parse_fault

_SAME = {"missing": "open"}
"""Words that mean the same to a meter."""


def named_faults(board: Board, text: str) -> tuple[Hidden, ...]:
    """The faults of a text: ``Q1 short C-E, bridge GATE RTN``. Raises DrillError."""
    found: list[Hidden] = []
    for piece in filter(None, (p.strip() for p in text.split(","))):
        words = piece.split()
        if words[0] == "bridge":
            found.append(_bridge(board, words))
            continue
        try:
            fault = parse_fault(board, piece)
        except StateError as error:
            raise DrillError(str(error)) from None
        found.append(Hidden(fault.part.ref, fault.defect.name, fault.magnitude))
    if not found:
        raise DrillError(
            "name part and fault: fault Q1 short, or fault Q1 short, R7 open, or healthy"
        )
    return tuple(found)


def _bridge(board: Board, words: Sequence[str]) -> Hidden:
    if len(words) != 3:
        raise DrillError("a bridge lies between two pads: fault bridge GATE RTN")
    try:
        a, b = (resolve_pad(board, HEALTHY, pad) for pad in words[1:])
    except PadError as error:
        raise DrillError(str(error)) from None
    if a == b:
        raise DrillError(f"{words[1]} and {words[2]} are one net already")
    return Hidden("", "bridge", None, (min(a, b), max(a, b)))


def is_right(truth: Sequence[Hidden], said: Sequence[Hidden]) -> bool:
    """Whether all faults and no other were named: part and word; missing and open are one."""
    return {_key(h) for h in truth} == {_key(h) for h in said}


def _key(hidden: Hidden) -> tuple[str, str, tuple[str, str]]:
    a, b = hidden.between
    return hidden.part, _SAME.get(hidden.word, hidden.word), (min(a, b), max(a, b))
