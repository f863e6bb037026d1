"""What has been solved, kept so that a story with one more line is judged without solving the rest again.

Everything a judgement solves is a reading under a condition: between two pads of a circuit, by a meter's
setting, with a change of the circuit, on so many boards. That is the key; no story is part of it. So it
does not matter whether a line was added, taken back or changed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from incircuit.circuit.elimination import Floats

PageKey = tuple[Any, ...]
"""Circuit, meter and pads."""
LineKey = tuple[Any, ...]
"""What was asked there, under which change."""


Progress = Callable[[int, int], None]
"""Told how much of how much is done."""
PATIENT = 60
"""Batches after which a judgement is half done, as far as anybody can tell beforehand."""


@dataclass(frozen=True, slots=True)
class Memory:
    """What one judgement has solved. Never changed once handed out; hand it to the next judgement."""

    pages: Mapping[PageKey, Mapping[LineKey, Any]] = field(default_factory=dict)


@dataclass(slots=True)
class Page:
    """What is known between two pads of one circuit: `before` from an earlier judgement, `now` in this."""

    before: Mapping[LineKey, Any]
    now: dict[LineKey, Any]

    def known(self, key: LineKey) -> Floats | None:
        """What was solved for a key, (boards + 1,); None where nothing was."""
        if key not in self.now and key in self.before:
            self.now[key] = self.before[key]
        return self.now.get(key)

    def once(self, key: LineKey, make: Callable[[], Any]) -> Any:
        """What stands for a key, made where it is not there."""
        if self.known(key) is None:
            self.now[key] = make()
        return self.now[key]


@dataclass(slots=True)
class Notes:
    """All pages of a judgement under way."""

    before: Memory = Memory()
    pages: dict[PageKey, Page] = field(default_factory=dict)
    progress: Progress | None = None
    batches: int = 0

    def solved(self) -> None:
        """Another batch is solved. How many there will be nobody knows, so progress slows down."""
        self.batches += 1
        if self.progress:
            self.progress(self.batches, self.batches + PATIENT)

    def page(self, key: PageKey) -> Page:
        """The page of a circuit, a meter and two pads."""
        found = self.pages.get(key)
        if found is None:
            found = self.pages[key] = Page(self.before.pages.get(key, {}), {})
        return found

    def kept(self) -> Memory:
        """What this judgement used: what nobody asked for again is forgotten."""
        return Memory({key: page.now for key, page in self.pages.items()})
