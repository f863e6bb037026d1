"""The statements that are not parts: board, net, alike, include."""

from __future__ import annotations

from typing import NamedTuple

from incircuit.board.faults import Faults, Line, did_you_mean
from incircuit.board.lexer import Token, unquoted
from incircuit.board.model import Net, Place

FLAGS = ("worked-on",)
"""Words that may follow the title of a board."""


class Head(NamedTuple):
    """What a board statement says."""

    title: str
    flags: tuple[str, ...]


class Alike(NamedTuple):
    """Refs of one alike statement, with their columns."""

    refs: tuple[str, ...]
    columns: tuple[int, ...]
    line: Line


class Include(NamedTuple):
    """The file an include statement names, as typed."""

    name: str
    column: int
    line: Line


def parse_head(tokens: list[Token], line: Line, faults: Faults) -> Head | None:
    """``board "Title" [worked-on]``."""
    if len(tokens) < 2 or not tokens[1].text.startswith('"'):
        column = tokens[1].column if len(tokens) > 1 else tokens[0].column
        faults.add(line, column, "a board needs a title in quotes", 'write board "Title"')
        return None
    title = unquoted(tokens[1].text)
    if title is None:
        _bad_quotes(tokens[1], line, faults)
        return None
    for token in tokens[2:]:
        if token.text not in FLAGS:
            faults.add(line, token.column, f'"{_plain(token)}" is not a word of a board statement',
                       did_you_mean(token.text, FLAGS) or f"it takes a title, then {' '.join(FLAGS)} if so")
    return Head(title, tuple(dict.fromkeys(t.text for t in tokens[2:])))


def parse_net(tokens: list[Token], line: Line, faults: Faults) -> Net | None:
    """``net NAME ["text"] [hidden] [pad=NAME]``, what follows the name in any order."""
    if len(tokens) < 2:
        faults.add(line, tokens[0].column, "a net statement needs a name", 'write net NAME "text"')
        return None
    name = tokens[1]
    if "=" in name.text or '"' in name.text:
        faults.add(line, name.column, f'{_plain(name)} cannot be the name of a net',
                   'any characters but blank, #, = and "')
        return None
    text, pad, hidden = "", "", False
    for token in tokens[2:]:
        key, equals, rest = token.text.partition("=")
        if token.text.startswith('"') and not text:
            text = unquoted(token.text) or ""
            if not text:
                _bad_quotes(token, line, faults)
        elif token.text == "hidden":
            hidden = True
        elif equals and key == "pad" and rest and not pad and '"' not in rest and "=" not in rest:
            pad = rest
        else:
            faults.add(line, token.column, f'"{_plain(token)}" does not belong to a net statement',
                       did_you_mean(token.text, ("hidden",)) or did_you_mean(key, ("pad",))
                       or 'write net NAME "text" hidden, or pad=NAME')
    if hidden and pad:
        faults.add(line, name.column, f"{name.text} is hidden and has a pad", "keep one of the two")
    return Net(name.text, text, pad, hidden, Place(line.file, line.number, name.column))


def parse_alike(tokens: list[Token], line: Line, faults: Faults) -> Alike | None:
    """``alike REF REF …``: same type and batch."""
    refs = tuple(token.text for token in tokens[1:])
    if len(refs) < 2:
        faults.add(line, tokens[0].column, "alike needs two parts or more", "write alike Q4 Q5")
        return None
    for at, ref in enumerate(refs):
        if ref in refs[:at]:
            faults.add(line, tokens[at + 1].column, f'"{_plain(tokens[at + 1])}" is named twice',
                       "name it once")
            return None
    return Alike(refs, tuple(token.column for token in tokens[1:]), line)


def parse_include(tokens: list[Token], line: Line, faults: Faults) -> Include | None:
    """``include "file.board"``, the file relative to the one that includes it."""
    name = unquoted(tokens[1].text) if len(tokens) > 1 else None
    if not name or len(tokens) != 2 or not tokens[1].text.startswith('"'):
        column = tokens[1].column if len(tokens) > 1 else tokens[0].column
        faults.add(line, column, "include needs one file name in quotes", 'write include "other.board"')
        return None
    return Include(name, tokens[1].column, line)


def _bad_quotes(token: Token, line: Line, faults: Faults) -> None:
    if token.text == '""':
        faults.add(line, token.column, "the quoted text is empty", "leave it out, or say something")
    else:
        faults.add(line, token.column, "quotes stand around a whole text",
                   'a " inside the text is written \\", a \\ is written \\\\')


def _plain(token: Token) -> str:
    return token.text.strip('"')
