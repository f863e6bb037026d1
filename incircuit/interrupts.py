"""Ctrl-C, whenever it comes.

Python raises KeyboardInterrupt wherever the main thread happens to be. Within a callback (of a weak
reference, of a fork, of a library in C) it is reported and dropped, and the work would go on to its end.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType
from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from sys import UnraisableHookArgs

AGAIN = 0.05
"""So many seconds after it was dropped an interrupt is tried again; by then the callback is over."""
_came = False


def watch() -> None:
    """Remember every interrupt from now on, and try those again that a callback drops. Where interrupts are
    ignored, as in a script's background, they stay so."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _raised)
    sys.unraisablehook = _tried_again


def came() -> bool:
    """Whether there was an interrupt since `watch` that nobody has called answered."""
    return _came


def answered() -> None:
    """Say that the interrupt did what it was meant to do."""
    global _came
    _came = False


def rest() -> None:
    """No more interrupts: the work is done, and only the interpreter has to end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    # an interrupt within text being run, as when a dataclass is made, is kept by CPython until the next such
    # text and would end the process by the signal instead of its exit code
    exec("")


@contextmanager
def put_off() -> Iterator[None]:
    """What must be done whole, such as starting processes, is: an interrupt waits for its end."""
    import threading

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    late: list[tuple[int, FrameType | None]] = []
    before = signal.signal(signal.SIGINT, lambda number, frame: late.append((number, frame)))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if late and callable(before):
            before(*late[0])


def _raised(number: int, frame: FrameType | None) -> NoReturn:  # noqa: ARG001  as a handler is called
    global _came
    _came = True
    raise KeyboardInterrupt


def _tried_again(what: UnraisableHookArgs) -> None:
    if not issubclass(what.exc_type, KeyboardInterrupt):
        sys.__unraisablehook__(what)
        return
    import threading

    timer = threading.Timer(AGAIN, _press)
    timer.daemon = True
    timer.start()


def _press() -> None:
    """Interrupt the main thread, also where it waits."""
    import _thread
    import threading

    main = threading.main_thread().ident
    if hasattr(signal, "pthread_kill") and main is not None:
        signal.pthread_kill(main, signal.SIGINT)
    else:
        _thread.interrupt_main()
