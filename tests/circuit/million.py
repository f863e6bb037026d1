"""A million random networks, solved and proven, by one command that may be stopped and goes on later.

``python -m tests.circuit.million [RECORD] [TOPOLOGIES] [FIRST] [WORKERS]``: 125,000 topologies unless told
otherwise, each with `DRAWS` independent draws of all its values; every draw is a network of its own with its
own proof. One line of JSON a block of 500 topologies is added to RECORD; blocks there are not run again.
INCIRCUIT_COMPILED=1 has the compiled kernel search.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from incircuit.errors import SolveError
from tests.circuit.random_networks import DRAWS, proven, solved

BLOCK = 500


@dataclass
class Tally:
    """What has been run: `rescued` networks by rescue number, `failed` [seed, draw, what was said], `slowest`
    topology [s of processor time] and its seed."""

    topologies: int = 0
    networks: int = 0
    rescued: dict[str, int] = field(default_factory=dict)
    failed: list[list[Any]] = field(default_factory=list)
    slowest: tuple[float, int] = (0.0, 0)

    def add(self, block: dict[str, Any]) -> None:
        self.topologies += block["count"]
        self.networks += block["count"] * block["draws"]
        self.failed += block["failed"]
        self.slowest = max(self.slowest, (block["slowest"][0], block["slowest"][1]))
        for step, count in block["rescued"].items():
            self.rescued[step] = self.rescued.get(step, 0) + count

    def __str__(self) -> str:
        rescues = sum(self.rescued.values())
        return (f"{self.topologies} topologies, {self.networks} networks, {len(self.failed)} failed, "
                f"{rescues} needed a rescue {dict(sorted(self.rescued.items()))}, slowest topology "
                f"{self.slowest[0]:.2f} s (seed {self.slowest[1]})")


def run_block(first: int, count: int, draws: int) -> dict[str, Any]:
    """One block of seeds: how many were rescued by which step, which failed."""
    rescued: dict[str, int] = {}
    failed: list[list[Any]] = []
    slowest = (0.0, first)
    for seed in range(first, first + count):
        begin = time.process_time()
        for step, said in outcomes(seed, range(draws)):
            if said:
                failed.append([seed, *said])
            if step:
                rescued[str(step)] = rescued.get(str(step), 0) + 1
        slowest = max(slowest, (time.process_time() - begin, seed))
    return {"first": first, "count": count, "draws": draws, "rescued": rescued, "failed": failed,
            "slowest": slowest, "compiled": os.environ.get("INCIRCUIT_COMPILED") == "1"}


def outcomes(seed: int, draws: Sequence[int]) -> list[tuple[int, list[Any]]]:
    """Per draw the rescue needed, and what failed, [draw, what was said]; a failed batch is taken apart."""
    try:
        solution = solved(seed, draws)
        if proven(solution):
            return [(int(step), []) for step in solution.steps]
        said = "not proven"
    except (SolveError, ArithmeticError, ValueError, Warning) as error:
        said = f"{type(error).__name__}: {error}"
    if len(draws) == 1:
        return [(0, [draws[0], said])]
    alone = [outcomes(seed, [draw])[0] for draw in draws]
    if not any(failed for _, failed in alone):
        alone[0] = (alone[0][0], [-1, f"only as a batch: {said}"])
    return alone


def blocks_in(record: Path) -> dict[tuple[int, int, int], dict[str, Any]]:
    """The blocks of a record by first seed, count and draws; a torn last line is left out."""
    found: dict[tuple[int, int, int], dict[str, Any]] = {}
    for line in record.read_text(encoding="utf-8").splitlines() if record.exists() else ():
        try:
            block = json.loads(line)
        except ValueError:
            continue
        found[block["first"], block["count"], block["draws"]] = block
    return found


def run(record: Path, first: int, count: int, block: int = BLOCK, workers: int = 0,
        draws: int = DRAWS) -> Tally:
    """Run seeds `first` … in blocks, skip those in `record`, tell how it goes on stderr."""
    known = blocks_in(record)
    wanted = [(at, min(block, first + count - at), draws) for at in range(first, first + count, block)]
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
    topologies, begin_at, processes = (*map(int, arguments[1:]), *(125_000, 0, 0)[len(arguments[1:]):])
    result = run(path, begin_at, topologies, workers=processes)
    print(result)
    for number, draw, what in result.failed:
        print(f"  seed {number}, draw {draw}: {what}")
    sys.exit(1 if result.failed else 0)
