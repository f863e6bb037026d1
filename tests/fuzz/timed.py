"""One input at a time, held to so many seconds of the processor; a busy machine is no finding."""

from __future__ import annotations

import signal
from types import FrameType

from tests.fuzz.targets import run

SECONDS = 5


class Hang(BaseException):
    """One input took too long; no handler of the program may swallow it."""


def stop(_number: int, _frame: FrameType | None) -> None:
    """The handler of SIGPROF, and of whatever else ends an input."""
    raise Hang


def timed(target: str, data: bytes) -> bool:
    """Whether an input was accepted; Hang after five seconds of the processor, where `stop` is in place."""
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        return run(target, data)
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
