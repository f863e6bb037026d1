"""A line of a board or readings file to tokens with columns; comments and quoted text are told apart here."""

from __future__ import annotations

import re
import unicodedata
from typing import NamedTuple

from incircuit.board.faults import Faults, Line

LONGEST_LINE = 2000
"""Characters a line may have."""

_BARE = re.compile(r"[^ \t]+")
_TOKEN = re.compile(r"""[ \t]*(?:(?P<comment>\#.*)|(?P<token>(?:[^ \t\#"]|"(?:[^"\\]|\\.)*")+)"""
                    r"""|(?P<open>"))""")
_QUOTED = re.compile(r'"((?:[^"\\]|\\["\\])*)"')


class Token(NamedTuple):
    """A piece of a line as typed, quotes included; `column` counts from 1."""

    text: str
    column: int


class Split(NamedTuple):
    """A line taken apart: tokens, and the typed text as statement + gap + comment."""

    tokens: list[Token]
    statement: str
    gap: str
    comment: str


def split_line(line: Line, faults: Faults, kind: str = "board") -> Split | None:
    """Tokens of a line. None, with a fault noted, for a line that cannot be one of a text file.

    `kind` is what the file is called in a fault: ``board`` or ``readings``.
    """
    text = line.text
    if len(text) > LONGEST_LINE:
        short = Line(line.file, line.number, text[:70] + "…")
        faults.add(short, 1, f"this line has {len(text)} characters", f"at most {LONGEST_LINE} are read")
        return None
    if not text.isprintable() and not text.replace("\t", " ").isprintable():
        _invisible(line, faults, kind)
        return None
    if '"' not in text:
        statement, mark, rest = text.partition("#")
        tokens = [Token(m.group(), m.start() + 1) for m in _BARE.finditer(statement)]
        return _parted(tokens, statement, mark + rest)
    return _split_quoted(line, faults)


def unquoted(token: str) -> str | None:
    """The text of a token; quotes around the whole are taken off. None if quotes stand elsewhere.

    >>> unquoted('"a \\\\"b\\\\""'), unquoted("plain"), unquoted('a"b"')
    ('a "b"', 'plain', None)
    """
    if '"' not in token:
        return token
    match = _QUOTED.fullmatch(token)
    return re.sub(r"\\(.)", r"\1", match.group(1)) if match else None


def quoted(text: str) -> str:
    """Text in quotes, as `unquoted` reads it back."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _parted(tokens: list[Token], before: str, comment: str) -> Split:
    statement = before.rstrip(" \t")
    return Split(tokens, statement, before[len(statement):], comment)


def _split_quoted(line: Line, faults: Faults) -> Split | None:
    text, at = line.text, 0
    tokens: list[Token] = []
    while match := _TOKEN.match(text, at):
        if match["comment"]:
            return _parted(tokens, text[:match.start("comment")], match["comment"])
        if match["open"]:
            faults.add(line, match.start("open") + 1, 'this " has no partner', 'close the text with "')
            return None
        tokens.append(Token(match["token"], match.start("token") + 1))
        at = match.end()
    return _parted(tokens, text, "")


def _invisible(line: Line, faults: Faults, kind: str) -> None:
    """Note the first character that cannot be seen: blanks that are none, control characters."""
    for at, char in enumerate(line.text):
        if char == "\t" or char.isprintable():
            continue
        name = unicodedata.name(char, "control character").lower()
        shown = "".join(c if c == "\t" or c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in line.text)
        hint = "type a plain blank instead" if unicodedata.category(char) == "Zs" else "take it out"
        faults.add(Line(line.file, line.number, shown), at + 1,
                   f"U+{ord(char):04X} ({name}) cannot stand in a {kind} file", hint)
        return
