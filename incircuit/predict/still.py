"""Which changes of a board leave a solved operating point as it is, so that it need not be solved again.

Taking away what carries no current and joining what is at one voltage changes no voltage anywhere: the
old operating point satisfies Kirchhoff's laws on the new board too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.circuit.kirchhoff import branch_currents, sizes_by_name
from incircuit.circuit.solve import Solution
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Capacitance, Change, Resistance
from incircuit.predict.measure import Ask, Lane, asked_ranges

AMPS = 1e-6
"""A current below this part of the source's may be cut …"""
VOLTS = 1e-5
"""… and nodes closer than this part of the pads' voltage, or than a twentieth of a digit, be joined."""
BIASED = 0.05
"""A gate further from its source than this [V] may steer its channel: then any cut moves the reading."""


@dataclass(frozen=True, slots=True)
class Still:
    """Operating points of the board as it is, one a lane: `amps` by element name (lanes,), node voltages `v`
    [V] by number, and what counts as nothing [A, V], (lanes,)."""

    amps: Mapping[str, Floats]
    index: Mapping[str, int]
    v: Floats
    least_amps: Floats
    least_volts: Floats

    def moving(self, what: Change) -> tuple[int, ...]:
        """The lanes a change can move."""
        moved = np.zeros(len(self.least_amps), dtype=bool)
        for name in what.remove:
            if name in self.amps:
                moved |= self.amps[name] > self.least_amps
        for e in what.add:
            if isinstance(e, Capacitance):
                continue
            if not isinstance(e, Resistance):
                return tuple(range(len(moved)))
            across = np.abs(self.v[self.index[e.a]] - self.v[self.index[e.b]])
            flows = across / max(e.ohms, 1e-12) if e.ohms < np.inf else np.zeros_like(across)
            moved |= (across > self.least_volts) & (flows > self.least_amps)
        return tuple(np.flatnonzero(moved).tolist())


def still_of(solution: Solution, meter: Meter, asks: Sequence[Ask], lanes: Sequence[Lane],
             use: Mapping[Ask, Sequence[int]]) -> Still:
    """From the solved board as it is, one column a lane."""
    network = solution.network
    amps = sizes_by_name(network, branch_currents(network, solution.values, solution.v, solution.vd))
    # cutting a lead that carries nothing can still let a biased gate go
    gates = np.abs(solution.v[network.ends.mg] - solution.v[network.ends.ms])
    biased = gates.max(axis=0, initial=0.0) > BIASED
    digits = np.full(len(lanes), np.inf)
    source = np.full(len(lanes), np.inf)
    for ask in asks:
        for n, (_, scale) in zip(use[ask], asked_ranges(meter, ask), strict=True):
            volts = ask.mode == "diode"
            behind = scale.source.resistance + (0.0 if volts else scale.full_scale)
            most = min(scale.source.current, scale.source.open_circuit / behind)
            source[n] = min(source[n], most)
            digits[n] = min(digits[n], scale.resolution * (1.0 if volts else most))
    return Still(amps, network.index, solution.v, np.where(biased, -1.0, AMPS * source),
                 np.maximum(VOLTS * np.abs(solution.pad_voltage), 0.05 * digits))
