"""A board and its changes as one network in which capacitances carry current."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.network import Network
from incircuit.circuit.sampling import drawn_capacitances
from incircuit.circuit.transient import Plant
from incircuit.parts.elements import Change
from incircuit.paths.blocks import meters_block
from incircuit.predict.variants import NO_CHANGE, Variants, compile_variants, values_of


@dataclass(frozen=True, slots=True)
class Charged:
    """All conditions and boards, column = condition·(boards + 1) + board; condition 0 is the board as it is.

    `charges` [V] are what the capacitances hold before the meter comes, (companions, columns).
    """

    plant: Plant
    charges: Floats
    conditions: int
    boards: int

    @property
    def columns(self) -> int:
        """How many columns there are."""
        return self.conditions * (self.boards + 1)

    def columns_of(self, conditions: Sequence[int], boards: Sequence[int] | None = None) -> Ints:
        """Columns of some conditions, of all their boards or some, condition by condition."""
        some = np.arange(self.boards + 1) if boards is None else np.asarray(boards, dtype=np.intp)
        grid = np.asarray(conditions, dtype=np.intp)[:, None] * (self.boards + 1) + some
        return np.asarray(grid.ravel())


def charged(circuit: Circuit, changes: Sequence[Change], red: str, black: str, boards: int,
            magnetic: bool = False) -> Charged:
    """The meter's block while capacitors charge, with all changes, on the nominal and `boards` drawn ones;
    `magnetic` with what only a transformer joins to it."""
    added = {e.name: e for c in changes for e in c.add}
    block = meters_block([*circuit.elements, *added.values()], red, black, moving=True, magnetic=magnetic)
    names = frozenset(e.name for e in block)
    cut = [Change(c.remove & names, tuple(e for e in c.add if e.name in names)) for c in changes]
    variants = compile_variants([e for e in circuit.elements if e.name in names], [NO_CHANGE, *cut], red,
                                black, moving=True)
    values = values_of(variants, boards, circuit.state.celsius)
    farads, esr = drawn_capacitances(variants.network, boards)
    there = np.repeat(_present(variants), boards + 1, axis=1)
    count = len(variants.changes)
    plant = Plant(variants.network, values, there * np.tile(farads, (1, count)), np.tile(esr, (1, count)))
    charges = np.repeat(charges_of(variants.network), count * (boards + 1), axis=1)
    return Charged(plant, charges, count, boards)


def _present(variants: Variants) -> Floats:
    """1 where a condition has a capacitance, 0 where not; (companions, conditions)."""
    row = {c.name: k for k, c in enumerate(variants.network.companions)}
    found = np.zeros((len(row), len(variants.changes)))
    for name, k in row.items():
        found[k] = float(name in variants.base)
    for c, change in enumerate(variants.changes):
        for name in change.remove:
            if name in row:
                found[row[name], c] = 0.0
        for element in change.add:
            if element.name in row:
                found[row[element.name], c] = 1.0
    return found


def charges_of(network: Network) -> Floats:
    """Charges [V] before the meter comes, (companions, 1). What lies side by side with a charged capacitor
    has its voltage too."""
    ends = network.ends
    held = {}
    for k, c in enumerate(network.companions):
        if c.volts:
            a, b = int(ends.xa[k]), int(ends.xb[k])
            held[a, b], held[b, a] = c.volts, -c.volts
    return np.array([[c.volts or held.get((int(ends.xa[k]), int(ends.xb[k])), 0.0)]
                     for k, c in enumerate(network.companions)]).reshape(-1, 1)
