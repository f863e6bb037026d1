"""Subcircuits put in place: a deck with its hierarchy to devices between nets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from incircuit.netlists.deck import Card
from incircuit.netlists.notes import Notes, Word
from incircuit.netlists.scopes import DEEPEST, Scope, number_of
from incircuit.units import shown

MOST_DEVICES = 20_000
"""Devices a deck may have once its subcircuits are put in place."""

NODES = {"r": 2, "c": 2, "l": 2, "d": 2, "v": 2, "i": 2, "j": 3, "s": 4, "w": 2}
"""Nets of the devices whose number is fixed; those of Q and M end before the model."""
BEHAVING = frozenset("abefghopntuyz")
"""Devices that describe behaviour and are no part: controlled sources, lines, digital ones, and so on."""
GROUND = "0"


@dataclass(frozen=True, slots=True)
class Device:
    """One device: `ref` with its path (``X1/R2``), nets as the board will name them, its card and values.

    `scope` and `params` are where its model and its numbers are looked up. `ports` are set for an X that
    is kept as a whole: names of its pins.
    """

    ref: str
    letter: str
    nets: tuple[str, ...]
    card: Card
    scope: Scope
    params: dict[str, float]
    ports: tuple[str, ...] = ()
    why: str = ""

    def number(self, word: Word) -> float | None:
        """Value of a word of the card."""
        return number_of(word, self.scope, self.params)


@dataclass(slots=True)
class _Flattening:
    notes: Notes
    shared: frozenset[str]
    names: dict[str, str] = field(default_factory=dict)  # net in lower case → as typed first
    behaving: dict[int, str] = field(default_factory=dict)  # of each subcircuit met, by identity
    count: int = 0  # devices and placements
    full: bool = False

    def net(self, text: str, path: str, outer: Mapping[str, str]) -> str:
        """The board's name of a net of a card inside `path`."""
        low = text.lower()
        if low in ("0", "gnd"):
            return self.names.setdefault(GROUND, GROUND)
        if path and low not in self.shared:
            if low in outer:
                return outer[low]
            text = f"{path}/{text}"
        return self.names.setdefault(text.lower(), text)


def flatten(top: Scope, shared: frozenset[str], notes: Notes) -> Iterator[Device]:
    """Every device of a deck, subcircuits put in place; those that only behave stay whole."""
    yield from _inside(_Flattening(notes, shared), top, "", {}, dict(top.params), ())


def _inside(work: _Flattening, scope: Scope, path: str, outer: Mapping[str, str], params: dict[str, float],
            above: tuple[str, ...]) -> Iterator[Device]:
    for card in scope.cards:
        if work.full:
            return
        letter = card.name[0]
        ref = f"{path}/{card.head.text}" if path else card.head.text
        if letter == "x":
            yield from _placed(work, card, scope, ref, path, outer, params, above)
            continue
        count = _net_count(card, letter, scope)
        if count is None or len(card.words) < count:
            if letter not in BEHAVING and letter != "k":
                work.notes.error(card.head, f"{card.head.text} lacks nets or its model: it is left out")
            elif letter != "k":  # coupling of windings: nothing for direct current
                work.notes.error(card.head, f"{card.head.text} describes behaviour and is no part: left out")
            continue
        nets = tuple(work.net(w.text, path, outer) for w in card.words[:count])
        yield from _counted(work, Device(ref, letter, nets, card, scope, params))


def _counted(work: _Flattening, device: Device) -> Iterator[Device]:
    if _room(work, device.card):
        yield device


def _room(work: _Flattening, card: Card) -> bool:
    """Whether there is room for one more device or placement."""
    work.count += 1
    if work.count > MOST_DEVICES and not work.full:
        work.full = True
        work.notes.error(card.head, f"more than {MOST_DEVICES:,} devices: reading stops here",
                         "bring in the neighbourhood you measure in")
    return not work.full


def _net_count(card: Card, letter: str, scope: Scope) -> int | None:
    """How many of a card's words are nets; None where that cannot be told."""
    if letter in NODES:
        return NODES[letter]
    if letter not in ("q", "m"):
        return None
    least, most = (3, 5) if letter == "q" else (3, 4)
    for count in range(least, min(most, len(card.words) - 1) + 1):
        if scope.model(card.words[count].text) is not None:
            return count
    usual = 3 if letter == "q" else 4  # without a model in sight: the plain form
    return usual if len(card.words) > usual else least if len(card.words) > least else None


def _placed(work: _Flattening, card: Card, scope: Scope, ref: str, path: str, outer: Mapping[str, str],
            params: dict[str, float], above: tuple[str, ...]) -> Iterator[Device]:
    words = [w for w in card.words if w.text.lower() != "params:"]
    if not words:
        work.notes.error(card.head, f"{card.head.text} names no subcircuit")
        return
    name, nets = words[-1], tuple(work.net(w.text, path, outer) for w in words[:-1])
    made = scope.definition(name.text)
    if made is None:
        yield from _counted(work, Device(ref, "x", nets, card, scope, params,
                                         tuple(str(k) for k in range(1, len(nets) + 1)),
                                         f"the deck has no .subckt {shown(name.text)}"))
        return
    if len(made.ports) != len(nets):
        work.notes.error(name, f"{card.head.text} has {len(nets)} nets, .subckt {made.name} has "
                         f"{len(made.ports)}: it is left out")
        return
    if made.name in above or len(above) >= DEEPEST:
        wrong = "contains itself" if made.name in above else f"lies more than {DEEPEST} deep"
        work.notes.error(name, f".subckt {made.name} {wrong}: it is left out")
        return
    behaviour = behaves(made, work.behaving)
    if behaviour:
        yield from _counted(work, Device(ref, "x", nets, card, scope, params, made.ports,
                                         f".subckt {made.name} holds {behaviour}, which is no part"))
        return
    given = {key: value for key, word in card.pairs
             if (value := number_of(word, scope, params)) is not None}
    for key, word in card.pairs:
        if key not in given:
            work.notes.error(word, f"{key} of {card.head.text} is not a plain number: {shown(word.text)}")
    if not _room(work, card):
        return
    inner = {port.lower(): net for port, net in zip(made.ports, nets, strict=True)}
    yield from _inside(work, made, ref, inner, made.params | given, (*above, made.name))


def behaves(scope: Scope, known: dict[int, str]) -> str:
    """The first device in a subcircuit, or in those it uses, that only describes behaviour; else ``""``.

    `known` holds what was found of each, so that each is looked through once.
    """
    if id(scope) in known:
        return known[id(scope)]
    known[id(scope)] = ""  # while it is looked at: one that contains itself adds nothing
    for card in scope.cards:
        found = card.head.text if card.name[0] in BEHAVING else ""
        if card.name[0] == "x" and card.words:
            made = scope.definition(card.words[-1].text)
            found = behaves(made, known) if made else ""
        if found:
            known[id(scope)] = found
            break
    return known[id(scope)]
