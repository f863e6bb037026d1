"""What travels: what a mark means, and how a value is marked."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How far the part may be from its value: `minus` and `plus` as fractions, and in words."""

    minus: float
    plus: float
    text: str

    @classmethod
    def even(cls, share: float) -> Tolerance:
        """The same both ways.

        >>> Tolerance.even(0.05)
        Tolerance(minus=0.05, plus=0.05, text='±5 %')
        """
        return cls(share, share, f"±{100 * share:.6g} %")


@dataclass(frozen=True, slots=True)
class Meaning:
    """One thing a mark can mean.

    `part` is ``resistor``, ``capacitor``, ``coil`` or ``zener``; `value` in `unit` (Ω, F, H, V);
    `kind` says what kind of mark it is then; `tolerance` where the mark gives one; `tempco` [1/K],
    either sign, where it gives one; `series` the coarsest E series that has the value (``""``:
    none); `note` what to know, may be empty.
    """

    part: str
    value: float
    unit: str
    kind: str
    tolerance: Tolerance | None = None
    tempco: float | None = None
    series: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Printed:
    """How one preferred resistance [Ω] may be marked; None where that code cannot say it.

    `series` is the series it was looked up in. The last colour of the bands is the tolerance.
    """

    ohms: float
    series: str
    four_bands: tuple[str, ...] | None
    five_bands: tuple[str, ...] | None
    three_digits: str | None
    four_digits: str | None
    eia96: str | None
    letters: str


@dataclass(frozen=True, slots=True)
class Marks:
    """How a resistance [Ω] may be marked: as the nearest E24 value and, where it is another, E96."""

    ohms: float
    printed: tuple[Printed, ...]


@dataclass(frozen=True, slots=True)
class CapacitorMarks:
    """How the E24 value nearest to `asked` [F] may be marked; None where that code cannot say it."""

    asked: float
    farads: float
    three_digits: str | None
    letters: str
    microfarads: str
