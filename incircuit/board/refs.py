"""What can be a part's reference, and finding the kind behind it."""

from __future__ import annotations

import re

from incircuit.board.faults import Faults, Line, did_you_mean
from incircuit.board.kinds import ALIASES, KINDS, KindSpec, kind_named
from incircuit.board.lexer import Token

STATEMENTS = ("board", "net", "alike", "include", "mains", "supply")
"""First words of the statements that are not parts."""

STATE_WORDS = ("lift", "resolder", "remove", "fit", "short", "unshort", "charge", "discharge", "power", "hot",
               "ambient", "meter")
"""Words that begin a statement elsewhere; no part can be called so."""

_REF = re.compile(r"[^\W\d_][\w+/-]*")


def ref_fault(ref: str) -> str:
    """Why a text cannot be a part's reference; ``""`` if it can."""
    if not _REF.fullmatch(ref):
        return f'"{ref}" cannot be a reference'
    if ref in STATE_WORDS or ref in STATEMENTS:
        return f'"{ref}" begins a statement and cannot be a reference'
    if kind_named(ref):
        return f'"{ref}" is a kind of part and cannot be a reference'
    return ""


def kind_of(tokens: list[Token], line: Line, faults: Faults) -> KindSpec | None:
    """The kind of a part statement; None, with a fault noted, where the second word is none."""
    first = tokens[0]
    if len(tokens) < 2:
        faults.add(line, first.column, f'"{first.text}" alone is no statement',
                   did_you_mean(first.text, STATEMENTS)
                   or "a part is REF KIND PINS VALUE: R7 resistor A B 10k")
        return None
    word = tokens[1]
    kind = kind_named(word.text)
    if kind is not None:
        return kind
    if kind_named(first.text):
        hint = f"the reference comes first: {word.text} {first.text} …"
        faults.add(line, first.column, f'"{first.text}" is a kind of part and cannot be a reference', hint)
        return None
    hint = did_you_mean(word.text, [*KINDS, *ALIASES]) or did_you_mean(first.text, STATEMENTS)
    faults.add(line, word.column, f'"{word.text}" is not a kind of part',
               hint or "for an integrated circuit write chip")
    return None
