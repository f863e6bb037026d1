"""Sparse matrices of few entries ±1, applied to stacks of rows that hold one column per scenario.

For a few scenarios a dense product is three times as fast as a sparse one, for many scenarios whole rows
are added in place. Only large networks are worth the import of scipy.sparse (0.1 s).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

FEW = 48
"""Up to this many scenarios the dense form serves …"""
SMALL = 16_384
"""… of matrices of up to this many numbers."""
MANY_ENTRIES = 500
"""Matrices of more entries are applied by scipy."""


class Sums:
    """The matrix with `signs[k]` (±1) added at (`rows[k]`, `columns[k]`).

    All its forms are made when first needed and kept: a network is compiled once and solved many times.
    """

    __slots__ = ("_dense", "_listed", "_sparse", "columns", "rows", "shape", "signs")

    def __init__(self, rows: Ints, columns: Ints, signs: Ints | Floats, shape: tuple[int, int]) -> None:
        self.rows, self.columns, self.shape = rows, columns, shape
        self.signs = np.asarray(signs, dtype=np.float64)
        self._dense: Floats | None = None
        self._listed: list[tuple[int, int, bool]] | None = None
        self._sparse: Any = None

    def __matmul__(self, stack: Floats) -> Floats:
        """The sums, (rows, scenarios), of a stack (columns, scenarios)."""
        return self.add_to(np.zeros((self.shape[0], stack.shape[1])), [stack])

    def add_to(self, out: Floats, parts: Sequence[Floats]) -> Floats:
        """Add the sums of a stack, given in parts, to `out` (rows, scenarios), in place."""
        few = out.shape[1] <= FEW and self.shape[0] * self.shape[1] <= SMALL
        if few or len(self.rows) > MANY_ENTRIES:
            matrix = self._dense_form() if few else self._sparse_form()
            out += matrix @ (parts[0] if len(parts) == 1 else np.concatenate(parts))
            return out
        if self._listed is None:
            self._listed = list(zip(self.rows.tolist(), self.columns.tolist(), (self.signs > 0.0).tolist(),
                                    strict=True))
        into, rows = list(out), [row for part in parts for row in part]
        for place, source, plus in self._listed:
            (np.add if plus else np.subtract)(into[place], rows[source], out=into[place])
        return out

    def _dense_form(self) -> Floats:
        if self._dense is None:
            self._dense = np.zeros(self.shape)
            np.add.at(self._dense, (self.rows, self.columns), self.signs)
        return self._dense

    def _sparse_form(self) -> Any:
        if self._sparse is None:
            from scipy.sparse import csr_array

            self._sparse = csr_array((self.signs, (self.rows, self.columns)), shape=self.shape)
        return self._sparse
