"""Names of other programs made into names a board file can have, each still its own."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from incircuit.board.kinds import KINDS
from incircuit.board.refs import ref_fault

LONGEST = 200
"""Characters of a name; longer ones are cut."""

_FOREIGN_IN_REF = re.compile(r"[^\w+/-]")
_FOREIGN_IN_NET = re.compile(r'[\s#="\x00-\x1f\x7f]')
_RESERVED = frozenset(KINDS["chip"].option_names) | frozenset(KINDS["connector"].option_names)


def own_name(text: str, taken: Iterable[str]) -> str:
    """The text, or the text with the first free number behind it.

    >>> own_name("A", {"A", "A_2"}), own_name("B", set())
    ('A_3', 'B')
    """
    used = taken if isinstance(taken, set | frozenset | dict) else set(taken)
    if text not in used:
        return text
    number = 2
    while f"{text}_{number}" in used:
        number += 1
    return f"{text}_{number}"


def ref_name(text: str) -> str:
    """A reference out of a text: ``R.1`` is ``R-1``, ``5`` is ``P5``, ``#PWR1`` is ``PWR1``.

    >>> ref_name("R.1"), ref_name("5"), ref_name("net"), ref_name("X1/R2")
    ('R-1', 'P5', 'net_', 'X1/R2')
    """
    ref = _FOREIGN_IN_REF.sub("-", text.lstrip("#§")[:LONGEST]) or "P"
    if not ref[0].isalpha():
        ref = f"P{ref}"
    return ref if not ref_fault(ref) else f"{ref}_"


def net_name(text: str) -> str:
    """A net out of a text: what a board file cannot have is ``_``.

    >>> net_name("Net-(Q1-G)"), net_name("a b#1"), net_name("")
    ('Net-(Q1-G)', 'a_b_1', '_')
    """
    name = "".join(c if c.isprintable() else "_" for c in _FOREIGN_IN_NET.sub("_", text[:LONGEST]))
    return name or "_"


def pin_names(texts: Sequence[str]) -> tuple[str, ...]:
    """Names for the pins of a part out of texts: each once, none that is an option of the board file.

    >>> pin_names(("VCC", "GND", "GND", "text", ""))
    ('VCC', 'GND', 'GND_2', 'text_', '_')
    """
    found: dict[str, None] = {}
    for text in texts:
        name = net_name(text)
        found[own_name(f"{name}_" if name in _RESERVED else name, found)] = None
    return tuple(found)
