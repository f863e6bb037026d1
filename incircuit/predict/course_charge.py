"""A charge left on a capacitor: how much of it would make a display show what was read?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.meter.profile import Meter
from incircuit.predict.course_film import at_the_ends, film
from incircuit.predict.course_plant import charged
from incircuit.predict.measure import Ask

UPDATE = 1
"""The display is taken at the first update after the touch."""
MOST_GROUPS = 2
"""So many places where capacitors hold a charge are looked at, the largest first."""
TRIED: Floats = np.concatenate([-np.geomspace(5.0, 2e-3, 16), [0.0], np.geomspace(2e-3, 5.0, 16)])
"""Charges tried [V]: less is seen by no meter, more would have been noticed."""

BEYOND = (0.2, 0.1)
"""A display may swing over where it starts and ends by this part of the way and these volts more: where
several capacitors share a charge, by a tenth of the way on the shipped boards."""
SLACK = 4.0
"""Times the usual error will do where one of the tried charges is looked for."""


@dataclass(frozen=True, slots=True)
class Residue:
    """A charge that explains a reading: `volts` on the capacitor `part`, first pin against second."""

    part: str
    volts: float


def residue(circuit: Circuit, red: str, black: str, meter: Meter, ask: Ask,
            value: float | None) -> Residue | None:
    """The smallest charge on one capacitor, and on those beside it, with which the display shows `value`
    [V or ohm] (None: overload) at first sight; None where none does."""
    stage = charged(circuit, (), red, black, 0)
    network = stage.plant.network
    groups: dict[tuple[int, int], list[int]] = {}
    for k in range(len(network.companions)):
        a, b = int(network.ends.xa[k]), int(network.ends.xb[k])
        groups.setdefault((min(a, b), max(a, b)), []).append(k)
    ranked = sorted(groups.values(), key=lambda g: -sum(network.companions[k].farads for k in g))
    some, count = ranked[:MOST_GROUPS], len(TRIED)
    if not some:
        return None
    charges = np.zeros((len(network.companions), count * len(some)))
    for n, group in enumerate(some):
        first = network.ends.xa[group[0]]
        for k in group:
            charges[k, n * count:(n + 1) * count] = TRIED if network.ends.xa[k] == first else -TRIED
    columns = np.zeros(charges.shape[1], dtype=np.intp)
    plant, leads = stage.plant.take(columns), np.full(len(columns), meter.lead_resistance)
    if ask.mode == "diode" and value is not None and not _within(
            at_the_ends(plant, charges, meter, ask, leads), value):
        return None
    shown = film(plant, charges, meter, [ask], columns, leads, np.full(len(columns), UPDATE + 1), slack=SLACK)
    found = []
    for n, group in enumerate(some):
        volts = _crossing(shown.exact[n * count:(n + 1) * count, UPDATE], value)
        if volts is not None:
            largest = max(group, key=lambda k: network.companions[k].farads)
            sign = 1.0 if network.ends.xa[largest] == network.ends.xa[group[0]] else -1.0
            found.append(Residue(network.companions[largest].part, sign * volts))
    return min(found, key=lambda r: abs(r.volts), default=None)


def _within(ends: Floats, value: float) -> bool:
    """Whether a display [V] on its way from one of these to another may pass a value."""
    more = BEYOND[0] * float(ends.max() - ends.min()) + BEYOND[1]
    return bool(ends.min() - more <= value <= ends.max() + more)


def _between(value: float, a: float, b: float) -> float:
    """Where between two readings a value lies, 0 to 1; half way where one of them is overload."""
    return (value - a) / (b - a) if math.isfinite(a) and math.isfinite(b) else 0.5


def _crossing(exact: Floats, value: float | None) -> float | None:
    """The smallest charge in size at which the readings pass `value`."""
    places: Sequence[float]
    if value is None:
        places = [float(v) for v, e in zip(TRIED, exact, strict=True) if math.isinf(e)]
    else:
        places = [float(TRIED[k] + _between(value, a, b) * (TRIED[k + 1] - TRIED[k]))
                  for k, (a, b) in enumerate(zip(exact[:-1].tolist(), exact[1:].tolist(), strict=True))
                  if a != b and min(a, b) <= value <= max(a, b)]
    return min(places, key=abs, default=None)
