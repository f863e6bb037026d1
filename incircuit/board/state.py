"""What has been done to the board: lifted, removed, jumpered, charged, made faulty."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class State:
    """The condition of the board on the bench, immutable.

    `lifted` holds (ref, pin); `removed` refs; `jumpers` pairs of nets joined by a wire;
    `faults` fault texts as typed, such as ``Q1 short C-E``; `charge` (ref, volts) left on a
    capacitor or an insulated gate; `celsius` the temperature of the board.
    """

    lifted: frozenset[tuple[str, str]] = frozenset()
    removed: frozenset[str] = frozenset()
    jumpers: tuple[tuple[str, str], ...] = ()
    faults: tuple[str, ...] = ()
    charge: tuple[tuple[str, float], ...] = ()
    celsius: float = 25.0


HEALTHY = State()


def pad_node(ref: str, pin: str) -> str:
    """Node of a lifted pin: it has left its net. A blank cannot occur in a net name."""
    return f"{ref} {pin}"
