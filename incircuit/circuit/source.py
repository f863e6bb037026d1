"""The meter as the circuit sees it: a current with a compliance, or a voltage behind a resistance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats, Ints


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

    def law(self, v: Floats, limited: Floats | None = None) -> tuple[Floats, Floats]:
        """Current [A] out of the red lead at pad voltage `v` (red − black) and its conductance −di/dv [S].

        `limited` (boolean) forces the branch; default: by the voltage.
        """
        along = self.sign * v
        held = along > self.knee if limited is None else limited
        behind = (self.open_circuit - along) / self.resistance
        current = np.where(held, behind, np.where(np.isfinite(self.current), self.current, 0.0))
        return self.sign * current, np.where(held, 1.0 / self.resistance, 0.0)


    def norton(self, limited: Floats) -> tuple[Floats, Floats]:
        """The branch as a constant current [A] into the red pad less a conductance [S] times v."""
        behind = self.open_circuit / self.resistance
        constant = np.where(limited, behind, np.where(np.isfinite(self.current), self.current, 0.0))
        return self.sign * constant, np.where(limited, 1.0 / self.resistance, 0.0)


def drive(current: float, open_circuit: float, resistance: float, sign: int = 1, scenarios: int = 1) -> Drive:
    """The same source for `scenarios` scenarios."""
    full = np.ones(scenarios)
    return Drive(full * current, full * open_circuit, full * resistance, full * sign)
