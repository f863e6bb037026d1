"""The floor of the reference task: only the arithmetic of its factorizations and exponentials.

For every Newton iteration that the cases need: one exponential a junction, and the divisions,
multiplications and additions of one elimination with its forward and backward substitution. No loading, no
stamps, no laws, no limits, no test for convergence, no proof.

`seconds`: as numpy's operations on arrays that are there already, of the size the solver uses, on one core,
as the solver without a compiler works. `compiled_seconds`: as the compiled kernel's own operations on rows
that stay in the nearest cache, on all cores.
"""

from __future__ import annotations

import time

import numpy as np

from incircuit.circuit import newton
from incircuit.circuit import solve as engine
from incircuit.circuit.compiled import book_of, room_for
from incircuit.circuit.cores import cores, on_all_cores
from incircuit.circuit.elimination import Floats, Plan
from tests.benchmarks.reference import Task, ours


def iterations(work: Task) -> float:
    """Newton iterations a case takes, on average."""
    columns = 0
    inner = newton._step

    def counted(problem, guess, limited, pull=None):  # type: ignore[no-untyped-def]
        nonlocal columns
        columns += len(problem.source.sign)
        return inner(problem, guess, limited, pull)

    newton._step = counted
    try:
        ours(work, 1)
    finally:
        newton._step = inner
    return columns / work.cases


def arithmetic(plan: Plan) -> dict[str, int]:
    """Operations of one elimination with one right-hand side, a symmetric matrix taken as such."""
    found = {"divide": 0, "multiply": 0, "add": 0}
    for step in plan.steps:
        later, pairs = len(step.later), len(step.target)
        found["divide"] += 1
        found["multiply"] += 5 * later + pairs + 1  # row, excess, pairs, forward, backward
        found["add"] += 4 * later + pairs
    return found


def seconds(work: Task, needed: float, repeats: int = 9) -> float:
    """Seconds of the fastest of some runs for all cases at `needed` iterations a case, by numpy."""
    layout = work.network.layout
    width = min(work.cases, engine._CHUNK_NUMBERS // (layout.port.slots + layout.linear.slots))
    counts, junctions = arithmetic(layout.port), len(work.network.junctions)
    chunks = [np.random.default_rng(k).uniform(0.5, 1.0, (3, width)) for k in range(-(-work.cases // width))]
    best = float("inf")
    for _ in range(repeats):
        begin = time.perf_counter()
        for chunk in chunks:
            _grind(chunk, junctions, counts)
        best = min(best, time.perf_counter() - begin)
    return best * needed * work.cases / (width * len(chunks))


def _grind(chunk: Floats, junctions: int, counts: dict[str, int]) -> None:
    a, b, out = chunk
    for _ in range(junctions):
        np.exp(a, out=out)
    for _ in range(counts["divide"]):
        np.divide(a, b, out=out)
    for _ in range(counts["multiply"]):
        np.multiply(a, b, out=out)
    for _ in range(counts["add"]):
        np.add(a, b, out=out)


def compiled_seconds(work: Task, needed: float, repeats: int = 9) -> float:
    """The same by the compiled kernel's own exponential, elimination and substitutions, on all cores."""
    from incircuit.circuit.lanes import LANES
    from tests.benchmarks.compiled_floor import grind

    book = book_of(work.network)
    rounds = round(needed * work.cases / LANES / cores())
    tables = [room_for(book) for _ in range(cores())]
    for room, _ in tables:
        room.fill(0.5)
    best = float("inf")
    for _ in range(repeats):
        begin = time.perf_counter()
        on_all_cores(lambda t: grind(t[1], book.ctypes.data, rounds), tables)
        best = min(best, time.perf_counter() - begin)
    return best
