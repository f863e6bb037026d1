"""Every way the engine may go about the same arithmetic gives the same answers."""

from __future__ import annotations

import numpy as np
import pytest

from incircuit.circuit import newton
from incircuit.circuit.dense import DensePlan
from tests.circuit.random_networks import solved


@pytest.mark.parametrize("first", range(2000, 2100, 50))
def test_full_rows_and_sparse_steps_agree(first: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both eliminations are exact up to rounding."""
    used = 0
    inner = DensePlan.voltages

    def counted(*arguments: object, **options: object) -> object:
        nonlocal used
        used += 1
        return inner(*arguments, **options)  # type: ignore[arg-type]

    monkeypatch.setattr(DensePlan, "voltages", counted)
    apart = 0
    for seed in range(first, first + 50):
        monkeypatch.setattr(newton, "DENSE_WORK", 10**9)
        full = solved(seed)
        monkeypatch.setattr(newton, "DENSE_WORK", -1)
        before = used
        sparse = solved(seed)
        assert used == before, "sparse steps were asked for"
        apart += int(np.abs(full.pad_voltage - sparse.pad_voltage).max() > 1e-6)
    assert used > 50
    assert apart == 0
