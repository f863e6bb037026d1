"""Inputs that once were findings, and a seeded slice of new ones; `python -m tests.fuzz` runs a million."""

from __future__ import annotations

import random
import time
from pathlib import Path

import pytest

from tests.fuzz.mutate import mutated
from tests.fuzz.targets import TARGETS, run, seeds

CORPUS = sorted(p for p in (Path(__file__).parent / "corpus").rglob("*") if p.is_file())

COUNTS = [("board", 400), ("readings", 400), ("meter", 400), ("judge", 20)]


@pytest.mark.parametrize("path", CORPUS, ids=[f"{p.parent.name}/{p.name}" for p in CORPUS])
def test_past_findings_stay_mended(path: Path) -> None:
    """Neither a traceback nor seconds of work."""
    begin = time.process_time()
    run(path.parent.name, path.read_bytes())
    assert time.process_time() - begin < 5.0


@pytest.mark.parametrize(("target", "count"), COUNTS)
def test_mutated_files(target: str, count: int) -> None:
    rng, start = random.Random(f"CI {target}"), seeds(target)
    accepted = sum(run(target, mutated(start, rng)) for _ in range(count))
    assert 0 < accepted < count, "both sides of the parser have to be seen"


def test_every_target_has_seeds_that_are_accepted() -> None:
    for target in TARGETS:
        assert any(run(target, data) for data in seeds(target)), target
