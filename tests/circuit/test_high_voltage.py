"""Supplies of hundreds of volts: found in a few steps, and no search gives up on what rounding moves."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from incircuit.board import read_board
from incircuit.circuit import solve as module
from incircuit.circuit.newton import search
from incircuit.parts.elements import Junction
from incircuit.power.discharge import stored
from tests.circuit.helpers import point

PUMP_DRIVE = Path(__file__).parents[2] / "boards/pump-drive/pump-drive.board"


@pytest.mark.parametrize("volts", [35.0, 390.0, 1000.0])
@pytest.mark.parametrize("count", [1, 5, 25])
@pytest.mark.parametrize("ohms", [10.0, 1e3, 1e5])
def test_zeners_in_breakdown(volts: float, count: int, ohms: float) -> None:
    """A chain behind a resistor carries what is left of the supply, or blocks; each then has its share."""
    chain = [Junction(f"Z{k} z", f"Z{k}", f"n{k + 1}", f"n{k}", 1e-14, 1.0, 0.5, 15.0, 5e-3)
             for k in range(count)]
    found = point(chain, "n0", f"n{count}", current=math.inf, volts=volts, resistance=ohms)
    shares = [float((found.voltage(f"n{k}") - found.voltage(f"n{k + 1}"))[0]) for k in range(count)]
    if volts > 16.0 * count:  # else only leakage flows, less than may be missing
        assert max(shares) - min(shares) < 1e-6
    assert sum(shares) == pytest.approx(volts - ohms * float(found.current[0]), rel=1e-9)
    assert found.steps.max() == 0
    assert found.iterations <= 20


def test_no_search_gives_up_on_a_powered_board(monkeypatch: pytest.MonkeyPatch) -> None:
    """Isolated sides hang on reverse currents: rounding moves them by volts, and the pad by microvolts."""
    unfinished: list[int] = []

    def counted(*arguments: Any, **options: Any) -> Any:
        outcome = search(*arguments, **options)
        unfinished.append(int(np.count_nonzero(~outcome.done)))
        return outcome

    monkeypatch.setattr(module, "search", counted)
    monkeypatch.setenv("INCIRCUIT_COMPILED", "0")
    stored(read_board(PUMP_DRIVE))
    assert len(unfinished) > 20
    assert sum(unfinished) == 0
