"""What acts cost: seconds of work on the bench, from the package's table or a file of the user's own."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from incircuit.board.model import Part
from incircuit.errors import IncircuitError

_OWN = Path(__file__).parent / "costs.toml"


class CostError(IncircuitError):
    """A file of costs that cannot be used."""


@dataclass(frozen=True, slots=True)
class Costs:
    """Seconds of work per act; `access` are factors on soldering by the word of ``access=``."""

    move_probe: float
    turn_switch: float
    read: float
    clip: float
    lift_two_pin: float
    lift_pin: float
    remove_per_pin: float
    remove_least: float
    access: tuple[tuple[str, float], ...]

    def factor(self, part: Part) -> float:
        """How much harder the part is to solder than usual; an unknown word counts as usual."""
        return dict(self.access).get(part.option("access", "normal") or "normal", 1.0)

    def lift(self, part: Part) -> float:
        """Lifting one pin, soldering it back included [s]."""
        return (self.lift_two_pin if len(part.pins) <= 2 else self.lift_pin) * self.factor(part)

    def remove(self, part: Part) -> float:
        """Taking the part off and putting it back [s]."""
        return max(self.remove_least, self.remove_per_pin * len(part.pins)) * self.factor(part)

    def reading(self, moved: int, switched: bool) -> float:
        """One reading, with `moved` probes put elsewhere and the mode changed or not [s]."""
        return self.read + self.move_probe * moved + (self.turn_switch if switched else 0.0)


def load_costs(path: str = "") -> Costs:
    """The package's costs, or those overridden by the TOML file at `path`. Raises CostError."""
    table = tomllib.loads(_OWN.read_text(encoding="utf-8"))
    if path:
        _override(table, path)
    reading, solder = table["reading"], table["solder"]
    return Costs(**{k: float(v) for k, v in reading.items()}, **{k: float(v) for k, v in solder.items()},
                 access=tuple((k, float(v)) for k, v in table["access"].items()))


def _override(table: dict[str, Any], path: str) -> None:
    try:
        own = tomllib.loads(Path(path).read_bytes()[:200_000].decode())
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CostError(f"{path}: cannot be used as a file of costs: {error}") from None
    for section, values in own.items():
        if section == "source":
            continue
        if section not in table or not isinstance(values, dict):
            raise CostError(f"{path}: no section [{section}]; expected reading, solder or access")
        for key, value in values.items():
            if key not in table[section] and section != "access":
                raise CostError(f"{path}: no {key} in [{section}]; expected {', '.join(table[section])}")
            if not isinstance(value, int | float) or isinstance(value, bool) or not 0 <= value < 1e6:
                raise CostError(f"{path}: [{section}] {key} = {value!r}: expected seconds or a factor")
            table[section][key] = value
