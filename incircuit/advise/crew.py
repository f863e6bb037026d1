"""Many jobs at once on all processors; jobs that are the same but for names are done once.

The answers do not depend on how many processors there are or which job is done first.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from typing import Any

from incircuit.interrupts import put_off

FEW = 16
"""Up to so many jobs are done in this process."""
CHUNK = 40
"""Keys found in one go."""
LONG = 120
"""From so many jobs on the compiled kernel (`incircuit.circuit.compiled`) pays, where it is installed; the
number of jobs, not of processors, decides, so that either way the answers are the same to the digit."""

Progress = Callable[[int, int], None]
Function = Callable[[Any, Any], Any]
"""A function of the context and a job, at the top level of its module."""
Run = Callable[[Function, Sequence[Any]], Iterator[tuple[int, Any]]]
"""Runs a function over jobs: (number, answer) as they are done."""
KERNEL = "INCIRCUIT_COMPILED"
_context: Any = None


def processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


@contextmanager
def crew(context: Any, jobs: int, workers: int = 0) -> Iterator[Run]:
    """Something that runs functions over jobs, here where there are few of them, else in `workers` processes
    (0: as many as there are processors). `context` is handed to each process once."""
    with _kernel(jobs), _crew(context, jobs, workers) as run:
        yield run


@contextmanager
def _kernel(jobs: int) -> Iterator[None]:
    """Asks for the compiled kernel, here and in processes begun meanwhile, unless the user has decided."""
    asked = jobs >= LONG and KERNEL not in os.environ
    if asked:
        os.environ[KERNEL] = "1"
    try:
        yield
    finally:
        if asked:
            os.environ.pop(KERNEL, None)


@contextmanager
def _crew(context: Any, jobs: int, workers: int) -> Iterator[Run]:
    count = workers or processors()
    if count < 2 or jobs <= FEW:
        yield lambda function, some: ((k, function(context, one)) for k, one in enumerate(some))
        return
    pool = ProcessPoolExecutor(count, initializer=_begin, initargs=(context,))

    def run(function: Function, some: Sequence[Any]) -> Iterator[tuple[int, Any]]:
        with put_off():  # the first starts the processes: none must be left over
            asked: dict[Future[Any], int] = {pool.submit(_do, function, one): k
                                             for k, one in enumerate(some)}
        for done in as_completed(asked):
            yield asked[done], done.result()

    try:
        yield run
    except KeyboardInterrupt:
        for process in list((pool._processes or {}).values()):  # what they are at may take long
            process.terminate()
        raise
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _begin(context: Any) -> None:
    global _context
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one who asked stops the others
    _context = context


def _do(function: Function, one: Any) -> Any:
    return function(_context, one)


def once(run: Run, keys: Sequence[str], function: Function, jobs: Sequence[Any], found: dict[str, Any],
         weights: Sequence[int], progress: Progress | None = None) -> None:
    """Do one job of each key and put its answer into `found`, the heaviest first, so that none is left to one
    processor at the end. What is done stays in `found` when this is interrupted."""
    first: dict[str, int] = {}
    for n, key in enumerate(keys):
        if key not in found:
            first.setdefault(key, n)
    todo = sorted(first.values(), key=lambda n: (-weights[n], n))
    if progress:
        progress(0, len(todo))
    for done, (k, answer) in enumerate(run(function, [jobs[n] for n in todo]), start=1):
        found[keys[todo[k]]] = answer
        if progress:
            progress(done, len(todo))


def in_chunks(run: Run, function: Function, jobs: Sequence[Any]) -> list[Any]:
    """Answers to many light jobs, in their order; the function takes several at once."""
    chunks = [jobs[k:k + CHUNK] for k in range(0, len(jobs), CHUNK)]
    answers = dict(run(function, chunks))
    return [one for k in range(len(chunks)) for one in answers[k]]
