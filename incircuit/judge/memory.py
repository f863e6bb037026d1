"""What has been solved, kept so that a story with one more line is judged without solving the rest again.

Everything a judgement solves is a reading under a condition: between two pads of a circuit, by a meter's
setting, with a change of the circuit, on so many boards. That is the key; no story is part of it. So it
does not matter whether a line was added, taken back or changed.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field
from typing import Any
from weakref import WeakValueDictionary

from incircuit.circuit.build import Circuit


class Key:
    """What a page or a line is about; there is one object for all that are equal, so it is found at once."""

    __slots__ = ("__weakref__", "what")

    def __init__(self, what: tuple[Hashable, ...]) -> None:
        self.what = what


_KEYS: WeakValueDictionary[tuple[Hashable, ...], Key] = WeakValueDictionary()


def key_of(*what: Hashable) -> Key:
    """The key of something, the same one as long as anybody keeps it."""
    found = _KEYS.get(what)
    if found is None:
        found = _KEYS[what] = Key(what)
    return found


PageKey = Hashable
"""Circuit, meter and pads."""
LineKey = Hashable
"""What was asked there, under which change."""


Progress = Callable[[int, int], None]
"""Told how much of how much is done."""
PATIENT = 60
"""Batches after which a judgement is half done, as far as anybody can tell beforehand."""


@dataclass(frozen=True, slots=True)
class Memory:
    """What one judgement has solved. Never changed once handed out; hand it to the next judgement.

    `keys` are those of circuits, by the circuits' identity.
    """

    pages: Mapping[PageKey, Mapping[LineKey, Any]] = field(default_factory=dict)
    keys: Mapping[int, tuple[Circuit, Key]] = field(default_factory=dict)


@dataclass(slots=True)
class Page:
    """What is known about one thing, such as two pads of a circuit: `before` from an earlier judgement, `now`
    in this."""

    before: Mapping[LineKey, Any]
    now: dict[LineKey, Any]

    def known(self, key: LineKey) -> Any:
        """What stands for a key; None where nothing does."""
        found = self.now.get(key)
        if found is None and (found := self.before.get(key)) is not None:
            self.now[key] = found
        return found

    def once(self, key: LineKey, make: Callable[[], Any]) -> Any:
        """What stands for a key, made where it is not there."""
        found = self.known(key)
        if found is None:
            found = self.now[key] = make()
        return found


@dataclass(slots=True)
class Notes:
    """All pages of a judgement under way."""

    before: Memory = Memory()
    pages: dict[PageKey, Page] = field(default_factory=dict)
    keys: dict[int, tuple[Circuit, Key]] = field(default_factory=dict)
    progress: Progress | None = None
    batches: int = 0

    def solved(self) -> None:
        """Another batch is solved. How many there will be nobody knows, so progress slows down."""
        self.batches += 1
        if self.progress:
            self.progress(self.batches, self.batches + PATIENT)

    def page(self, key: PageKey) -> Page:
        """The page of a circuit, a meter and two pads, or of whatever else."""
        found = self.pages.get(key)
        if found is None:
            found = self.pages[key] = Page(self.before.pages.get(key, {}), {})
        return found

    def key(self, circuit: Circuit) -> Key:
        """The key of a circuit as it stands, the same for equal ones."""
        found = self.keys.get(id(circuit)) or self.before.keys.get(id(circuit))
        if found is None:
            found = circuit, key_of(circuit.elements, circuit.state)
        self.keys[id(circuit)] = found
        return found[1]

    def kept(self) -> Memory:
        """What this judgement used: what nobody asked for again is forgotten."""
        return Memory({key: page.now for key, page in self.pages.items()}, self.keys)
