"""The meter as the circuit sees it: a current with a compliance, or a voltage behind a resistance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Bools, Floats, Ints


@dataclass(frozen=True, slots=True)
class Drive:
    """Meter sources, one per scenario, all arrays (scenarios,).

    Into the pads flows i = min(`current`, (`open_circuit` − v)/`resistance`), v the pad voltage in
    the direction of the source; `resistance` [ohm] includes the leads, `current` [A] may be infinite
    (a plain voltage behind a resistance). `sign` is +1 where the current comes out of the red lead.
    """

    current: Floats
    open_circuit: Floats
    resistance: Floats
    sign: Floats

    def take(self, columns: Ints | slice) -> Drive:
        """The same for some scenarios."""
        return Drive(self.current[columns], self.open_circuit[columns], self.resistance[columns],
                     self.sign[columns])

    @property
    def knee(self) -> Floats:
        """Voltage [V] above which the compliance limits the current."""
        with np.errstate(invalid="ignore"):
            return np.where(np.isfinite(self.current),
                            self.open_circuit - self.current * self.resistance, -np.inf)

    def law(self, v: Floats, limited: Bools | None = None) -> tuple[Floats, Floats]:
        """Current [A] out of the red lead at pad voltage `v` (red − black) and its conductance −di/dv [S].

        `limited` (boolean) forces the branch; default: by the voltage.
        """
        along = self.sign * v
        held = along > self.knee if limited is None else limited
        behind = (self.open_circuit - along) / self.resistance
        current = np.where(held, behind, np.where(np.isfinite(self.current), self.current, 0.0))
        return self.sign * current, np.where(held, 1.0 / self.resistance, 0.0)

    def branches(self) -> Branches:
        """Both branches of the law, worked out once for an iteration."""
        free = np.where(np.isfinite(self.current), self.current, 0.0)
        return Branches(self.sign, self.knee, self.sign * self.open_circuit / self.resistance,
                        1.0 / self.resistance, self.sign * free)

    def norton(self, limited: Bools) -> tuple[Floats, Floats]:
        """The branch as a constant current [A] into the red pad less a conductance [S] times v."""
        return self.branches().norton(limited)


@dataclass(frozen=True, slots=True)
class Branches:
    """Both branches of a source: above `knee` [V] the constant `behind` [A] less `g` [S] times the pad
    voltage, below it the constant `free` [A]; all (scenarios,)."""

    sign: Floats
    knee: Floats
    behind: Floats
    g: Floats
    free: Floats

    def take(self, columns: Ints) -> Branches:
        """The same for some scenarios."""
        return Branches(*(a[columns] for a in (self.sign, self.knee, self.behind, self.g, self.free)))

    def limits(self, v: Floats) -> Bools:
        """Whether the compliance limits the current at pad voltages `v` [V], red − black."""
        return np.asarray(self.sign * v > self.knee)

    def norton(self, limited: Bools) -> tuple[Floats, Floats]:
        """The branch as a constant current [A] into the red pad less a conductance [S] times v."""
        return np.where(limited, self.behind, self.free), np.where(limited, self.g, 0.0)


def drive(current: float, open_circuit: float, resistance: float, sign: int = 1, scenarios: int = 1) -> Drive:
    """The same source for `scenarios` scenarios."""
    full = np.ones(scenarios)
    return Drive(full * current, full * open_circuit, full * resistance, full * sign)
