"""What happens where nothing can be proven: an error that says how much, where, and never a number."""

from __future__ import annotations

import math

import pytest

from incircuit.circuit import solve as module
from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import solve
from incircuit.circuit.source import drive
from incircuit.circuit.values import nominal_values
from incircuit.errors import SolveError
from tests.circuit.helpers import diode, resistances


def test_unproven_answer_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    """With an impossible tolerance every rescue is tried and the worst node is named."""
    monkeypatch.setattr(module, "ABSOLUTE_TOLERANCE", 0.0)
    monkeypatch.setattr(module, "RELATIVE_TOLERANCE", -1.0)
    elements = [*resistances([("a", "m", 33.0), ("m", "k", 4.7e3)]), diode("D1", "m", "k")]
    network = compile_network(elements, "a", "k")
    with pytest.raises(SolveError, match=r"at node (a|m) currents of") as caught:
        solve(network, nominal_values(network), drive(1e-3, 3.0, 0.3))
    assert caught.value.node in ("a", "m")
    assert caught.value.residual > caught.value.tolerance


def test_not_a_number_is_never_an_answer() -> None:
    network = compile_network(resistances([("a", "k", math.nan)]), "a", "k")
    with pytest.raises(SolveError):
        solve(network, nominal_values(network), drive(1e-3, 3.0, 0.3))
