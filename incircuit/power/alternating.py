"""Mains as it alternates: what one half-wave leaves on a capacitor adds to the next one.

Voltage doublers, cascades and supplies behind a dropping capacitor live on that; a board solved at one peak
alone shows half their voltage or none. Here a period is four instants, the peak, zero, the other peak, zero,
each held for a quarter of it: one step of backward Euler, in which every capacitance is a conductance with
the voltage behind it that the instant before has left. What a capacitor passes on in a period depends on how
far the voltage swings, not on how it gets there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.board.model import Supply as Line
from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.circuit.network import Network
from incircuit.circuit.solve import guess_of, solve
from incircuit.circuit.source import Drive
from incircuit.circuit.transient import LEAST_ESR
from incircuit.parts.elements import Capacitance, Change
from incircuit.predict.variants import NO_CHANGE, compile_variants, values_of
from incircuit.predict.volts import INNER, Supply, behind, direct, ties

QUARTER = 5e-3
"""A quarter of a period of 50 Hz mains [s]."""
INSTANTS = ((1.0, 1.0), (0.0, 1.0), (1.0, -1.0), (0.0, 1.0))
"""How much of the peak stands on the mains nets, and which way round."""
MOST_PERIODS = 200
GROWS = 3e-4
"""Charges that grow by less than this part of the peak in a period have come as far as they get."""
FILLS = 1e-3
"""Larger capacitors [F] are taken as of this size: they only need more periods to fill."""


@dataclass(frozen=True, slots=True)
class Period:
    """One period in the steady state: node voltages `v` [V] (instants, size + 1, conditions)."""

    network: Network
    v: Floats

    def across(self, pairs: Sequence[tuple[str, str]]) -> Floats:
        """Voltage [V] of the first node of each pair against the second, (instants, pairs, conditions)."""
        index = self.network.index
        a, b = ([index.get(name, self.network.size) for name in names] for names in zip(*pairs, strict=True))
        return np.asarray(self.v[:, a] - self.v[:, b])


def period(circuit: Circuit, changes: Sequence[Change], line: Line, peak: float, fixed: Sequence[Supply],
           start: dict[str, float]) -> Period:
    """The board on single-phase mains of that `peak` [V], supplies `fixed` beside it; condition 0 is the
    board as it is. `start` [V] is what capacitances hold at first, by element name.

    Raises SolveError where an instant could not be proven.
    """
    live, neutral = line.nets
    feeds = behind(fixed, 0)
    caps = capacitances(circuit)
    cut, rest = [NO_CHANGE, *changes], [*direct(circuit.elements), *feeds]
    variants = compile_variants([*rest, *ties(rest, cut, neutral), *caps], cut, live, neutral, moving=True)
    network, one = variants.network, np.ones(len(cut))
    supplied = {e.name for e in feeds}
    branches = [_branch(e, e.name in supplied, start) for e in network.companions]
    ohms, passes, held = np.array(branches).reshape(-1, 3, 1).transpose(1, 0, 2)
    values = replace(values_of(variants, 0, circuit.state.celsius), gc=1.0 / ohms)
    charge, seen = held * one, np.zeros((len(INSTANTS), network.size + 1, len(cut)))
    guess, most = None, np.abs(charge)
    for _ in range(MOST_PERIODS):
        before = most
        for k, (level, sign) in enumerate(INSTANTS):
            drive = Drive(math.inf * one, level * peak * one, INNER * one, sign * one)
            found = solve(network, replace(values, ec=charge), drive, guess)
            guess, seen[k] = guess_of(found), found.v
            charge = charge + passes * (found.v[network.ends.xa] - found.v[network.ends.xb] - charge)
            most = np.maximum(most, np.abs(charge))
        if (most - before).max(initial=0.0) <= GROWS * peak:
            break
    return Period(network, seen)


def capacitances(circuit: Circuit) -> list[Capacitance]:
    """The capacitances of a circuit that hold anything."""
    return [e for e in circuit.elements if isinstance(e, Capacitance) and e.farads > 0.0]


def _branch(e: Capacitance, supplied: bool, start: dict[str, float]) -> tuple[float, float, float]:
    """A capacitance in a step: resistance of its conductance [ohm], which part of what is across it and not
    on it comes on it, and what is on it at first [V]. Nothing moves a supply."""
    if supplied:
        return INNER, 0.0, e.volts
    step = QUARTER / min(e.farads, FILLS)
    ohms = step + max(e.esr, LEAST_ESR)
    return ohms, step / ohms, start.get(e.name, 0.0)
