"""Voltages on the board when it was last powered: from its mains and supply lines, at rest.

Mains is taken at its peak, each pair of its nets either way round; the supplies of `supply` lines stand
beside it. What chips and switches do while they run is not known; a stage that makes a higher voltage needs
a supply line of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import permutations

import numpy as np

from incircuit.board.model import Board
from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.parts.elements import Capacitance
from incircuit.predict.volts import MAINS_TOLERANCE, Supply, peak, voltages


def ways(board: Board, with_supplies: bool = True, rms: float | None = None) -> Iterator[tuple[Supply, ...]]:
    """Every way the board is fed: each pair of mains nets at its peak, either way round, and the supplies.

    `rms` [V] stands for the mains of the board file where given. Only the supplies where there is no mains.
    """
    fixed = tuple(Supply(s.nets[0], s.nets[1], s.volts) for s in board.supplies if s.word == "supply")
    fixed = fixed if with_supplies else ()
    mains = [s for s in board.supplies if s.word == "mains"]
    for line in mains:
        volts, spread = peak(line.volts if rms is None else rms, MAINS_TOLERANCE)
        for plus, minus in permutations(line.nets, 2):
            yield (Supply(plus, minus, volts, spread=spread), *fixed)
    if not mains and fixed:
        yield fixed


def highest(circuit: Circuit, pairs: Sequence[tuple[str, str]], boards: int = 0, with_supplies: bool = True,
            rms: float | None = None, load: float = math.inf) -> Floats | None:
    """Voltage [V] across each pair, where it is largest over all `ways`, (pairs, boards + 1); None without
    any feed. The sign is that of the first node against the second; `load` [ohm] is the meter's."""
    found: Floats | None = None
    for feed in ways(circuit.board, with_supplies, rms):
        one = voltages(circuit, (), feed, pairs, load, boards)[:, 0]
        if found is None:
            found = one
        else:
            larger = np.abs(one[:, 0]) > np.abs(found[:, 0])
            found = np.where(larger[:, None], one, found)
    return found


def with_charges(circuit: Circuit, charges: dict[str, float]) -> Circuit:
    """The circuit with its capacitances charged [V], by element name."""
    return replace(circuit, elements=tuple(
        replace(e, volts=charges[e.name]) if isinstance(e, Capacitance) and e.name in charges else e
        for e in circuit.elements))
