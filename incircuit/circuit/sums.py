"""Sparse matrices of few entries, applied to stacks of rows that hold one column per scenario.

For a few scenarios a dense product is three times as fast as a sparse one, and spares a short command
the import of scipy.sparse (0.1 s); for many it is the other way round.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

FEW = 48
"""Up to this many scenarios the dense form serves …"""
SMALL = 16_384
"""… of matrices of up to this many numbers."""


class Sums:
    """The matrix with `signs[k]` added at (`rows[k]`, `columns[k]`); ``sums @ stack`` applies it.

    Both forms are made when first needed and kept: a network is compiled once and solved many times.
    """

    __slots__ = ("_dense", "_sparse", "columns", "rows", "shape", "signs")

    def __init__(self, rows: Ints, columns: Ints, signs: Ints | Floats, shape: tuple[int, int]) -> None:
        self.rows, self.columns, self.shape = rows, columns, shape
        self.signs = np.asarray(signs, dtype=np.float64)
        self._dense: Floats | None = None
        self._sparse: Any = None

    def __matmul__(self, stack: Floats) -> Floats:
        """The sums, (rows, scenarios), of a stack (columns, scenarios)."""
        if stack.shape[1] <= FEW and self.shape[0] * self.shape[1] <= SMALL:
            if self._dense is None:
                self._dense = np.zeros(self.shape)
                np.add.at(self._dense, (self.rows, self.columns), self.signs)
            return np.asarray(self._dense @ stack)
        if self._sparse is None:
            from scipy.sparse import csr_array

            self._sparse = csr_array((self.signs, (self.rows, self.columns)), shape=self.shape)
        return np.asarray(self._sparse @ stack)
