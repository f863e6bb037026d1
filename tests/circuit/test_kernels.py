"""Every way the engine may go about the same arithmetic gives the same answers."""

from __future__ import annotations

import os
from dataclasses import replace

import numpy as np
import pytest

from incircuit.circuit import compiled, elimination, newton
from incircuit.circuit.dense import DensePlan
from incircuit.circuit.network import Network
from incircuit.parts.elements import Channel
from tests.benchmarks.reference import ours, task
from tests.circuit.helpers import point, resistances
from tests.circuit.random_networks import solved

needs_numba = pytest.mark.skipif(not compiled.installed() and not os.environ.get("CI"),
                                 reason="numba is not installed; pip install -e '.[fast]'")


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


@needs_numba
@pytest.mark.slow
def test_the_compiled_kernel_agrees(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every kind of element, crowded networks too; compiling takes its time."""
    for seed in range(3000, 3120):
        monkeypatch.setenv("INCIRCUIT_COMPILED", "1")
        fast = solved(seed)
        monkeypatch.setenv("INCIRCUIT_COMPILED", "0")
        plain = solved(seed)
        assert fast.residual.max() <= fast.tolerance.max(), seed
        assert np.abs(fast.pad_voltage - plain.pad_voltage).max() < 1e-6, seed


@needs_numba
@pytest.mark.slow
def test_the_compiled_kernel_on_many_scenarios(monkeypatch: pytest.MonkeyPatch) -> None:
    """More than one block, more than one chunk, the last ones not full."""
    work = task(501)
    monkeypatch.setenv("INCIRCUIT_COMPILED", "1")
    fast, _ = ours(work, 1)
    monkeypatch.setenv("INCIRCUIT_COMPILED", "0")
    plain, _ = ours(work, 1)
    assert np.abs(fast.v - plain.v).max() < 1e-9
    assert fast.steps.max() == 0


@needs_numba
@pytest.mark.slow
def test_the_compiled_kernel_tells_polarities_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    """Networks of one layout share what is made of it; an n and a p channel in one place do not."""
    for compiled_or_not in ("1", "0"):
        monkeypatch.setenv("INCIRCUIT_COMPILED", compiled_or_not)
        read = [float(point([Channel("M1", "M1", "d", "g", "s", sign * 2.0, 1.0, sign),
                             *resistances([("d", "g", 100.0), ("a", "d", 10.0)])], "a", "s").pad_voltage[0])
                for sign in (1, -1)]
        assert 2.0 < read[0] < 2.2
        assert read[1] > 2.9


def test_a_command_never_waits_for_the_compiler(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only batches of millions load it unasked, and only by their size."""
    network: Network = task(2).network
    monkeypatch.delenv("INCIRCUIT_COMPILED", raising=False)
    monkeypatch.setattr(compiled, "installed", lambda: True)
    assert not compiled.wanted(network, 100_000)
    assert compiled.wanted(network, 10_000_000)
    monkeypatch.setenv("INCIRCUIT_COMPILED", "0")
    assert not compiled.wanted(network, 10_000_000)


def test_long_rows_one_by_one_give_the_same_digits(monkeypatch: pytest.MonkeyPatch) -> None:
    """On short rows numpy adds up in another order: there the last digits differ."""
    monkeypatch.setenv("INCIRCUIT_COMPILED", "0")
    monkeypatch.setattr(newton, "DENSE_WORK", -1)
    found = []
    for long in (1, 10**9):
        monkeypatch.setattr(elimination, "LONG", long)
        found.append((ours(task(30), 1)[0].v, [solved(seed).pad_voltage for seed in range(4000, 4060)]))
    assert np.array_equal(found[0][0], found[1][0])
    assert all(np.abs(a - b).max() < 1e-6 for a, b in zip(found[0][1], found[1][1], strict=True))


@needs_numba
@pytest.mark.slow
def test_no_scenario_of_the_compiled_kernel_depends_on_others(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same scenarios in another order, and alone, give the same digits."""
    monkeypatch.setenv("INCIRCUIT_COMPILED", "1")
    work = task(9)
    order = np.random.default_rng(5).permutation(work.cases)

    def some(columns: np.ndarray) -> np.ndarray:
        before = replace(work.before, of=work.before.of[columns])
        part = replace(work, values=work.values.take(columns), drive=work.drive.take(columns), before=before)
        return np.asarray(ours(part, 1)[0].v)

    whole = some(np.arange(work.cases))
    assert np.array_equal(some(order), whole[:, order])
    assert all(np.array_equal(some(order[k:k + 1]), whole[:, order[k:k + 1]]) for k in range(20))
