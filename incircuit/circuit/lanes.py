"""What the compiled kernel does to rows of numbers; a row is `LANES` scenarios side by side.

Importing this needs numba, the extra ``fast``. A row is handed on as a pointer to its first number and worked
on pack by pack, see `incircuit.circuit.packs`.
"""

from __future__ import annotations

from typing import Any

from incircuit.circuit.packs import WIDTH, beyond, get, inlined, lane_function, prefetch, put, where

LANES = 128


@inlined
def row(first: Any, number: int) -> Any:
    """The row so many rows after the first."""
    return beyond(first, number * LANES)


@lane_function
def ask_for(first: Any) -> None:
    """Ask for a whole row."""
    for k in range(0, LANES, 8):
        prefetch(beyond(first, k))


@lane_function
def fill(out: Any, number: float) -> None:
    """One number everywhere."""
    for k in range(0, LANES, WIDTH):
        put(out, k, number)


@lane_function
def copy(out: Any, a: Any) -> None:
    """out = a."""
    for k in range(0, LANES, WIDTH):
        put(out, k, get(a, k))


@lane_function
def add(out: Any, a: Any) -> None:
    """out += a."""
    for k in range(0, LANES, WIDTH):
        put(out, k, get(out, k) + get(a, k))


@inlined
def at_least(most: Any, size: Any) -> Any:
    """The larger of two sizes; what is not a number stays so."""
    return where(most >= size, most, where(most == most, size, most))
