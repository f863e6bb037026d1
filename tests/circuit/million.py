"""A million random networks, solved and proven, by one command that may be stopped and goes on later.

``python -m tests.circuit.million [RECORD] [COUNT] [FIRST] [WORKERS]``: one line of JSON a block of 1,000
seeds is added to RECORD; blocks already there are not run again.
"""

from __future__ import annotations

import json
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from incircuit.errors import SolveError
from tests.circuit.random_networks import proven, solved

BLOCK = 1000


@dataclass
class Tally:
    """What has been run: `rescued` by rescue number, `failed` seeds with what was said."""

    networks: int = 0
    rescued: dict[str, int] = field(default_factory=dict)
    failed: list[list[Any]] = field(default_factory=list)
    slowest: float = 0.0

    def add(self, block: dict[str, Any]) -> None:
        self.networks += block["count"]
        self.failed += block["failed"]
        self.slowest = max(self.slowest, block["slowest"])
        for step, count in block["rescued"].items():
            self.rescued[step] = self.rescued.get(step, 0) + count

    def __str__(self) -> str:
        rescues = sum(self.rescued.values())
        return (f"{self.networks} networks, {len(self.failed)} failed, {rescues} needed a rescue"
                f" {dict(sorted(self.rescued.items()))}, slowest {self.slowest:.2f} s")


def run_block(first: int, count: int) -> dict[str, Any]:
    """One block of seeds: how many were rescued by which step, which failed."""
    rescued: dict[str, int] = {}
    failed: list[list[Any]] = []
    slowest = 0.0
    for seed in range(first, first + count):
        begin = time.perf_counter()
        try:
            solution = solved(seed)
            if not proven(solution):
                failed.append([seed, "not proven"])
            step = int(solution.steps.max())
            if step:
                rescued[str(step)] = rescued.get(str(step), 0) + 1
        except (SolveError, ArithmeticError, ValueError, Warning) as error:
            failed.append([seed, f"{type(error).__name__}: {error}"])
        slowest = max(slowest, time.perf_counter() - begin)
    return {"first": first, "count": count, "rescued": rescued, "failed": failed, "slowest": slowest}


def blocks_in(record: Path) -> dict[tuple[int, int], dict[str, Any]]:
    """The blocks of a record by first seed and count; a torn last line is left out."""
    found: dict[tuple[int, int], dict[str, Any]] = {}
    for line in record.read_text(encoding="utf-8").splitlines() if record.exists() else ():
        try:
            block = json.loads(line)
        except ValueError:
            continue
        found[block["first"], block["count"]] = block
    return found


def run(record: Path, first: int, count: int, block: int = BLOCK, workers: int = 0) -> Tally:
    """Run seeds `first` … in blocks, skip those in `record`, tell how it goes on stderr."""
    known = blocks_in(record)
    wanted = [(at, min(block, first + count - at)) for at in range(first, first + count, block)]
    tally = Tally()
    for key in wanted:
        if key in known:
            tally.add(known[key])
    todo = [key for key in wanted if key not in known]
    begin = time.perf_counter()
    text = record.read_text(encoding="utf-8") if record.exists() else ""
    with record.open("a", encoding="utf-8") as out:
        if text and not text.endswith("\n"):
            out.write("\n")
        with ProcessPoolExecutor(workers or os.cpu_count() or 1) as pool:
            futures = [pool.submit(run_block, *key) for key in todo]
            for done, future in enumerate(as_completed(futures), start=1):
                found = future.result()
                out.write(json.dumps(found) + "\n")
                out.flush()
                tally.add(found)
                left = (time.perf_counter() - begin) / done * (len(todo) - done)
                print(f"\r{tally}; {left / 60:.0f} minutes left ", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    return tally


if __name__ == "__main__":
    arguments = sys.argv[1:]
    path = Path(arguments[0] if arguments else "million.jsonl")
    numbers = [int(a) for a in arguments[1:]]
    result = run(path, *([numbers[1]] if len(numbers) > 1 else [0]), numbers[0] if numbers else 1_000_000,
                 workers=numbers[2] if len(numbers) > 2 else 0)
    print(result)
    for number, what in result.failed:
        print(f"  seed {number}: {what}")
    sys.exit(1 if result.failed else 0)
