"""Work on all cores of the machine: numpy lets go of the interpreter inside its loops, so threads do."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Sequence
from typing import TypeVar

Task = TypeVar("Task")
Result = TypeVar("Result")


def cores() -> int:
    """How many cores this process may use: all, or one where it is itself a worker among others.

    The variable INCIRCUIT_CORES sets another number.
    """
    wished = os.environ.get("INCIRCUIT_CORES", "")
    if wished.isascii() and wished.isdigit() and int(wished) > 0:
        return int(wished)
    if (workers := sys.modules.get("multiprocessing")) and workers.parent_process() is not None:
        return 1
    if hasattr(os, "sched_getaffinity"):  # not on Windows
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def on_all_cores(work: Callable[[Task], Result], tasks: Sequence[Task]) -> list[Result]:
    """The results of `work` on every task, in the order of the tasks.

    The tasks are the same however many cores there are, so the results are too. Raises what the first
    task in order that fails raises.
    """
    count = min(cores(), len(tasks))
    if count < 2:
        return [work(task) for task in tasks]
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(count) as pool:
        return list(pool.map(work, tasks))
