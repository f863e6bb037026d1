"""Random networks of every element, values over twelve decades: all solved, all proven.

The seeded slice here runs in CI; ``python -m tests.circuit.million`` runs as many as one likes.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.circuit.million import run
from tests.circuit.random_networks import proven, solved


@pytest.mark.parametrize("first", range(0, 1000, 250))
def test_all_solved_and_proven(first: int) -> None:
    for seed in range(first, first + 250):
        assert proven(solved(seed)), seed


def test_the_long_run_goes_on_where_it_stopped(tmp_path: Path) -> None:
    """Blocks done are not done again; the summary counts all of them."""
    record = tmp_path / "so far.jsonl"
    first = run(record, 0, 20, block=10, workers=1)
    record.write_text(record.read_text(encoding="utf-8") + '{"first": 20, "torn', encoding="utf-8")
    both = run(record, 0, 40, block=10, workers=1)
    assert (first.networks, both.networks) == (20, 40)
    assert both.failed == []
    assert len([line for line in record.read_text(encoding="utf-8").splitlines() if line.endswith("}")]) == 4
