"""Meter profiles: what a meter puts on its terminals and what it can show, read from TOML.

SI units throughout. `load_meter` reads the shipped profiles (`SHIPPED`) and a user's own alike; all
faults of a file are told at once. A mode absent from the file is one the meter does not have.
"""

from __future__ import annotations

import hashlib
import math
import os
import stat
import tomllib
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from incircuit.errors import MeterError
from incircuit.meter.charging import EsrMode, FaradsMode, VoltsMode, esr_mode, farads_mode, volts_mode
from incircuit.meter.ranges import KNEE, Accuracy, Range, Source, accuracy_of, source_of
from incircuit.meter.table import Table, hint
from incircuit.units import shown

__all__ = ["KNEE", "Accuracy", "ContinuityMode", "DiodeMode", "EsrMode", "FaradsMode", "Meter", "OhmsMode",
           "Range", "Source", "VoltsMode", "load_meter", "read_meter", "shipped_meters"]

PROFILES = Path(__file__).parent / "profiles"
LARGEST_FILE = 200_000  # [bytes] a profile is some hundred lines
MOST_RANGES = 50


@dataclass(frozen=True, slots=True)
class DiodeMode:
    """Diode test: shows the terminal voltage [V]; from `overload` [V] on it shows OL."""

    source: Source
    overload: float
    resolution: float
    accuracy: Accuracy
    red: int = 1


@dataclass(frozen=True, slots=True)
class OhmsMode:
    """Ohms: `ranges` rise in full scale. `red` +1, or −1 where red is the negative terminal.

    `manual`: the technician turns the switch; otherwise the meter finds the lowest that fits.
    """

    ranges: tuple[Range, ...]
    red: int = 1
    manual: bool = False


@dataclass(frozen=True, slots=True)
class ContinuityMode:
    """Continuity: shows `range`, and beeps where it reads less than `beeps_below` [Ω]."""

    range: Range
    beeps_below: float
    red: int = 1


@dataclass(frozen=True, slots=True)
class Meter:
    """A meter. `source` says where its numbers come from; `lead_resistance` [Ω] is both leads together.

    `updates_per_second` [1/s]; a mode the meter does not have is None; `digest` is the SHA-256 of
    the profile file.
    """

    name: str
    source: str
    lead_resistance: float
    updates_per_second: float
    diode: DiodeMode | None
    ohms: OhmsMode | None
    continuity: ContinuityMode | None
    digest: str
    farads: FaradsMode | None = None
    esr: EsrMode | None = None
    volts: VoltsMode | None = None

    @property
    def modes(self) -> tuple[str, ...]:
        """Names of the modes it has that read a resting board with the meter's own current: of diode, ohms,
        continuity."""
        return tuple(m for m in ("diode", "ohms", "continuity") if getattr(self, m) is not None)

    @property
    def all_modes(self) -> tuple[str, ...]:
        """Names of all modes it has: `modes`, then farads, esr, volts."""
        return self.modes + tuple(m for m in ("farads", "esr", "volts") if getattr(self, m) is not None)


def shipped_meters() -> tuple[str, ...]:
    """Names of the profiles in the package, sorted."""
    return tuple(sorted(path.stem for path in PROFILES.glob("*.toml")))


def load_meter(name_or_path: str) -> Meter:
    """The shipped meter of that name, else the profile file at that path.

    Raises MeterError: no such name or file (with the nearest name), not a regular file, too large,
    not TOML, or any wrong key; one line a fault.
    """
    names = shipped_meters()
    if name_or_path in names:
        path = PROFILES / f"{name_or_path}.toml"
        return read_meter(path.read_bytes(), f"{name_or_path}.toml")
    try:
        mode = os.stat(name_or_path).st_mode
    except (OSError, ValueError):  # ValueError: a zero byte in the path
        raise MeterError(f"meter \"{shown(name_or_path)}\": neither a shipped meter nor a file; "
                         f"{hint(name_or_path, names)}") from None
    if not stat.S_ISREG(mode):
        raise MeterError(f"{shown(name_or_path)}: not a file, expected a meter profile in TOML")
    try:
        with open(name_or_path, "rb") as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        raise MeterError(f"{shown(name_or_path)}: cannot be read: {error.strerror}") from None
    return read_meter(content, shown(name_or_path))


def read_meter(content: bytes, file: str) -> Meter:
    """A meter from the bytes of a profile; `file` names it in messages. Raises MeterError."""
    if len(content) > LARGEST_FILE:
        raise MeterError(f"{file}: larger than {LARGEST_FILE} bytes, not a meter profile")
    try:
        data: dict[str, Any] = tomllib.loads(content.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise MeterError(f"{file}: byte {error.start + 1} is not UTF-8, expected TOML text") from None
    except (ValueError, RecursionError) as error:
        told = "nested too deep" if isinstance(error, RecursionError) else shown(str(error))
        raise MeterError(f"{file}: not TOML: {told}") from None
    faults: list[str] = []
    meter = _meter(Table(file, "", data, faults), hashlib.sha256(content).hexdigest())
    if faults:
        raise MeterError("\n".join(dict.fromkeys(faults)))  # what all ranges inherit is told once
    return meter


def _meter(top: Table, digest: str) -> Meter:
    ohms_table, diode_table, continuity_table = (top.table(m) for m in ("ohms", "diode", "continuity"))
    more = {key: top.table(key) for key in ("farads", "esr", "volts")}
    ohms = _ohms(ohms_table) if ohms_table else None
    meter = Meter(
        name=top.text("name", Path(top.file).stem or "meter"),
        source=top.text("source", "not told"),
        lead_resistance=top.number("lead_resistance", 0.0, zero=True, unit="ohms"),
        updates_per_second=top.number("updates_per_second", 3.0),
        diode=_diode(diode_table) if diode_table else None,
        ohms=ohms,
        continuity=_continuity(continuity_table, ohms) if continuity_table else None,
        digest=digest,
        farads=farads_mode(more["farads"]) if more["farads"] else None,
        esr=esr_mode(more["esr"]) if more["esr"] else None,
        volts=volts_mode(more["volts"]) if more["volts"] else None,
    )
    top.close()
    if not any(key in top.data for key in ("diode", "ohms", "continuity", *more)):
        top.fault("", "no mode: expected at least one of the tables [diode], [ohms], [continuity], [farads], "
                  "[esr], [volts]")
    return meter


def _red(table: Table) -> int:
    return -1 if table.choice("red", ("+", "-")) == "-" else 1


def _diode(table: Table) -> DiodeMode:
    source = source_of(table)
    mode = DiodeMode(source, table.number("overload", source.open_circuit, unit="volts"),
                     table.number("resolution", unit="volts"), accuracy_of(table), _red(table))
    table.close()
    if mode.resolution > mode.overload:
        table.fault("resolution", f"found {mode.resolution!r}, expected less than overload")
    return mode


def _range(table: Table, above: Table | None = None) -> Range:
    made = Range(table.number("full_scale", unit="ohms"), table.number("resolution", unit="ohms"),
                 accuracy_of(table, above), source_of(table, above))
    if made.resolution > made.full_scale:
        table.fault("resolution", f"found {made.resolution!r}, expected less than full_scale")
    return made


def _ohms(table: Table) -> OhmsMode:
    entries = table.tables("ranges", MOST_RANGES)
    ranges = []
    for entry in entries:
        ranges.append(_range(entry, table))
        entry.close()
    ranges.sort(key=lambda r: r.full_scale)
    for low, high in pairwise(ranges):
        if low.full_scale == high.full_scale:
            table.fault("ranges", f"two ranges with full_scale = {low.full_scale:g}")
    for key in ("current", "open_circuit", "source_resistance", "accuracy"):
        table.has(key)  # allowed here for all ranges that do not have their own
    mode = OhmsMode(tuple(ranges), _red(table), table.choice("ranging", ("auto", "manual")) == "manual")
    table.close()
    return mode


def _continuity(table: Table, ohms: OhmsMode | None) -> ContinuityMode:
    if table.has("range"):
        wanted = table.number("range", unit="ohms")
        ranges = ohms.ranges if ohms else ()
        chosen = [r for r in ranges if math.isclose(r.full_scale, wanted, rel_tol=1e-9)]
        if not chosen and not math.isnan(wanted):
            there = ", ".join(f"{r.full_scale:g}" for r in ranges) or "none: the meter has no [ohms]"
            table.fault("range", f"found {wanted:g}, expected the full_scale of an ohms range: {there}")
        none = Range(math.nan, math.nan, Accuracy(), Source(math.nan, math.nan, math.nan))
        made, red = chosen[0] if chosen else none, ohms.red if ohms else 1
    else:
        made, red = _range(table), 1
    mode = ContinuityMode(made, table.number("beeps_below", unit="ohms"),
                          _red(table) if table.has("red") else red)
    table.close()
    return mode
