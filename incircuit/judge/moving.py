"""Displays that were moving when they were read, as events: would such a board show such a display?

A display that climbs, or jumps while the meter looks for its range, is nowhere near normal over the boards
and moments: the same board may show a short, overload and megohms within a second. So the number is not
taken by its density: a board shows one like it or not, and the share of boards is the likelihood. One that no
board shows, but that lies between what they show, refutes little; one beyond all of them does.
"""

from __future__ import annotations

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.observed import MOVING, Observed, scaled

ALIKE, ALIKE_VOLTS = 0.25, 0.05
"""Displays this near, ohms by their logarithm, volts with a tenth of themselves on top, are one like another
(assumption: nobody catches the same instant twice)."""
BETWEEN = 0.98
"""Of an event's end: a board that does not show it, among boards that well may."""
ASIDE, ASIDE_MOST, ASIDE_STEP = 4.0, 6.0, 0.1 / 6.0
"""One board's display beside the one seen: what it counts as a squared distance for each unit, squared, by
which it lies beyond what is like it; at most; and how much of an event's end stands for one (assumption)."""
LEAST = 0.2
"""The least that a display of farads shows, as it is counted."""


def moving(display: Observed) -> Observed:
    """A display that was moving when it was read, as an event."""
    return Observed(None, MOVING, 0.0, 0.0, 1.0, display)


def shows(exact: Floats, display: Observed) -> Floats:
    """For displays `exact` [V or ohm] of (conditions, boards): infinite where a board shows one like the one
    seen, `BETWEEN` where boards show less and more than that, 0 where it lies beyond all of them."""
    over = np.isinf(exact)
    if display.value is None:
        seen = np.inf
        alike, window = over, 0.0
    else:
        seen = float(scaled(np.asarray(display.value), display.mode))
        beside = abs(display.value) + display.error + display.rounding
        window = float(scaled(np.asarray(beside), display.mode)) - abs(seen)
        window += ALIKE_VOLTS + 0.1 * abs(seen) if display.mode.startswith("diode") else ALIKE
        alike = ~over & (np.abs(scaled(np.where(over, 0.0, exact), display.mode) - seen) <= window)
    on_scale = np.where(over, np.inf, scaled(np.where(over, 0.0, exact), display.mode))
    least, most = on_scale.min(axis=1, keepdims=True), on_scale.max(axis=1, keepdims=True)
    between = np.full(exact.shape, BETWEEN)
    if exact.shape[1] == 1:  # one board says little of where others are; below zero none is without a charge
        within = np.full(exact.shape, seen >= -window or float(least.min()) < 0.0)
        if display.value is not None:
            beyond = np.maximum(np.abs(on_scale - seen) - window, 0.0)
            between -= ASIDE_STEP * np.minimum(ASIDE * beyond**2, ASIDE_MOST)
    else:
        within = np.broadcast_to((least - window <= seen) & (seen <= most + window), exact.shape)
    return np.where(np.isnan(exact), np.nan, np.where(alike, np.inf, np.where(within, between, 0.0)))


def aside(exact: Floats) -> Floats:
    """How far off single boards are that `shows` puts between, as a squared distance: which magnitude of a
    fault shows the display that was seen."""
    return np.asarray(np.clip((BETWEEN - exact) / ASIDE_STEP, 0.0, ASIDE_MOST))


def endless(exact: Floats, seen: Observed) -> Floats:
    """Capacitances `exact` of (conditions, boards) beside a number that was seen.

    A junction that opens on the way makes charging longer and at last endless: between what some boards read
    and the overload of others the meter may show anything. Where the number lies there, the boards that
    overload stand between, up to its end.
    """
    over = np.isinf(exact)
    most = np.where(over, 0.0, exact).max(axis=1)
    assert seen.value is not None
    found = exact.copy()
    for row in np.flatnonzero(over.any(axis=1) & ~over.all(axis=1) & (most < min(seen.value, seen.end))):
        count = np.count_nonzero(over[row])
        found[row, over[row]] = np.geomspace(max(most[row], LEAST), seen.end, count + 2)[1:-1]
    return found
