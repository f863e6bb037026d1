"""Leakage near the meter's highest voltages: how far it spreads is known to an order of magnitude only.

A share of boards leaks as no drawn one does. What leaks once puts every reading off that it decides, all
together, so it counts once and not once a reading. A leak cannot be less than none: no reading lies above
what the board without its junctions reads.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.judge.joint import deviations
from incircuit.judge.looks import LEAKAGE_FROM, may_leak
from incircuit.judge.observed import Observed, scaled, unscaled
from incircuit.parts.elements import Coupling, Element, Junction, Resistance

ANYTHING = 0.01
"""Share of boards on which something leaks as on no drawn one (assumption) …"""
LEAK_WIDE = 1.5
"""… by so much, a standard deviation of the logarithm (assumption)."""
LEAK_WIDTH = 0.5
"""Leakage decides a reading where drawn boards' logarithms differ by more: no tolerance spreads so."""
ONE_LEAK = 0.8
"""Readings that go together by more than this correlation read one leak."""
ABOVE = 0.1
"""Part of itself by which a reading may lie above that of a board that does not leak: tolerances."""
LOOSE = 0.3
"""Resistances of such a relative spread, above `LEAKAGE_FROM`, are leakage (of a capacitor, say)."""


def decided_by_leakage(boards: Floats, s: Observed) -> bool:
    """Whether leakage, not resistors, decides what `boards` read [ohm]: it spreads as no tolerance."""
    if not may_leak(s):
        return False
    read = np.log(boards[np.isfinite(boards) & (boards > LEAKAGE_FROM)])
    return bool(len(read) and float(np.ptp(read)) > LEAK_WIDTH)


def above(s: Observed, ceiling: float) -> bool:
    """Whether a reading lies above what the board reads when nothing leaks, `ceiling` [ohm]."""
    return s.value is not None and s.value > (1.0 + ABOVE) * ceiling


def leaks_of(exact: Floats, numbers: Sequence[int]) -> tuple[tuple[int, ...], ...]:
    """Readings `numbers`, of drawn boards (readings, boards + 1) [ohm], sorted into leaks."""
    off = _off(exact, numbers)
    size = np.sqrt((off**2).sum(axis=1))
    alike = (off @ off.T) > ONE_LEAK * np.outer(size, size)
    left, found = list(range(len(numbers))), []
    while left:
        group = [left[0]]
        for k in group:
            group += [m for m in left if alike[k, m] and m not in group]
        left = [k for k in left if k not in group]
        found.append(tuple(numbers[k] for k in sorted(group)))
    return tuple(found)


def wider_by(exact: Floats, leak: Sequence[int]) -> float:
    """How many times wider than drawn, (readings, boards + 1) [ohm], the readings of one leak spread where
    it may be anything."""
    return max(1.0, LEAK_WIDE / max(float(np.sqrt((_off(exact, leak)**2).mean(axis=1)).max()), 1e-6))


def _off(exact: Floats, numbers: Sequence[int]) -> Floats:
    """(numbers, boards) how far drawn boards lie from the nominal one; 0 where one overloads."""
    return np.nan_to_num(deviations(np.stack([scaled(exact[i], "ohms") for i in numbers])))


def spread_by(exact: Floats, factor: float) -> Floats:
    """Boards (rows, boards + 1) [ohm] so many times further from the nominal one, by their logarithm.

    Every other one on the other side: drawn ones may lie on one side only, what may be anything has none.
    """
    on_scale = scaled(exact, "ohms")
    side = np.where(np.arange(exact.shape[1]) % 2, factor, -factor)
    with np.errstate(invalid="ignore", over="ignore"):
        wider = unscaled(on_scale[:, :1] + side * (on_scale - on_scale[:, :1]), "ohms")
    return np.asarray(np.where(np.isfinite(exact) & np.isfinite(exact[:, :1]), wider, exact))


def sealed(circuit: Circuit) -> Circuit:
    """The circuit when nothing leaks: without junctions and what hangs on them."""
    kept = tuple(e for e in circuit.elements if not _leaks(e))
    return Circuit(circuit.board, circuit.state, kept)


def _leaks(e: Element) -> bool:
    if isinstance(e, Resistance):
        return e.ohms > LEAKAGE_FROM and e.spread.own > LOOSE and not math.isinf(e.ohms)
    return isinstance(e, Junction | Coupling)
