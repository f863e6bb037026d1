"""What a deck defines and where: subcircuits inside each other, models, parameters, included files."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, field

from incircuit.errors import NetlistError
from incircuit.netlists.deck import Card, cards_of
from incircuit.netlists.models import Model, model_of
from incircuit.netlists.notes import Notes, Word
from incircuit.netlists.numbers import spice_number
from incircuit.netlists.source import confined, read_netlist_text
from incircuit.units import shown

DEEPEST = 20
"""So many files may include each other in a chain, so many definitions stand inside each other."""
MOST_TEXT = 40_000_000
"""Characters that all files of a deck may have together."""

_CHANGE_THE_CIRCUIT = (".func", ".if", ".elseif", ".else", ".endif", ".connect", ".alter")
"""What this reader does not follow although it may change the circuit. Analyses and outputs do not."""


@dataclass(slots=True)
class Scope:
    """A subcircuit, or the deck itself. `name` and all keys in lower case, `ports` as typed."""

    name: str
    parent: Scope | None = None
    ports: tuple[str, ...] = ()
    cards: list[Card] = field(default_factory=list)
    models: dict[str, Model] = field(default_factory=dict)
    inner: dict[str, Scope] = field(default_factory=dict)
    params: dict[str, float] = field(default_factory=dict)
    at: Word | None = None

    def up(self) -> Iterator[Scope]:
        """This scope and those around it, the innermost first."""
        scope: Scope | None = self
        while scope is not None:
            yield scope
            scope = scope.parent

    def model(self, name: str) -> Model | None:
        """The model of that name that can be seen from here."""
        return next((s.models[name.lower()] for s in self.up() if name.lower() in s.models), None)

    def definition(self, name: str) -> Scope | None:
        """The subcircuit of that name that can be seen from here."""
        return next((s.inner[name.lower()] for s in self.up() if name.lower() in s.inner), None)


@dataclass(slots=True)
class _Reader:
    folder: str
    notes: Notes
    top: Scope = field(default_factory=lambda: Scope(""))
    shared: set[str] = field(default_factory=set)  # nets of .global
    chain: list[str] = field(default_factory=list)  # files being read, links followed
    read: int = 0


def read_scopes(text: str, file: str, notes: Notes) -> tuple[Scope, frozenset[str]]:
    """Everything a deck and the files it includes define, and its global nets in lower case."""
    reader = _Reader(os.path.dirname(file) or ".", notes)
    _read(reader, text, file, reader.top, titled=True)
    return reader.top, frozenset(reader.shared)


def _read(reader: _Reader, text: str, file: str, scope: Scope, titled: bool = False) -> None:
    reader.chain.append(os.path.realpath(file))
    outer = scope
    for card in cards_of(text, file, reader.notes, titled):
        name = card.name
        if name == ".end":
            break
        if not name.startswith("."):
            scope.cards.append(card)
        elif name == ".subckt":
            scope = _opened(reader, card, scope)
        elif name in (".ends", ".eom"):
            if scope is outer or scope.parent is None:
                reader.notes.error(card.head, f"{name} without a .subckt")
            else:
                scope = scope.parent
        else:
            _dot(reader, card, scope, file)
    if scope is not outer and scope.at is not None:
        reader.notes.error(scope.at, f".subckt {scope.name} is not closed: all below it belongs to it",
                           "write .ends")
    reader.chain.pop()


def _opened(reader: _Reader, card: Card, scope: Scope) -> Scope:
    name = card.words[0].text.lower() if card.words else ""
    if not name:
        reader.notes.error(card.head, ".subckt needs a name and its nets", "write .subckt NAME NET NET")
    elif name in scope.inner:
        reader.notes.error(card.words[0], f"a second .subckt {name}", "the first one counts")
    deep = sum(1 for _ in scope.up())
    if deep > DEEPEST:
        reader.notes.error(card.head, f".subckt inside each other more than {DEEPEST} deep")
    ports = tuple(w.text for w in card.words[1:] if w.text.lower() != "params:")
    made = Scope(name, scope, ports, at=card.head)
    _parameters(reader, card, made)
    if name and deep <= DEEPEST:
        scope.inner.setdefault(name, made)
    return made


def _dot(reader: _Reader, card: Card, scope: Scope, file: str) -> None:
    name = card.name
    if name == ".model":
        model = model_of(card, reader.notes)
        if model is not None:
            scope.models.setdefault(model.name, model)
    elif name in (".param", ".params", ".parameters"):
        _parameters(reader, card, scope)
    elif name in (".include", ".inc", ".incl"):
        _include(reader, card, scope, file)
    elif name == ".global":
        reader.shared.update(w.text.lower() for w in card.words)
    elif name == ".lib":
        reader.notes.warn(card.head, ".lib is not followed: what it holds is not in the board",
                          ".include a file beside the deck that has the models you need")
    elif name in _CHANGE_THE_CIRCUIT:
        reader.notes.error(card.head, f"{name} is not followed: what it brings in is left out",
                           "put it into the deck, or .include a file beside it")


def _parameters(reader: _Reader, card: Card, scope: Scope) -> None:
    for key, word in card.pairs:
        value = number_of(word, scope, scope.params)
        if value is None:
            reader.notes.error(word, f"{key} = {shown(word.text)} is not a plain number",
                               "only plain numbers and names of other parameters are worked out")
        else:
            scope.params[key] = value


def number_of(word: Word, scope: Scope, params: dict[str, float]) -> float | None:
    """The value of a word: a number, or the name of a parameter, in braces or quotes or bare."""
    text = word.text
    inner = text[1:-1].strip() if len(text) > 1 and text[0] + text[-1] in ("{}", "''") else text
    found = spice_number(inner)
    if found is not None:
        return found[0]
    low = inner.lower()
    if low in params:
        return params[low]
    return next((s.params[low] for s in scope.up() if low in s.params), None)


def _include(reader: _Reader, card: Card, scope: Scope, file: str) -> None:
    if not card.words:
        reader.notes.error(card.head, f"{card.name} needs a file name")
        return
    word = card.words[0]
    name = word.text.strip("\"'").replace("\\", "/")  # decks travel from one system to another
    path = confined(reader.folder, file, name)
    wrong, text = "", ""
    if path is None:
        wrong = "lies outside the folder of the deck and is not read"
    elif os.path.realpath(path) in reader.chain:
        wrong = "includes itself"
    elif len(reader.chain) > DEEPEST:
        wrong = f"is included more than {DEEPEST} files deep"
    else:
        try:
            text = read_netlist_text(path)
        except NetlistError as error:
            wrong = error.problems[0].message
    reader.read += len(text)
    if reader.read > MOST_TEXT:
        wrong = f"makes the deck larger than {MOST_TEXT:,} characters"
    if wrong or path is None:
        reader.notes.error(word, f'"{shown(name)}" {wrong}',
                           "files are named relative to the one they stand in")
        return
    _read(reader, text, path, scope)
