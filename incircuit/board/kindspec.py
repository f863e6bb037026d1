"""What a board file may say about a kind of part: the shape of the entries of the kinds table."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Form = Literal["number", "drop", "percent", "word", "pins", "text"]
Style = Literal["bare", "named", "open"]


@dataclass(frozen=True, slots=True)
class OptionSpec:
    """One `key=text` option of a kind.

    `form` says how the text is read: ``number`` a value in `unit`; ``drop`` volts or volts@amps
    (``0.62@1mA``); ``percent``; ``word`` one of `choices`; ``pins`` pin names with commas between;
    ``text`` anything. `signed` allows a value below zero, `zero` allows zero. A name that ends in
    ``.*`` stands for every key with that beginning (``dcr.P``). `same_as` names the option this
    one is another word for.
    """

    name: str
    doc: str
    form: Form = "number"
    unit: str = ""
    choices: tuple[str, ...] = ()
    signed: bool = False
    zero: bool = True
    same_as: str = ""

    def matches(self, key: str) -> bool:
        """Whether `key` is this option: ``dcr.P`` is ``dcr.*``."""
        if self.name.endswith(".*"):
            return key.startswith(self.name[:-1]) and len(key) >= len(self.name)
        return key == self.name


GENERAL: tuple[OptionSpec, ...] = (
    OptionSpec("tol", "tolerance of the value", form="percent"),
    OptionSpec("access", "how hard the part is to reach: a free word", form="text"),
    OptionSpec("text", "a remark", form="text"),
)
"""Options of every part."""


@dataclass(frozen=True, slots=True)
class KindSpec:
    """What a board file may say about one kind of part.

    `style` ``bare``: pins may be two bare nets (pin names ``1`` and ``2``) or be named; ``named``:
    every pin is ``NAME=NET``; ``open``: named, and the names are the user's own. `layouts` are the
    allowed sets of required pins, the first being the usual one; `optional` pins may be left out.
    `word_layouts` binds a word to its own pins (dual diodes). `unit` is that of the value, ``""``
    where the kind has none; the value can come from an option in `value_options` as well, and is
    not missed when one of `instead_of_value` is given. `word_groups` are choices of at most one
    word each, the first being the default (``""``: no word). `rating_unit` is the unit of
    `Part.rating`.
    """

    name: str
    doc: str
    style: Style
    layouts: tuple[tuple[str, ...], ...]
    aliases: tuple[str, ...] = ()
    optional: tuple[str, ...] = ()
    word_layouts: tuple[tuple[str, tuple[str, ...]], ...] = ()
    unit: str = ""
    value_required: bool = False
    value_options: tuple[str, ...] = ()
    instead_of_value: tuple[str, ...] = ()
    word_groups: tuple[tuple[str, ...], ...] = ()
    options: tuple[OptionSpec, ...] = ()
    rating_unit: str = "V"
    words: tuple[str, ...] = field(init=False)  # every word, defaults first in each group
    pin_names: tuple[str, ...] = field(init=False)  # every pin of any layout, each once
    option_names: tuple[str, ...] = field(init=False)  # general options included

    def __post_init__(self) -> None:
        """Derive the three lists once: reading a file asks for them at every line."""
        names: dict[str, None] = {}
        for layout in (*self.layouts, *(pins for _, pins in self.word_layouts), self.optional):
            names.update(dict.fromkeys(layout))
        object.__setattr__(self, "words", tuple(w for group in self.word_groups for w in group if w))
        object.__setattr__(self, "pin_names", tuple(names))
        object.__setattr__(self, "option_names", tuple(o.name for o in (*self.options, *GENERAL)))

    @property
    def pins(self) -> tuple[str, ...]:
        """The pins of the usual layout; empty for an open kind."""
        return self.layouts[0] if self.layouts else ()

    def option(self, key: str) -> OptionSpec | None:
        """The option a key stands for, general ones included; None for an unknown key."""
        for spec in (*self.options, *GENERAL):
            if spec.matches(key):
                return spec
        return None

    def chosen(self, words: tuple[str, ...], group: int = 0) -> str:
        """The word of a group that a part has, or the group's default; ``""`` for no word."""
        if group >= len(self.word_groups):
            return ""
        choices = self.word_groups[group]
        for word in words:
            if word in choices:
                return word
        return choices[0]

    def required_pins(self, words: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
        """The allowed sets of required pins for a part with these words."""
        if not self.word_layouts:
            return self.layouts
        bound = dict(self.word_layouts)
        for group in self.word_groups:
            if group[0] in bound:
                choice = next((w for w in words if w in group), group[0])
                return (bound[choice],)
        return self.layouts
