"""Normal densities averaged along straight lines: what an unknown magnitude between two points gives."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats

_FLAT = 1e-6
"""Squared length of a line, in standard deviations, below which it is a point."""


@dataclass(frozen=True, slots=True)
class Along:
    """Per line: `log` of the mean density along it, `place` of the peak (0 to 1), log density at the
    `peak`, and squared `distance` there."""

    log: Floats
    place: Floats
    peak: Floats
    distance: Floats


def along(read: Floats, low: Floats, high: Floats, covariance: Floats, strays: Floats) -> Along:
    """Lines from `low` to `high`, (lines, numbers) each, with covariances (lines, numbers, numbers).

    Where only one end is a number it holds all along; a number read where both ends are infinite
    (overload) is a stray: any number of its scale, density `strays` [1/unit].
    """
    first, second = np.isfinite(low), np.isfinite(high)
    known = first | second
    start = np.where(first, low, np.where(second, high, read))
    end = np.where(second, high, np.where(first, low, read))
    cov = np.where(known[:, :, None] & known[:, None, :], covariance, np.eye(len(read)))
    factor = np.linalg.cholesky(cov)
    both = np.linalg.solve(factor, np.stack([read - start, end - start], axis=2))
    d, step = both[:, :, 0], both[:, :, 1]
    normal = (np.where(known, 0.0, np.log(strays)).sum(axis=1)
              - 0.5 * known.sum(axis=1) * math.log(2.0 * math.pi)
              - np.log(np.einsum("kii->ki", factor)).sum(axis=1))
    a, b, c = (step * step).sum(axis=1), (step * d).sum(axis=1), (d * d).sum(axis=1)
    long = a > _FLAT
    safe = np.where(long, a, 1.0)
    place = np.where(long, np.clip(b / safe, 0.0, 1.0), 0.0)
    distance = c - 2.0 * place * b + place * place * a
    mean = [_log_integral(math.sqrt(a_), b_ / a_, c_ - b_ * b_ / a_) if is_long else -0.5 * c_
            for a_, b_, c_, is_long in zip(safe, b, c, long, strict=True)]
    return Along(normal + np.array(mean), place, normal - 0.5 * distance, distance)


def _log_integral(root: float, centre: float, rest: float) -> float:
    """Log of ∫₀¹ exp(−½(root²(t − centre)² + rest)) dt."""
    from_, to = root * (0.0 - centre), root * (1.0 - centre)
    if from_ > 0.0 or to < 0.0:  # the peak lies outside: integrate the tail from its nearer end
        near, far = (from_, to) if from_ > 0.0 else (-to, -from_)
        drop = 0.5 * (far * far - near * near)
        inside = _mills(near) - (math.exp(-drop) * _mills(far) if drop < 700.0 else 0.0)
        return -0.5 * (rest + near * near) + math.log(max(inside, 1e-300) / root)
    area = 0.5 * (math.erf(to / math.sqrt(2.0)) - math.erf(from_ / math.sqrt(2.0)))
    return -0.5 * rest + math.log(max(area * math.sqrt(2.0 * math.pi) / root, 1e-300))


def _mills(x: float) -> float:
    """exp(x²/2)·∫ₓ^∞ exp(−t²/2) dt, for x ≥ 0; from 12 on by its asymptotic series to 1e-9."""
    if x < 12.0:
        return math.sqrt(math.pi / 2.0) * math.exp(0.5 * x * x) * math.erfc(x / math.sqrt(2.0))
    y = 1.0 / (x * x)
    return (1.0 - y * (1.0 - 3.0 * y * (1.0 - 5.0 * y * (1.0 - 7.0 * y)))) / x
