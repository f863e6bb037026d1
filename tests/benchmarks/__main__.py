"""``python -m tests.benchmarks``: the engine's figures as ratios, all taken in this one run."""

from __future__ import annotations

import os

import numpy as np

from incircuit.circuit.cores import cores
from tests.benchmarks import floor, reference, startup

SLICE = 1000
"""Cases that ngspice solves; the others are the same work."""


def main() -> None:
    """Print every figure."""
    work = reference.task()
    print(f"reference task: {work.network.size + 1} nets, {len(reference.RESISTORS)} resistors, "
          f"{len(work.network.junctions)} junctions, {work.cases:,} cases")
    solution, took = reference.ours(work, 9)
    mine = took / work.cases
    columns = np.linspace(0, work.cases - 1, SLICE).astype(int)
    volts, altered, bare = reference.by_ngspice(work, columns)
    _, again = reference.ours(work, 9)
    mine = min(mine, again / work.cases)
    off = np.abs(volts - solution.pad_voltage[columns])
    within = off <= 2e-5 + 1e-4 * np.abs(volts)
    least, needed = floor.seconds(work)
    alone = one_core(work)
    rows = {
        f"own engine, {cores()} cores": f"{mine * 1e6:.3f} us a case",
        "own engine, 1 core": f"{alone * 1e6:.3f} us a case",
        "ngspice in process": f"{altered * 1e6:.1f} us a case, values altered; {bare * 1e6:.1f} us bare op",
        "ngspice / own engine": f"{altered / mine:.0f} times; {altered / alone:.0f} on one core",
        "answers apart": f"{off.max() * 1e6:.2f} uV at most, {'all' if within.all() else 'NOT all'} "
                         "within 20 uV + 0.01 %",
        "floor, arithmetic alone": f"{least / work.cases * 1e6:.3f} us a case, {needed:.2f} iterations",
        "own engine / floor": f"{mine * work.cases / least:.1f} times",
    }
    for name, said in rows.items():
        print(f"  {name:26} {said}")
    print("whole processes")
    for name, (seconds, ratio) in startup.table().items():
        print(f"  {name:44} {seconds:6.2f} s  {ratio:5.1f} times the imports")


def one_core(work: reference.Task) -> float:
    """Seconds a case on one core."""
    before = os.environ.get("INCIRCUIT_CORES")
    os.environ["INCIRCUIT_CORES"] = "1"
    try:
        return reference.ours(work, 7)[1] / work.cases
    finally:
        os.environ.pop("INCIRCUIT_CORES")
        if before:
            os.environ["INCIRCUIT_CORES"] = before


if __name__ == "__main__":
    main()
