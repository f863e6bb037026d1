"""A known-good board of the same batch: its readings narrow what the parts of the bad one may be.

The good board's parameters and the bad one's are taken as correlated, `BATCH`. Boards drawn for the
bad one are moved by what the good one's readings say (conditioning by kriging, Matheron's rule): each
drawn board comes with a reading of a good board drawn beside it, and what that misses of the reading
taken is carried over as far as the two go together.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.observed import Observed, scaled, unscaled
from incircuit.judge.scenes import Scene

BATCH = 0.7
"""Correlation of a part's deviation on two boards of one batch (assumption)."""


@dataclass(frozen=True, slots=True)
class Good:
    """Readings of a known-good board, on the scale on which readings are taken as normal.

    `read` (readings,) what was read; `drawn` (readings, boards + 1) what drawn healthy boards read,
    the nominal first; `errors` (readings,) standard deviations of meter and rounding.
    """

    read: Floats
    drawn: Floats
    errors: Floats


@dataclass(frozen=True, slots=True)
class Beside:
    """What the good board showed where the bad one read `number` (from 0): `differs` where no meter within
    its accuracy could show both of one and the same board."""

    number: int
    shown: str
    differs: bool


def beside_good(scenes: Sequence[Scene], good: Sequence[Scene]) -> tuple[Beside, ...]:
    """The readings that were taken on both boards alike: same pads, mode and state."""
    taken = {}
    for scene in good:
        for t in scene.readings:
            taken[scene.circuit.state, scene.red, scene.black, t.ask.mode, t.ask.swapped] = t
    found = []
    for scene in scenes:
        for t in scene.readings:
            key = (scene.circuit.state, scene.red, scene.black, t.ask.mode, t.ask.swapped)
            if key in taken:
                other = taken[key]
                off = _differ(t.observed, other.observed)
                found.append(Beside(t.number, other.moment.reading.shown, off))
    return tuple(sorted(found, key=lambda b: b.number))


def _differ(one: Observed, other: Observed) -> bool:
    if one.value is None or other.value is None:
        return one.value is not other.value
    reach = one.error + other.error + one.rounding + other.rounding
    return abs(one.value - other.value) > reach


def good_of(seen: Sequence[Observed], healthy: Floats) -> Good | None:
    """The numbers among a good board's readings; None where there are none.

    `healthy` (readings, boards + 1) are drawn healthy boards. Where a drawn board overloads, or the
    reading lies far off every drawn board, a reading tells nothing and is left out.
    """
    read, drawn, errors = [], [], []
    for s, boards in zip(seen, healthy, strict=True):
        if s.value is None or s.mode == "beep" or not np.isfinite(boards).all():
            continue
        here, value = scaled(boards, s.mode), float(scaled(np.array(s.value), s.mode))
        slope = float(scaled(np.array(s.value + 1e-6), s.mode) - value) / 1e-6
        error = slope * math.hypot(s.error, s.rounding) / math.sqrt(3.0)
        if abs(value - here[0]) <= 5.0 * math.hypot(float(here.std()), error):
            read.append(value)
            drawn.append(here)
            errors.append(error + 1e-9)
    return Good(np.array(read), np.array(drawn), np.array(errors)) if read else None


def narrowed(exact: Floats, seen: Sequence[Observed], good: Good | None) -> Floats:
    """Boards of a condition, (readings, rows, boards + 1), given what the good board reads."""
    if good is None:
        return exact
    found = exact.copy()
    boards = exact.shape[2] - 1
    off = good.drawn[:, 1:] - good.drawn[:, :1]
    shuffle = np.random.default_rng(7).permutation(boards)
    rng = np.random.default_rng(8)
    noise = good.errors[:, None] * rng.uniform(-math.sqrt(3.0), math.sqrt(3.0), (len(good.read), boards))
    beside = BATCH * off + math.sqrt(1.0 - BATCH**2) * off[:, shuffle] + noise
    inverse = np.linalg.inv(off @ off.T / boards + np.diag(good.errors**2))
    missed = good.read - good.drawn[:, 0]
    for i, s in enumerate(seen):
        if s.value is None or not np.isfinite(exact[i]).all():
            continue
        here = scaled(exact[i], s.mode)
        gain = BATCH * ((here[:, 1:] - here[:, :1]) @ off.T / boards) @ inverse
        here[:, :1] += (gain @ missed)[:, None]
        here[:, 1:] += gain @ (missed[:, None] - beside)
        found[i] = unscaled(here, s.mode)
    return found
