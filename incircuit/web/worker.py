"""A worker process: reads tasks as lines of JSON, answers in lines of JSON. Ends when its server does."""

from __future__ import annotations

import contextlib
import gc
import json
import os
import signal
import sys
import time
from typing import Any, TextIO

from incircuit.errors import IncircuitError

PULSE = 0.1
"""[s] between two words of progress."""


class Teller:
    """Says how far a task is, now and then."""

    def __init__(self, out: TextIO) -> None:
        self.out, self.last = out, time.monotonic()

    def __call__(self, done: int, of: int) -> None:
        """So many of so many."""
        if time.monotonic() - self.last >= PULSE:
            self.last = time.monotonic()
            say(self.out, {"state": "working", "done": done, "of": of})


    def early(self, found: dict[str, Any]) -> None:
        """What is known ahead of the answer."""
        say(self.out, {"state": "working", "done": 0, "of": 0, "early": found})


def say(out: TextIO, message: dict[str, Any]) -> None:
    """One line of JSON."""
    out.write(json.dumps(message, ensure_ascii=True, allow_nan=False) + "\n")
    out.flush()


def answer(folder: str, task: dict[str, Any], teller: Teller) -> dict[str, Any]:
    """Do a task; every error is one message and no traceback."""
    from incircuit.web.answers import ANSWERS
    from incircuit.web.folder import short

    try:
        return {"state": "done", "result": ANSWERS[task["kind"]](folder, task, teller)}
    except IncircuitError as error:
        return {"state": "error", "message": short(str(error), folder)}
    except (MemoryError, RecursionError):
        return {"state": "error", "message": "too large for this machine: describe only the neighbourhood "
                                             "you measure in"}
    except Exception as error:  # noqa: BLE001  a fault of ours must not end the bench
        return {"state": "error", "message": "a fault of this program, please report it with the board "
                                             f"file: {error!r}"}


def main() -> None:
    """Serve one server over standard input and output."""
    with contextlib.suppress(ValueError, OSError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "nice"):
        os.nice(int(sys.argv[2]))  # a verdict does not wait for a drawing
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # whatever a library prints must not be taken for an answer
    import incircuit.web.answers  # noqa: F401  loaded before it is needed

    waited_for = sys.argv[2] == "0"
    gc.freeze()
    for line in sys.stdin:
        if waited_for:
            gc.disable()  # what one answer leaves is collected when it has been given
        say(out, answer(sys.argv[1], json.loads(line), Teller(out)))
        gc.enable()
        gc.collect()


if __name__ == "__main__":
    main()
