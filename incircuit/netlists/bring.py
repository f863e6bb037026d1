"""A foreign netlist to a board: which format it is, and the way through the other modules."""

from __future__ import annotations

import os
from collections.abc import Sequence

from incircuit.board.faults import Line
from incircuit.errors import NetlistError, Problem
from incircuit.netlists.assemble import Imported, assemble
from incircuit.netlists.devices import Found, parts_of
from incircuit.netlists.flat import flatten
from incircuit.netlists.notes import Notes, Word
from incircuit.netlists.numbers import spice_number
from incircuit.netlists.overrides import Override
from incircuit.netlists.scopes import read_scopes
from incircuit.netlists.source import read_netlist_text
from incircuit.units import shown


def import_netlist(path: str | os.PathLike[str], overrides: Sequence[Override] = ()) -> Imported:
    """The board of a netlist file: a SPICE deck, or a schematic editor's S-expression export.

    Reads that file and, for a deck, what it includes from its own folder; nothing is run or fetched.
    Raises NetlistError for a file that cannot be read at all or holds no part, and for an override that
    does not fit; everything else that was left out is in `Imported.problems`.
    """
    name = os.fspath(path)
    return import_text(read_netlist_text(name), name, overrides)


def import_text(text: str, file: str = "<text>", overrides: Sequence[Override] = ()) -> Imported:
    """As `import_netlist`, from a text. `file` is shown in problems, includes are relative to its folder."""
    notes = Notes()
    if text.lstrip().startswith("("):
        from incircuit.netlists.schematic import schematic_parts

        title, found, nets = schematic_parts(text, file, notes)
    else:
        title, found, nets = _title(text), _deck_parts(text, file, notes), ()
    if not found:
        problems = notes.told() or (Problem(file, 1, 1, "there is no part in it",
                                            hint="expected a SPICE deck or an exported netlist"),)
        raise NetlistError(problems)
    return assemble(title, os.path.basename(file), found, nets, overrides, notes)


def _deck_parts(text: str, file: str, notes: Notes) -> list[Found]:
    _hidden_card(text, file, notes)
    top, shared = read_scopes(text, file, notes)
    found: list[Found] = []
    seen: set[str] = set()
    for device in flatten(top, shared, notes):
        if device.ref.lower() in seen:
            notes.error(device.card.head, f"a second {device.ref}: it is left out")
            continue
        seen.add(device.ref.lower())
        found += parts_of(device, notes)
    return found


def _hidden_card(text: str, file: str, notes: Notes) -> None:
    """Warn where the first line of a deck, its title, looks like a card that was meant."""
    first = text.partition("\n")[0]
    words = first.split()
    card = len(words) == 4 and words[0][0].lower() in "rclvi" and words[0][1:].isalnum()
    if card and spice_number(words[3]) is not None:
        notes.warn(Word(words[0], Line(file, 1, first), 1),
                   f"the first line of a deck is its title: {shown(words[0])} is not read",
                   "put a title above it")


def _title(text: str) -> str:
    """The first line of a deck is its title."""
    first = text.partition("\n")[0].strip().lstrip("*").strip()
    return "".join(c if c.isprintable() else " " for c in first.removeprefix(".title").strip())
