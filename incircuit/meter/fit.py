"""Weighted least squares over a handful of readings, for what a meter puts out and how far it is off.

Every limit is taken as rectangular, u = half width/√3 (GUM 4.3.7), uncertainties add as squares
(GUM 5.1.2), and what is told is twice the standard uncertainty (GUM 6.3.3). What several readings
share (the gain of a range, its zero) is an unknown of its own with the limits the profile gives, so
that two readings on one range do not count as two independent looks at it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

COVERAGE = 2.0
"""Coverage factor of what is told, about 95 % (GUM 6.3.3)."""
CONTRADICTS = 3.5
"""A reading this many standard uncertainties from what the others say contradicts them."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A value and its expanded uncertainty (factor `COVERAGE`), in the same unit."""

    value: float
    expanded: float


@dataclass(frozen=True, slots=True)
class Row:
    """One equation: Σ terms[name]·unknown = `value` ± `sigma`; `text` is the reading as typed."""

    terms: Mapping[str, float]
    value: float
    sigma: float
    text: str


@dataclass(frozen=True, slots=True)
class Prior:
    """What is known of an unknown before: `value` ± `sigma` (one standard uncertainty)."""

    value: float
    sigma: float


@dataclass(frozen=True, slots=True)
class Fitted:
    """Unknowns by name, (n,) best values and (n, n) covariance."""

    names: tuple[str, ...]
    best: NDArray[np.float64]
    covariance: NDArray[np.float64]

    def figure(self, **terms: float) -> Figure:
        """A sum of unknowns, each times its factor."""
        import numpy as np

        factors = np.array([terms.get(name, 0.0) for name in self.names])
        variance = float(factors @ self.covariance @ factors)
        return Figure(float(factors @ self.best), COVERAGE * math.sqrt(max(0.0, variance)))


def rectangular(*halves: float) -> float:
    """Standard uncertainty of limits that add: √(Σ half²/3).

    >>> round(rectangular(0.3), 4), round(rectangular(0.3, 0.4), 4)
    (0.1732, 0.2887)
    """
    return math.hypot(*halves) / math.sqrt(3.0)


def fit(rows: Sequence[Row], priors: Mapping[str, Prior]) -> Fitted:
    """Least squares over the rows and what was known before; every unknown needs a prior."""
    import numpy as np

    names = tuple(priors)
    scale = np.array([priors[name].sigma for name in names])
    centre = np.array([priors[name].value for name in names])
    terms = np.zeros((len(rows), len(names)))
    for k, row in enumerate(rows):
        terms[k] = [row.terms.get(name, 0.0) for name in names]
    sigma = np.array([row.sigma for row in rows])
    left = np.array([row.value for row in rows]) - terms @ centre
    a = terms * scale / sigma[:, None]
    covariance = np.linalg.inv(np.eye(len(names)) + a.T @ a)
    best = centre + scale * (covariance @ (a.T @ (left / sigma)))
    return Fitted(names, best, covariance * np.outer(scale, scale))


def contradiction(rows: Sequence[Row], priors: Mapping[str, Prior]) -> tuple[Row, Figure] | None:
    """The reading furthest from what the others say, and what its value should be; None where all agree."""
    worst: tuple[float, Row, Figure] | None = None
    for k, row in enumerate(rows):
        others = fit([*rows[:k], *rows[k + 1:]], priors)
        due = others.figure(**row.terms)
        sigma = math.hypot(row.sigma, due.expanded / COVERAGE)
        far = abs(row.value - due.value) / sigma
        if far > CONTRADICTS and (worst is None or far > worst[0]):
            worst = far, row, Figure(due.value, COVERAGE * sigma)
    return worst and (worst[1], worst[2])
