"""From the text of a SPICE deck to its cards: lines joined, comments gone, words with their places.

Nothing here knows what a card means, and nothing is ever run: a `.control` section is skipped.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from incircuit.board.faults import Line
from incircuit.netlists.notes import Notes, Word

LONGEST_CARD = 20_000
"""Words a card may have, continuation lines included."""

_WORD = re.compile(r"\"[^\"]*\"?|'[^']*'?|\{[^{}]*\}?|=|[^\s,()={}'\"]+")
_COMMENT = re.compile(r";|(?:^|\s)\$(?:\s|$)|(?:^|\s)//")


@dataclass(frozen=True, slots=True)
class Card:
    """One card: its first word, then words by position, then KEY = VALUE pairs with the key in lower case."""

    head: Word
    words: tuple[Word, ...]
    pairs: tuple[tuple[str, Word], ...]

    @property
    def name(self) -> str:
        """The first word in lower case; some editors put a § before a name that hides its kind."""
        return self.head.text.lower().lstrip("§") or "?"

    def pair(self, key: str) -> Word | None:
        """The value of the last ``key=``."""
        return next((value for name, value in reversed(self.pairs) if name == key), None)


def cards_of(text: str, file: str, notes: Notes, titled: bool) -> Iterator[Card]:
    """The cards of a text in order. `titled`: its first line is a title and no card."""
    words: list[Word] = []
    skipping = False
    for number, raw in enumerate(text.split("\n"), start=1):
        line = Line(file, number, raw)
        body = raw.lstrip()
        if (titled and number == 1) or not body or body[0] == "*":
            continue
        first = body.split(None, 1)[0].lower()
        if skipping or first == ".control":
            if not skipping:
                notes.warn(Word(first, line, 1), "commands are never run: skipped up to .endc")
            skipping = first != ".endc"
            continue
        more = body[0] == "+"
        if more and not words:
            notes.error(Word(body, line, raw.index("+") + 1), "a continuation line with nothing before it")
            continue
        if not more and words:
            yield _card(words)
            words = []
        found = _words(line, raw.index("+") + 1 if more else 0)
        if len(words) + len(found) > LONGEST_CARD:
            notes.error(Word(body[:20], line, 1), f"a card of more than {LONGEST_CARD:,} words",
                        "the rest of it is left out")
            continue
        words += found
    if words:
        yield _card(words)


def _words(line: Line, start: int) -> list[Word]:
    """The words of a line from a column on, up to a comment outside quotes."""
    found: list[Word] = []
    end = len(line.text)
    for comment in _COMMENT.finditer(line.text, start):
        if line.text.count('"', start, comment.start()) % 2 == 0:
            end = comment.start()
            break
    for match in _WORD.finditer(line.text, start, end):
        found.append(Word(match[0], line, match.start() + 1))
    return found


def _card(words: list[Word]) -> Card:
    """Words to positions and pairs: what stands around ``=`` is a pair, also with blanks between."""
    plain: list[Word] = []
    pairs: list[tuple[str, Word]] = []
    at = 1
    while at < len(words):
        if at + 1 < len(words) and words[at + 1].text == "=":
            value = words[at + 2] if at + 2 < len(words) and words[at + 2].text != "=" else words[at + 1]
            pairs.append((words[at].text.lower(), value))
            at += 3
        else:
            plain.append(words[at])
            at += 1
    return Card(words[0], tuple(plain), tuple(pairs))
