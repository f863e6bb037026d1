"""Modes in which the meter needs more than a resting board: farads, esr, volts. Read from a profile's TOML.

Their ranges are `Range`s whose full scale and resolution are in the unit of the mode (F, Ω, V).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from incircuit.meter.ranges import KNEE, Range, Source, accuracy_of
from incircuit.meter.table import Table

MOST_RANGES = 50


@dataclass(frozen=True, slots=True)
class FaradsMode:
    """Capacitance by time: a current charges it from `low` to `high` [V], C = current · time/(high − low).

    A range waits until its full scale would have got there; if the voltage has not, the next one tries,
    and the last one shows OL.
    """

    ranges: tuple[Range, ...]
    low: float
    high: float
    red: int = 1

    def patience(self, scale: Range) -> float:
        """How long [s] a range waits for `high`, from the first touch on."""
        return scale.full_scale * self.high / scale.source.current


@dataclass(frozen=True, slots=True)
class EsrMode:
    """Magnitude of the impedance at `hertz`, tested with at most `volts` [V], the leads nulled."""

    ranges: tuple[Range, ...]
    hertz: float
    volts: float
    red: int = 1


@dataclass(frozen=True, slots=True)
class VoltsMode:
    """Direct voltage: the pads are loaded with `input_resistance` [ohm]."""

    ranges: tuple[Range, ...]
    input_resistance: float
    red: int = 1


def farads_mode(table: Table) -> FaradsMode:
    """The table [farads]: low, high, open_circuit, ranges with a current each."""
    low, high = table.number("low", unit="volts"), table.number("high", unit="volts")
    open_circuit = table.number("open_circuit", 2.0 * high, unit="volts")
    if not low < high < open_circuit:
        table.fault("high", "expected low below high, and high below open_circuit")
    ranges = []
    for entry in _entries(table):
        current = entry.number("current", unit="amperes")
        ranges.append(_range(entry, table, Source(current, open_circuit, KNEE * open_circuit / current)))
    return FaradsMode(_closed(table, ranges), low, high, _red(table))


def esr_mode(table: Table) -> EsrMode:
    """The table [esr]: hertz, volts, ranges."""
    hertz, volts = table.number("hertz", 100e3), table.number("volts", 0.05, unit="volts")
    ranges = [_range(entry, table, Source(math.inf, volts, 1.0)) for entry in _entries(table)]
    return EsrMode(_closed(table, ranges), hertz, volts, _red(table))


def volts_mode(table: Table) -> VoltsMode:
    """The table [volts]: input_resistance, ranges."""
    load = table.number("input_resistance", 10e6, unit="ohms")
    ranges = [_range(entry, table, Source(math.inf, 0.0, load)) for entry in _entries(table)]
    return VoltsMode(_closed(table, ranges), load, _red(table))


def _entries(table: Table) -> list[Table]:
    return table.tables("ranges", MOST_RANGES)


def _range(entry: Table, above: Table, source: Source) -> Range:
    made = Range(entry.number("full_scale"), entry.number("resolution"), accuracy_of(entry, above), source)
    if made.resolution > made.full_scale:
        entry.fault("resolution", f"found {made.resolution!r}, expected less than full_scale")
    entry.close()
    return made


def _closed(table: Table, ranges: list[Range]) -> tuple[Range, ...]:
    ranges.sort(key=lambda r: r.full_scale)
    for low, high in pairwise(ranges):
        if low.full_scale == high.full_scale:
            table.fault("ranges", f"two ranges with full_scale = {low.full_scale:g}")
    table.has("accuracy")  # allowed here for all ranges that do not have their own
    return tuple(ranges)


def _red(table: Table) -> int:
    red = -1 if table.choice("red", ("+", "-")) == "-" else 1
    table.close()
    return red
