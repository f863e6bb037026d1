"""Random networks of every element, values over twelve decades: all solved, all proven, each by itself.

The seeded slice here runs in CI; ``python -m tests.circuit.million`` runs as many as one likes.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from incircuit.circuit.network import LINK_OHMS
from tests.circuit.million import run
from tests.circuit.random_networks import proven, solved


@pytest.mark.parametrize("first", range(0, 400, 100))
def test_all_solved_and_proven(first: int) -> None:
    """Four draws of every topology."""
    for seed in range(first, first + 100):
        assert proven(solved(seed, range(4))), seed


@pytest.mark.parametrize(("seed", "draw"), [(38448, 6), (54325, 1)])
def test_what_once_failed_is_solved(seed: int, draw: int) -> None:
    """Found by the million: 35 and 51 channels, gates anywhere, folds that settling crept along."""
    assert proven(solved(seed, [draw]))


def test_draws_are_networks_of_their_own() -> None:
    """A draw alone gives what it gives beside others, and no two have a value in common."""
    for seed in range(2000, 2040):
        beside = solved(seed, range(3))
        for draw in range(3):
            alone = solved(seed, [draw])
            assert abs(alone.pad_voltage[0] - beside.pad_voltage[draw]) < 1e-6, (seed, draw)
        g = beside.values.g
        assert len(np.unique(g[g < 1.0 / LINK_OHMS])) == np.count_nonzero(g < 1.0 / LINK_OHMS)


def test_the_long_run_goes_on_where_it_stopped(tmp_path: Path) -> None:
    """Blocks done are not done again; the summary counts all of them."""
    record = tmp_path / "so far.jsonl"
    first = run(record, 0, 20, block=10, workers=1, draws=2)
    record.write_text(record.read_text(encoding="utf-8") + '{"first": 20, "torn', encoding="utf-8")
    both = run(record, 0, 40, block=10, workers=1, draws=2)
    assert (first.networks, both.networks) == (40, 80)
    assert both.failed == []
    assert len([line for line in record.read_text(encoding="utf-8").splitlines() if line.endswith("}")]) == 4
