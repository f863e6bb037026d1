"""How readings vary together, from few drawn boards: what each parameter does, and what is left.

The covariance of sixty drawn boards is no covariance of thirty readings: by chance some combination of them
hardly varies, and a sound board would look impossible there. But it is known which value every parameter
had on every drawn board. So each reading is explained by the few parameters that move it (orthogonal
matching pursuit: Y. C. Pati, R. Rezaiifar, P. S. Krishnaprasad, Asilomar 1993), whose variances are
known; only what they leave is taken from the boards, and what readings share of that only in part.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.circuit.sampling import uniforms
from incircuit.parts.elements import Capacitance, Coupling, Element, Junction, Resistance

STEPS = 12
"""Parameters that explain a reading, at most."""
TELLING = 3.2
"""A parameter counts where its correlation with what is left is above this, in deviations of chance."""
LEFT = 1e-3
"""Part of a reading's variance that need not be explained."""
ONE = 0.9
"""Rests of two readings that agree by more than this are one: chance does not do so on dozens of boards."""
TOGETHER = 0.7
"""Of what parameters leave unexplained, readings share this much as drawn (assumption)."""
VARIANCE = 1.0 / 3.0
"""Of a parameter uniform in [−1, 1]."""


def names_of(elements: Iterable[Element]) -> frozenset[str]:
    """Names of the parameters of some elements that spread."""
    names: set[str] = set()
    for e in elements:
        if isinstance(e, Coupling):
            continue
        spreads = [(e.name, e.spread)]
        spreads += [(f"{e.name} esr", e.esr_spread)] if isinstance(e, Capacitance) else []
        spreads += [(f"{e.name} slope", e.n_spread)] if isinstance(e, Junction) else []
        if isinstance(e, Resistance) and e.coil is not None:
            spreads.append((f"{e.name} henries", e.coil.spread))
            names |= {f"group {e.coil.core} leakage"} if e.coil.leakage_spread else set()
        for name, spread in spreads:
            names |= {name} if spread.own else set()
            names |= {f"group {spread.group}"} if spread.shared else set()
    return frozenset(names)


def axes_of(names: Iterable[str], boards: int) -> Floats:
    """(parameters, boards) what every parameter was on every drawn board, in [−1, 1]; temperature and leads
    besides those named."""
    return np.stack([uniforms(name, boards)[1:] for name in sorted({*names, "temperature", "leads"})])


def covariance_of(deviation: Floats, axes: Floats) -> Floats:
    """(readings, readings) from deviations of drawn boards from the nominal one, (readings, boards)."""
    return combined(*explained(deviation, axes))


def combined(effect: Floats, rest: Floats) -> Floats:
    """(readings, readings) covariance from what `explained` gives of each reading."""
    return np.asarray(VARIANCE * effect @ effect.T + left_over(rest))


def explained(deviation: Floats, axes: Floats) -> tuple[Floats, Floats]:
    """What each parameter does to each reading, (readings, parameters), and what is left on every board, of
    unit weight, (readings, boards); each reading by itself.

    `deviation` (readings, boards) is not finite where a board overloads: it is left out for that reading.
    """
    known = np.isfinite(deviation)
    left = np.where(known, deviation, 0.0)
    count = np.maximum(known.sum(axis=1), 1)
    total = np.maximum((left**2).sum(axis=1), 1e-300)
    chosen: list[Floats] = [known.astype(np.float64)]  # the mean, for the boards left are not all
    numbers: list[Floats] = []
    basis = [_unit(chosen[0])]
    left = _without(left, basis[0])
    for _ in range(STEPS):
        score = left @ axes.T / np.sqrt(np.maximum((left**2).sum(axis=1), 1e-300))[:, None]
        score /= np.sqrt(np.maximum(known @ (axes**2).T, 1e-12))
        best = np.argmax(np.abs(score), axis=1)
        takes = ((np.abs(score[np.arange(len(best)), best]) * np.sqrt(count) > TELLING)
                 & ((left**2).sum(axis=1) > LEFT * total))
        if not takes.any():
            break
        axis = np.where(takes[:, None], axes[best] * known, 0.0)
        chosen.append(axis)
        numbers.append(np.where(takes, best, -1))
        for one in basis:
            axis = _without(axis, one)
        basis.append(_unit(axis))
        left = _without(left, basis[-1])
    effect = _effect(np.where(known, deviation, 0.0), chosen, numbers, len(axes))
    used = 1.0 + sum((n >= 0).astype(np.float64) for n in numbers)
    return effect, left / np.sqrt(np.maximum(count - used, 1.0))[:, None]


def _effect(deviation: Floats, chosen: Sequence[Floats], numbers: Sequence[Floats],
            parameters: int) -> Floats:
    """(readings, parameters) what the chosen parameters do."""
    effect = np.zeros((len(deviation), parameters))
    if numbers:
        table = np.stack(chosen, axis=2)  # (readings, boards, chosen)
        gram = np.einsum("rbi,rbj->rij", table, table) + 1e-9 * np.eye(table.shape[2])
        weights = np.linalg.solve(gram, np.einsum("rbi,rb->ri", table, deviation)[:, :, None])[:, :, 0]
        for k, at in enumerate(numbers, start=1):
            rows = np.flatnonzero(at >= 0)
            effect[rows, at[rows]] += weights[rows, k]
    return effect


def left_over(rest: Floats) -> Floats:
    """(readings, readings) covariance of what no parameter explains, from (readings, boards) of unit weight.

    Readings of one leaking junction leave the same, and that is no chance: what more than chance lets
    readings share (V. A. Marchenko, L. A. Pastur, Math. USSR Sb. 1 (1967) 457) is kept whole.
    """
    size = np.sqrt((rest**2).sum(axis=1))
    found, some = np.zeros((len(rest), len(rest))), np.flatnonzero(size)
    rest, size = rest[some], size[some]
    unit = rest / np.maximum(size, 1e-300)[:, None]
    alike = _alike(unit)
    common = _unit(alike.T @ unit)
    part = alike * (unit @ common.T)
    own = unit - part @ common
    together = part @ _shrunk(common) @ part.T + _shrunk(own)
    found[np.ix_(some, some)] = together * size[:, None] * size
    return found


def _alike(unit: Floats) -> Floats:
    """(readings, groups) signs of readings that leave the same on every board: one reading taken twice."""
    same = unit @ unit.T
    groups: list[Floats] = []
    taken = np.zeros(len(unit), dtype=np.bool_)
    for k in range(len(unit)):
        if not taken[k]:
            with_it = (np.abs(same[k]) > ONE) & ~taken
            taken |= with_it
            groups.append(np.where(with_it, np.sign(same[k]), 0.0))
    return np.stack(groups, axis=1) if groups else np.zeros((0, 0))


def _shrunk(rows: Floats) -> Floats:
    """(rows, rows) products of rows of at most unit length, but for what chance lets them share."""
    product = rows @ rows.T
    shares, ways = np.linalg.eigh(product)
    real = shares > (1.0 + np.sqrt(len(rows) / max(rows.shape[1], 1))) ** 2
    way = ways[:, real] * np.sqrt(shares[real])
    sure = way @ way.T
    left = product - sure
    return np.asarray(sure + TOGETHER * left + (1.0 - TOGETHER) * np.diag(np.diag(left)))


def _unit(rows: Floats) -> Floats:
    length = np.sqrt((rows**2).sum(axis=1, keepdims=True))
    return np.where(length > 1e-12, rows / np.where(length > 1e-12, length, 1.0), 0.0)


def _without(rows: Floats, unit: Floats) -> Floats:
    """Rows less their part along unit rows, one each."""
    return np.asarray(rows - (rows * unit).sum(axis=1, keepdims=True) * unit)
