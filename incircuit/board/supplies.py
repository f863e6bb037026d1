"""The statements that say what powers the board: ``mains L N 230V`` and ``supply +15V RTN 15V``."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from incircuit.board.faults import Faults, Line, did_you_mean
from incircuit.board.lexer import Token
from incircuit.board.model import Place, Supply
from incircuit.errors import UnitError
from incircuit.units import parse_value, rkm, shown

WORDS = ("mains", "supply")
_FORMS = {"mains": ((2, 3), "mains L N 230V, or mains L1 L2 L3 400V"),
          "supply": ((2,), "supply +15V RTN 15V")}
HIGHEST = 100e3
"""[V] No board is supplied with more."""


def parse_supply(tokens: list[Token], line: Line, faults: Faults) -> Supply | None:
    """``mains NET NET [NET] VOLTS`` (effective, between two of them), ``supply PLUS MINUS VOLTS``."""
    word = tokens[0].text
    counts, form = _FORMS[word]
    nets, last = [t.text for t in tokens[1:-1]], tokens[-1]
    if len(nets) not in counts:
        faults.add(line, tokens[0].column, f"{word} takes {' or '.join(map(str, counts))} nets and volts",
                   f"write {form}")
        return None
    if len(set(nets)) < len(nets):
        faults.add(line, tokens[1].column, f"{word} names a net twice", f"write {form}")
        return None
    try:
        volts = parse_value(last.text, "V")
    except UnitError as error:
        message, _, hint = str(error).partition(": ")
        faults.add(line, last.column, message, hint)
        return None
    if not 0.0 < volts <= HIGHEST:
        faults.add(line, last.column, f"{shown(last.text)} is no voltage of a supply",
                   "name plus first and give the amount")
        return None
    return Supply(word, tuple(nets), volts, Place(line.file, line.number, tokens[0].column))


def supply_line(supply: Supply) -> str:
    """The canonical statement.

    >>> supply_line(Supply("mains", ("L", "N"), 230.0))
    'mains L N 230V'
    """
    return " ".join([supply.word, *supply.nets, rkm(supply.volts, "V")])


def check_supplies(found: Sequence[tuple[Supply, Line]], nets: Collection[str], faults: Faults) -> None:
    """Note supplies on nets that the board does not have, and what is powered twice."""
    seen: dict[tuple[str, ...], tuple[Supply, Line]] = {}
    for supply, line in found:
        for net in supply.nets:
            if net not in nets:
                column = max(line.text.find(f" {net}"), 0) + 2
                faults.add(line, column, f'{supply.word}: there is no net "{shown(net)}"',
                           did_you_mean(net, nets) or "name nets of this board")
        key = tuple(sorted(supply.nets))
        if key in seen:
            first, at = seen[key]
            if at.file == line.file or first != supply:  # sheets that include each other may both say it
                faults.add(line, 1, f"{' '.join(supply.nets)} are supplied already, in line {at.number}",
                           "keep one of the two")
        seen.setdefault(key, (supply, line))
