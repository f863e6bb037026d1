"""Voltages, energies and times that standards and handbooks give, each with its source; and cautions."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limit:
    """A voltage [V] and the time [s] by which a product must be below it."""

    volts: float
    seconds: float
    source: str


LIMITS = (
    Limit(60.0, 5.0, "IEC 60204-1 cl. 6.2.4: 60 V or less 5 s after switching off (DC links: longer)"),
    Limit(50.0, 60.0, "NEC 460.6: 50 V or less within 1 min, capacitors up to 600 V"),
    Limit(34.0, 1.0, "IEC 60335-1 cl. 22.5: 34 V or less at the pins of a plug 1 s after unplugging"),
)
"""In the order of falling voltage."""

SHOCK_VOLTS, SHOCK_JOULES = 100.0, 10.0
SHOCK_SOURCE = "Berkeley Lab electrical safety manual: 100 V and 10 J or more"

UNPLUG = ("Unplug, take batteries off, and lock out. Until the stored energy is released the board counts as "
          "energised.")
UNPLUG_SOURCE = "OSHA 29 CFR 1910.333(b)(2)(ii)"
COMES_BACK = ("Charge can come back after discharging (dielectric absorption): measure again before you "
              "touch, and keep the resistor or a wire across it while you work.")
COMES_BACK_SOURCE = "DOE-HDBK-1092"
METER = "Use a meter and probes rated for the place."
METER_SOURCE = "IEC 61010-2-033, IEC 61010-031"
DEFER = ("Local electrical codes, the maker's instructions and licensed practice come first. Bleeders fail, "
         "and this knows only what is in the board file: only a measurement says that it is empty.")

CAUTIONS = (
    (UNPLUG, UNPLUG_SOURCE),
    ("Wait, discharge through a resistor made for it with insulated clips, never with a screwdriver, and "
     "verify with the meter on volts; try the meter on a known voltage before and after.", "common practice"),
    (COMES_BACK, COMES_BACK_SOURCE),
    (METER, METER_SOURCE),
    (DEFER, ""),
)
"""Cautions for discharging, each with its source (empty where there is none)."""


def can_hurt(volts: float, joules: float) -> bool:
    """Whether a charge lies above the shock threshold; less can hurt too."""
    return volts >= SHOCK_VOLTS and joules >= SHOCK_JOULES
