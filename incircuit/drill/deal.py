"""Dealing a bench: the board of a level, and what is wrong with it. The same seed deals the same bench."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

from incircuit.advise.conditions import Condition, conditions_of
from incircuit.board.model import Board
from incircuit.board.reader import parse_board
from incircuit.circuit.build import Circuit, build
from incircuit.drill.case import Case, Hidden
from incircuit.drill.levels import LEVELS, PAIR, Level
from incircuit.errors import DrillError
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Resistance
from incircuit.parts.priors import ASSEMBLY
from incircuit.starts import starting_point

BRIDGE_OHMS = 0.05
"""[Ω] A blob of solder, from memory."""


def level_of(number: int) -> Level:
    """A level by its number. Raises DrillError."""
    for level in LEVELS:
        if level.number == number:
            return level
    raise DrillError(f"there is no level {number}: {LEVELS[0].number} to {LEVELS[-1].number}")


def deal(
    number: int, seed: int, board: Board | None = None, source: str = "", meter: str = "handheld"
) -> Case:
    """The bench of a level and a seed, on a board of the level or on `board`.

    `source` names that board in results. Raises DrillError for a level that is none and a board on which
    nothing can be wrong, MeterError for a meter that is none.
    """
    level = level_of(number)
    rng = random.Random(f"deal {number} {seed} {source}")
    if board is None:
        source = rng.choice(level.boards) if level.boards else "diode and resistor"
        board = parse_board(starting_point(source).text if level.boards else PAIR)
    circuit = build(board)
    conditions = conditions_of(circuit)
    if not conditions:
        raise DrillError("nothing on this board can fail so that a meter shows it: take another board")
    faults = () if rng.random() < level.healthy else _faults(level, circuit, conditions, rng)
    if level.hands:
        board = replace(board, flags=tuple(dict.fromkeys((*board.flags, "worked-on"))))
    return Case(board, load_meter(meter), meter, source or board.title, number, level.line, seed, faults)


def _faults(
    level: Level, circuit: Circuit, conditions: Sequence[Condition], rng: random.Random
) -> tuple[Hidden, ...]:
    """The failed part first, then what hands have left behind."""
    worn = [c for c in conditions if c.fault.split()[0] in level.words]
    first = _one(worn or list(conditions), rng)
    if not level.hands:
        return (first,)
    left = [c for c in conditions if c.fault.split()[0] in ASSEMBLY and c.part != first.part]
    second = _bridge(circuit, rng) if not left or rng.random() < 0.25 else _one(left, rng)
    if second is None:
        return (first,)
    return rng.choice(((first, second), (second,), (first, second)))


def _one(conditions: Sequence[Condition], rng: random.Random) -> Hidden:
    """A part, then one of its faults: a part of many pins is dealt no oftener for that."""
    parts = list(dict.fromkeys(c.part for c in conditions))
    part = rng.choice(parts)
    chosen = rng.choice([c for c in conditions if c.part == part])
    return Hidden(part, chosen.fault, chosen.size)


def _bridge(circuit: Circuit, rng: random.Random) -> Hidden | None:
    """Solder between two nets that meet at one part, which is where they lie side by side."""
    joined = {frozenset((e.a, e.b)) for e in circuit.elements if isinstance(e, Resistance) and e.ohms < 1.0}
    pairs = sorted(
        {
            (min(a, b), max(a, b))
            for p in circuit.board.parts
            for (_, a), (_, b) in zip(p.pins, p.pins[1:], strict=False)
            if a != b and frozenset((a, b)) not in joined
        }
    )
    return Hidden("", "bridge", BRIDGE_OHMS, rng.choice(pairs)) if pairs else None
