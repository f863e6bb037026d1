"""What only the board can tell about a line: whether its pads, pins, parts and meter are there."""

from __future__ import annotations

import os

from incircuit.board.faults import did_you_mean
from incircuit.board.model import Board
from incircuit.board.pads import resolve_pad
from incircuit.board.state import HEALTHY, HOLDS_CHARGE
from incircuit.errors import PadError
from incircuit.meter.profile import shipped_meters
from incircuit.story.model import Entry, ReadingEntry, StateEntry
from incircuit.story.words import STATE_FORMS, Argument
from incircuit.units import shown

Wrong = tuple[int, str, str]
"""Which word of the line, counted from 0, what is wrong with it, and a hint."""


def wrong_names(entry: Entry, board: Board, file: str) -> tuple[Wrong, ...]:
    """Every name of a reading or statement that the board does not have; meters are sought beside `file`."""
    if isinstance(entry, ReadingEntry):
        pairs: list[tuple[Argument, str]] = [("pad", entry.red), ("pad", entry.black)]
        first = 0
    elif isinstance(entry, StateEntry):
        pairs = list(zip(STATE_FORMS[entry.word].arguments, entry.args, strict=True))
        first = 1
    else:
        return ()
    found = [(at, *told) for at, (what, name) in enumerate(pairs, first)
             if (told := _wrong(what, name, board, file))]
    if isinstance(entry, StateEntry) and not found and entry.word in ("charge", "discharge"):
        kind = board.part(entry.args[0]).kind
        if kind not in HOLDS_CHARGE:
            return ((1, f"{entry.args[0]} is of kind {kind}",
                     "only a capacitor or an insulated gate keeps a charge"),)
    return tuple(found)


def meter_named(name: str, file: str) -> str:
    """What `incircuit.meter.profile.load_meter` takes: a shipped name, or a path beside the file."""
    return name if not name or name in shipped_meters() else os.path.join(os.path.dirname(file), name)


def _wrong(what: Argument, name: str, board: Board, file: str) -> tuple[str, str] | None:
    """Message and hint, or None where the name is all right."""
    if what == "pad":
        try:
            resolve_pad(board, HEALTHY, name)
        except PadError as error:
            message, _, hint = str(error).partition(": ")
            return message, hint
    if what == "part":
        return _wrong_part(name, board)
    if what in ("pin", "pin or part"):
        return _wrong_pin(name, board, what == "pin or part")
    if what == "meter" and not _is_meter(meter_named(name, file)):
        hint = did_you_mean(name, shipped_meters()) or f"shipped ones are {', '.join(shipped_meters())}"
        return f'there is no meter and no profile "{shown(name)}"', hint
    return None


def _wrong_part(name: str, board: Board) -> tuple[str, str] | None:
    refs = [part.ref for part in board.parts]
    if name in refs:
        return None
    ref = name.partition(".")[0]
    hint = f"the whole part is {ref}" if ref in refs else did_you_mean(name, refs)
    return f'there is no part "{shown(name)}"', hint or "name a part of the board"


def _wrong_pin(name: str, board: Board, or_part: bool) -> tuple[str, str] | None:
    ref, dot, pin = name.partition(".")
    if wrong := _wrong_part(ref, board):
        return wrong
    names = board.part(ref).pin_names
    if (dot and pin in names) or (not dot and or_part):
        return None
    known = " ".join(f"{ref}.{each}" for each in names[:12])
    message = f'{ref} has no pin "{shown(pin)}"' if dot else f"{ref} is a part, not a pin"
    return message, f"write one of {known}"


def _is_meter(name: str) -> bool:
    try:
        return name in shipped_meters() or os.path.isfile(name)
    except ValueError:  # a NUL in the path
        return False
