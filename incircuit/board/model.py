"""What a board file says, as plain immutable data. No electronics here."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Place:
    """Where in which file; line and column count from 1."""

    file: str
    line: int
    column: int = 1


@dataclass(frozen=True, slots=True)
class Net:
    """An electrical node. `hidden`: no place to put a probe. `pad`: a named test point on it."""

    name: str
    text: str = ""
    pad: str = ""
    hidden: bool = False
    place: Place | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Part:
    """One part as typed.

    `pins` are (pin name, net name) in the order of the file. `value` is in SI units (ohm, farad,
    henry, volt: whatever the kind's value means), None where none was given. `tolerance` is a
    fraction (0.05 for 5%), `rating` in volts (a fuse's in amps, a zener's in watts: the
    kind's `rating_unit`). `words` are the bare words after the value (class,
    `open`, `closed` …), `options` the `key=text` pairs as typed.
    """

    ref: str
    kind: str
    pins: tuple[tuple[str, str], ...]
    value: float | None = None
    tolerance: float | None = None
    rating: float | None = None
    words: tuple[str, ...] = ()
    options: tuple[tuple[str, str], ...] = ()
    ratings: tuple[tuple[str, float], ...] = ()  # further ratings: (unit, value), as ("W", 2.0)
    place: Place | None = field(default=None, compare=False)

    def net(self, pin: str) -> str:
        """Net of a pin. Raises KeyError for a pin the part does not have."""
        for name, net in self.pins:
            if name == pin:
                return net
        raise KeyError(pin)

    def option(self, key: str, default: str | None = None) -> str | None:
        """Text of `key=text`, or the default."""
        for name, text in self.options:
            if name == key:
                return text
        return default

    @property
    def pin_names(self) -> tuple[str, ...]:
        """Names of the pins, in the order of the file."""
        return tuple(name for name, _ in self.pins)


@dataclass(frozen=True, slots=True)
class Supply:
    """What powers the board when it works: `word` ``mains`` (two or three nets, effective volts between two
    of them) or ``supply`` (plus, minus, direct volts)."""

    word: str
    nets: tuple[str, ...]
    volts: float
    place: Place | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Statement:
    """One line of the file, kept so that writing gives the same text back."""

    word: str  # board, net, part, alike, include, mains, supply, blank
    text: str  # the statement as typed, without comment and trailing blanks
    comment: str = ""  # from '#' on, '' if none
    ref: str = ""  # the part, net or included file it stands for
    gap: str = ""  # blanks between the statement and the comment, or at the end of the line
    place: Place | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class Board:
    """A board or a neighbourhood of one. Parts are in file order, refs unique."""

    title: str = ""
    nets: tuple[Net, ...] = ()
    parts: tuple[Part, ...] = ()
    alike: tuple[tuple[str, ...], ...] = ()
    flags: tuple[str, ...] = ()  # words after the title: worked-on
    statements: tuple[Statement, ...] = field(default=(), compare=False)
    supplies: tuple[Supply, ...] = ()

    def part(self, ref: str) -> Part:
        """The part of that ref. Raises KeyError."""
        for part in self.parts:
            if part.ref == ref:
                return part
        raise KeyError(ref)

    def net_names(self) -> tuple[str, ...]:
        """All nets, declared and used, in order of first mention."""
        seen: dict[str, None] = {net.name: None for net in self.nets}
        for part in self.parts:
            for _, name in part.pins:
                seen[name] = None
        return tuple(seen)

    def pins_on(self, net: str) -> Iterator[tuple[Part, str]]:
        """(part, pin) for every pin on a net."""
        for part in self.parts:
            for pin, name in part.pins:
                if name == net:
                    yield part, pin
