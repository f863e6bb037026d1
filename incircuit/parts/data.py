"""Default parameters of every kind and class, from the TOML files of this package.

A mistake in those files is a mistake of packaging, not of a user: it raises `DataError` with the
file and the table, and the tests read every table.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from incircuit.parts.elements import INFINITE

SILICON_EG = 1.11
"""[eV] EG of silicon as SPICE takes it by default."""

_KT_Q = 1.380649e-23 * 298.15 / 1.602176634e-19


class DataError(RuntimeError):
    """A data file of the package is wrong. No user can mend it, so it is not an IncircuitError."""


@dataclass(frozen=True, slots=True)
class JunctionSet:
    """Parameters of a junction at 25 °C, named as in SPICE, with what differs from part to part.

    `spread` [V] half width of the forward drop at a milliampere between parts, `match` [V] between junctions
    of one package or batch; `n_spread`, relative, that of `n`: how the drop at microamperes differs from what
    the drop at a milliampere lets expect. The defaults are SPICE's own.
    """

    is_: float = 1e-14
    n: float = 1.0
    rs: float = 0.0
    bv: float = INFINITE
    ibv: float = 1e-3
    eg: float = SILICON_EG
    xti: float = 3.0
    spread: float = 0.0
    match: float = 0.0
    n_spread: float = 0.0

    def drop(self, amps: float) -> float:
        """Forward drop [V] at a current [A] at 25 °C: Shockley's equation with `rs` in series.

        >>> round(JunctionSet(is_=2.52e-9, n=1.752, rs=0.568).drop(1e-3), 4)
        0.5808
        """
        return self.n * _KT_Q * math.log1p(amps / self.is_) + amps * self.rs


@dataclass(frozen=True, slots=True)
class BipolarSet:
    """Ebers–Moll transport model: `is_` [A], gains, and the spread of the drops [V] between parts.

    `apart` [V] is how far the base–collector drop lies above or below what the base–emitter drop lets expect:
    types differ in their reverse gain by decades.
    """

    is_: float
    bf: float
    br: float
    spread: float
    match: float
    apart: float = 0.0
    n_spread: float = 0.0


def is_from_drop(volts: float, amps: float, n: float, rs: float) -> float:
    """Saturation current [A] of a junction that drops `volts` at `amps` at 25 °C.

    is = amps/(exp((volts − amps·rs)/(n·Vt)) − 1), Shockley's equation solved for is. Raises
    ValueError where no such junction exists: drop not above amps·rs, or is below 1e-300 A.

    >>> round(JunctionSet(is_=is_from_drop(0.62, 1e-3, 1.7, 2.0), n=1.7, rs=2.0).drop(1e-3), 12)
    0.62
    """
    exponent = (volts - amps * rs) / (n * _KT_Q)
    if exponent <= 0.0 or amps <= 0.0:
        raise ValueError(f"the series resistance of {rs:g} ohms alone drops {amps * rs:g} V")
    if exponent > 600.0:
        raise ValueError("no junction drops so much")
    return amps / math.expm1(exponent)


@dataclass(frozen=True, slots=True)
class Row:
    """One table of a data file, with typed access. `where` names it in messages."""

    where: str
    table: dict[str, Any]

    def number(self, key: str) -> float:
        """A number. Raises DataError where there is none."""
        value = self.table.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise DataError(f"{self.where}: {key} must be a number, found {value!r}")
        return float(value)

    def get(self, key: str, default: float) -> float:
        """A number, or the default where the key is absent."""
        return self.number(key) if key in self.table else default

    def text(self, key: str) -> str:
        """A text. Raises DataError where there is none."""
        value = self.table.get(key)
        if not isinstance(value, str):
            raise DataError(f"{self.where}: {key} must be a text, found {value!r}")
        return value

    def source(self, key: str) -> str:
        """Where the number under `key` comes from."""
        named = self.table.get("sources", {})
        return str(named[key]) if key in named else self.text("source")


@cache
def tables(name: str) -> dict[str, Any]:
    """All tables of ``name.toml`` beside this module. Raises DataError."""
    file = Path(__file__).parent / f"{name}.toml"  # importlib.resources would cost a tenth of the start
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise DataError(f"incircuit/parts/{name}.toml cannot be read: {error}; install again") from error


@cache
def row(name: str, *path: str) -> Row:
    """The table of ``name.toml`` under dotted `path`. Raises DataError where there is none."""
    where = f"incircuit/parts/{name}.toml [{'.'.join(path)}]"
    found: Any = tables(name)
    for key in path:
        found = found.get(key) if isinstance(found, dict) else None
    if not isinstance(found, dict):
        raise DataError(f"{where}: no such table")
    return Row(where, found)


@cache
def class_row(kind: str, word: str) -> Row:
    """Defaults of a kind: the table of its class word, or its table ``all``."""
    named = tables("classes").get(kind, {})
    return row("classes", kind, word if word in named else "all")


@cache
def junction_set(name: str) -> JunctionSet:
    """A junction set of junctions.toml, `is` solved from the drop where only that is known."""
    data = row("junctions", name)
    n, rs = data.number("n"), data.number("rs")
    try:
        is_ = data.number("is") if "is" in data.table else is_from_drop(
            data.number("vf"), data.number("at"), n, rs)
    except ValueError as error:
        raise DataError(f"{data.where}: {error}") from error
    return JunctionSet(is_, n, rs, data.get("bv", INFINITE), data.get("ibv", 1e-3),
                       data.get("eg", SILICON_EG), data.get("xti", 3.0),
                       data.number("spread"), data.number("match"), data.number("n_spread"))


@cache
def bipolar_set(name: str) -> BipolarSet:
    """A transistor's set of classes.toml [bipolar.*]."""
    data = row("classes", "bipolar", name)
    return BipolarSet(*(data.number(key) for key in ("is", "bf", "br", "spread", "match", "apart",
                                                    "n_spread")))
