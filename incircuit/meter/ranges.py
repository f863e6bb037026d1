"""What all modes of a meter have in common: sources, ranges, accuracy, and reading them from a profile."""

from __future__ import annotations

import math
from dataclasses import dataclass

from incircuit.meter.table import Table

KNEE = 1e-4  # resistance behind a current source, as a part of open_circuit/current: a hard knee


@dataclass(frozen=True, slots=True)
class Source:
    """What the meter delivers at its terminals: i = min(current, (open_circuit − v)/resistance).

    `current` [A], infinite for a plain voltage behind a resistance; `open_circuit` [V];
    `resistance` [Ω], above 0.
    """

    current: float
    open_circuit: float
    resistance: float


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Half width ±(percent of the reading + digits of the last place + arc of a needle's scale).

    `arc` [%] applies to ranges that are a voltage behind a resistance Rm: the needle stands at
    Rm/(R + Rm) of its arc, so an error of the arc is (R + Rm)²/Rm times that in ohms.
    """

    percent: float = 0.0
    digits: float = 0.0
    arc: float = 0.0


@dataclass(frozen=True, slots=True)
class Range:
    """One range: `full_scale` the largest it can show, `resolution` of its last digit; Ω, V or F."""

    full_scale: float
    resolution: float
    accuracy: Accuracy
    source: Source


def source_of(table: Table, above: Table | None = None) -> Source:
    """Keys current, open_circuit, source_resistance; a range may take them from the mode `above`."""
    holder = {key: above if above and not table.has(key) and above.has(key) else table
              for key in ("current", "open_circuit", "source_resistance")}
    open_circuit = holder["open_circuit"].number("open_circuit", unit="volts")
    current = holder["current"].number("current", math.inf, unit="amperes")
    if not math.isinf(current):
        knee = KNEE * open_circuit / current
        return Source(current, open_circuit,
                      holder["source_resistance"].number("source_resistance", knee, unit="ohms"))
    if not holder["source_resistance"].has("source_resistance"):
        table.fault("current", "missing, expected `current` in amperes, or `source_resistance` in ohms "
                               "for a voltage behind a resistance")
        return Source(math.inf, open_circuit, math.nan)
    resistance = holder["source_resistance"].number("source_resistance", unit="ohms")
    return Source(math.inf, open_circuit, resistance)


def accuracy_of(table: Table, above: Table | None = None) -> Accuracy:
    """The key accuracy; a range may take it from the mode `above`."""
    holder = above if above and not table.has("accuracy") and above.has("accuracy") else table
    inner = holder.table("accuracy")
    if inner is None:
        return Accuracy()
    accuracy = Accuracy(*(inner.number(key, 0.0, zero=True) for key in ("percent", "digits", "arc")))
    inner.close()
    return accuracy
