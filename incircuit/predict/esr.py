"""Equivalent series resistance in place: what a tester at 100 kHz shows, too little voltage for junctions.

It shows the magnitude of the impedance between the pads. A large capacitor is its series resistance there;
another one or a low resistance beside it reads lower, a small one reads its reactance. A winding reads its
reactance, and only its leakage where another one of its core is shorted.
"""

from __future__ import annotations

import numpy as np

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.sampling import drawn_coils
from incircuit.circuit.smallsignal import Reactive, impedance
from incircuit.errors import MeterError
from incircuit.meter.profile import EsrMode, Meter
from incircuit.predict.course_plant import Charged


def esr_mode(meter: Meter) -> EsrMode:
    """The mode. Raises MeterError where the meter lacks it."""
    if meter.esr is None:
        raise MeterError(f"meter {meter.name} has no esr mode; it has: {', '.join(meter.all_modes)}")
    return meter.esr


def read_esr(stage: Charged, meter: Meter, conditions: Ints) -> Floats:
    """Readings before the meter's error [ohm], (conditions, boards + 1), infinite beyond the last range."""
    mode = esr_mode(meter)
    columns = stage.columns_of(list(conditions))
    some = stage.plant.take(columns)
    henries, leakage = (a[:, columns % (stage.boards + 1)] for a in drawn_coils(some.network, stage.boards))
    reactive = Reactive(some.farads, some.esr, henries, leakage)
    found = np.abs(impedance(some.network, some.values, reactive, mode.hertz))
    last = mode.ranges[-1]
    exact = np.where(found <= last.full_scale + 0.5 * last.resolution, found, np.inf)
    return np.asarray(exact.reshape(len(conditions), stage.boards + 1))
