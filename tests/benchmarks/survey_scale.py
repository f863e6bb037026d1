"""How long a survey takes on boards of rising size: `python -m tests.benchmarks.survey_scale [parts …]`.

Boards come from `tests.advise.large`. Printed are seconds on the wall and of processor time (this process
and its workers), milliseconds a part, the largest memory of one process, and the exponent fitted to time
against parts.
"""

from __future__ import annotations

import math
import os
import sys
import time

from incircuit.advise.costs import load_costs
from incircuit.advise.crew import processors
from incircuit.advise.survey import survey
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from tests.advise.large import large

SIZES = (30, 100, 300, 1000, 3000)


def run(parts: int, seed: int = 1) -> tuple[float, float]:
    """Survey one board; prints a line. (wall, processor seconds)."""
    circuit, meter, costs = build(large(parts, seed)), load_meter("handheld"), load_costs()
    begin, before = time.perf_counter(), os.times()
    found = survey(circuit, meter, costs)
    wall, after = time.perf_counter() - begin, os.times()
    spent = sum(after[k] - before[k] for k in range(4))
    print(f"{parts:6} parts {len(found.sights):7} faults {found.visible:6.1%} visible {wall:8.1f} s "
          f"{spent:8.1f} s of processors {1e3 * wall / parts:7.1f} ms a part {_memory():6.0f} MB", flush=True)
    return wall, spent


def _memory() -> float:
    """Largest resident memory of this process or a worker so far [MB]; 0 where it cannot be told."""
    try:
        import resource
    except ImportError:
        return 0.0
    each = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    return max(resource.getrusage(who).ru_maxrss for who in each) / 1024


def exponent(sizes: list[int], seconds: list[float]) -> float:
    """Slope of log seconds over log parts, least squares."""
    x, y = [math.log(s) for s in sizes], [math.log(s) for s in seconds]
    mx, my = sum(x) / len(x), sum(y) / len(y)
    return sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True)) / sum((a - mx) ** 2 for a in x)


if __name__ == "__main__":
    chosen = [int(word) for word in sys.argv[1:]] or list(SIZES)
    print(f"{processors()} processors")
    times = [run(parts) for parts in chosen]
    if len(chosen) > 1:
        for name, column in (("wall", 0), ("processors", 1)):
            print(f"exponent by {name}: {exponent(chosen, [t[column] for t in times]):.2f}")
