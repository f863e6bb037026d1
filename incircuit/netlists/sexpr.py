"""S-expressions with the place of every word: ``(net (code "1") (name "GND"))``.

A reader of our own: a general one gives values and no places, turns ``1e3`` and ``nil`` into what they
are not names of, and ends in a recursion error on deep nesting.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field

from incircuit.board.faults import Line
from incircuit.netlists.notes import Notes, Word

DEEPEST = 100
"""Parentheses inside each other; netlists have about six."""
MOST = 3_000_000
"""Words and parentheses of a file."""

SHOWN = 300
"""Characters of a line that are kept with a word; some editors write all in one line."""

_TOKEN = re.compile(r'\(|\)|"(?:[^"\\]|\\.)*"|"|[^\s()"]+', re.DOTALL)
_ESCAPES = {"n": "\n", "t": "\t", "r": "\r"}


@dataclass(slots=True)
class Node:
    """A list: its first word, further words, and the lists inside it."""

    head: Word
    words: list[Word] = field(default_factory=list)
    nodes: list[Node] = field(default_factory=list)

    @property
    def name(self) -> str:
        """The first word."""
        return self.head.text

    def all(self, name: str) -> list[Node]:
        """The lists inside that begin with a word."""
        return [node for node in self.nodes if node.name == name]

    def first(self, name: str) -> Node | None:
        """The first of them, or None."""
        return next((node for node in self.nodes if node.name == name), None)

    def word(self, name: str) -> Word | None:
        """The word of ``(name WORD)`` inside."""
        node = self.first(name)
        return node.words[0] if node is not None and node.words else None

    def text(self, name: str) -> str:
        """Its text, empty where there is none."""
        word = self.word(name)
        return word.text if word is not None else ""


class _Places:
    """Offsets of a text → line and column."""

    def __init__(self, text: str, file: str) -> None:
        self.text, self.file = text, file
        self.starts = [0, *(m.end() for m in re.finditer("\n", text))]

    def word(self, text: str, at: int) -> Word:
        """A word at an offset."""
        number = bisect_right(self.starts, at)
        start = self.starts[number - 1]
        end = self.starts[number] - 1 if number < len(self.starts) else len(self.text)
        line = self.text[start:min(end, start + SHOWN)]
        return Word(text, Line(self.file, number, line), at - start + 1)


def read_sexpr(text: str, file: str, notes: Notes) -> Node | None:
    """The first list of a text; None where there is none. What is not closed is closed at the end."""
    places = _Places(text, file)
    stack: list[Node] = []
    root: Node | None = None
    fresh = False  # a parenthesis has been opened, its first word is to come
    skip = 0  # lists being left out: too deep
    for count, match in enumerate(_TOKEN.finditer(text)):
        token = match[0]
        if count > MOST:
            notes.error(places.word("", match.start()), f"more than {MOST:,} words: reading stops here")
            break
        if skip or (token == "(" and len(stack) >= DEEPEST):
            if not skip:
                notes.error(places.word("(", match.start()), f"more than {DEEPEST} lists inside each other",
                            "the inner ones are left out")
            skip += (token == "(") - (token == ")")
            continue
        if root is not None and not stack:
            notes.error(places.word(token, match.start()), "something follows the end of the netlist",
                        "it is left out")
            break
        if token == "(":
            node = Node(places.word("", match.start()))
            if stack:
                stack[-1].nodes.append(node)
            else:
                root = node
            stack.append(node)
            fresh = True
        elif token == ")":
            if not stack:
                notes.error(places.word(")", match.start()), "a parenthesis closes what was not opened")
                break
            stack.pop()
            fresh = False
        elif token == '"':
            notes.error(places.word('"', match.start()), "quotes that are not closed: reading stops here")
            break
        elif stack:
            word = places.word(_plain(token), match.start())
            if fresh:
                stack[-1].head = word
            else:
                stack[-1].words.append(word)
            fresh = False
    if stack and root is not None:
        notes.error(stack[-1].head, f"({stack[-1].name or '…'} is not closed: the file ends too early")
    return root


def _plain(token: str) -> str:
    if not token.startswith('"'):
        return token
    return re.sub(r"\\(.)", lambda m: _ESCAPES.get(m[1], m[1]), token[1:-1], flags=re.DOTALL)
