"""Work on all cores of the machine: the compiled kernel lets go of the interpreter, so threads do."""

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

    For work that lets go of the interpreter for milliseconds: numpy's short operations only hand it to and
    fro. The tasks are the same however many cores there are, so the results are too. Raises what the first
    task in order that fails raises.
    """
    count = min(cores(), len(tasks))
    if count < 2:
        return [work(task) for task in tasks]
    from threading import Thread

    numbers = iter(range(len(tasks)))  # handing out a number is one step of the interpreter
    found: dict[int, Result] = {}
    failed: dict[int, BaseException] = {}

    def some() -> None:
        for number in numbers:
            if failed:
                return
            try:
                found[number] = work(tasks[number])
            except BaseException as error:  # noqa: BLE001  raised again below
                failed[number] = error

    others = [Thread(target=some) for _ in range(count - 1)]
    for thread in others:
        thread.start()
    some()
    for thread in others:
        thread.join()
    if failed:
        raise failed[min(failed)]
    return [found[number] for number in range(len(tasks))]
