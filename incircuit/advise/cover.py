"""The fewest readings that show everything that can be shown: minimum set cover."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from incircuit.circuit.elimination import Floats

SECONDS = 20.0
"""Time the exact search is given."""


@dataclass(frozen=True, slots=True)
class Cover:
    """Numbers of the chosen readings, and how many any such list needs at least: `least` equals their count
    where the list is proven shortest."""

    chosen: tuple[int, ...]
    least: int

    @property
    def gap(self) -> int:
        """How many readings too many there may be."""
        return len(self.chosen) - self.least


def cover(shows: npt.NDArray[np.bool_], preference: Floats, seconds: float = SECONDS) -> Cover:
    """Fewest rows of `shows` (readings, faults) that together show every fault any row shows.

    Among lists of that length the one with the largest sum of `preference` (readings,), 0 to 1. Exact by
    mixed-integer programming (scipy.optimize.milp, HiGHS) within `seconds`; else greedy (Chvátal, Math.
    Oper. Res. 4 (1979) 233) with the bound the search had come to.
    """
    rows = np.flatnonzero(shows.any(axis=1))
    table = np.unique(shows[rows][:, shows[rows].any(axis=0)], axis=1)
    if not table.size:
        return Cover((), 0)
    greedy = _greedy(table, preference[rows])
    found, least = _exact(table, preference[rows], seconds)
    best = found if found and len(found) <= len(greedy) else greedy
    return Cover(tuple(int(rows[k]) for k in best), min(least, len(best)))


def _exact(table: npt.NDArray[np.bool_], preference: Floats, seconds: float) -> tuple[tuple[int, ...], int]:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csc_array

    count = table.shape[0]
    tie = 0.5 / (count + 1)  # all preferences together weigh less than one reading
    cost = 1.0 - tie * np.clip(preference, 0.0, 1.0)
    done = milp(cost, integrality=np.ones(count, dtype=np.intp), bounds=Bounds(0.0, 1.0),
                constraints=LinearConstraint(csc_array(table.T.astype(np.float64)), lb=1.0),
                options={"time_limit": seconds, "mip_rel_gap": 0.0})
    bound = done.mip_dual_bound
    # a list of n readings costs between n − 1/2 and n
    least = int(np.ceil(bound - 1e-6)) if bound is not None and np.isfinite(bound) else 1
    return (() if done.x is None else tuple(np.flatnonzero(done.x > 0.5).tolist())), least


def _greedy(table: npt.NDArray[np.bool_], preference: Floats) -> tuple[int, ...]:
    left = np.ones(table.shape[1], dtype=bool)
    chosen: list[int] = []
    while left.any():
        best = int(np.argmax((table & left).sum(axis=1) + 0.5 * np.clip(preference, 0.0, 1.0)))
        chosen.append(best)
        left &= ~table[best]
    return tuple(chosen)
