"""One writer at a time: a lock on a file that may be replaced while others wait for it."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

BINARY = getattr(os, "O_BINARY", 0)
"""Windows turns line ends otherwise."""

PAUSE = 0.002
"""[s] Between two tries."""

if sys.platform == "win32":
    import msvcrt

    def _try(fd: int) -> bool:
        try:
            msvcrt.locking(fd, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _lock_file(path: str) -> str:
        """An open file cannot be replaced there, so the lock lies beside it and stays."""
        return os.path.join(os.path.dirname(path), f".{os.path.basename(path)}.lock")
else:
    import fcntl

    def _try(fd: int) -> bool:
        try:
            fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _lock_file(path: str) -> str:
        return path


@contextmanager
def locked(path: str, create: bool, wait: float) -> Iterator[None]:
    """Hold the lock of a file, which is created where it may be and is missing.

    The lock goes with the process, however it ends. Raises TimeoutError after `wait` [s], and
    OSError for a file that cannot be opened to write.
    """
    end = time.monotonic() + wait
    if sys.platform == "win32":
        os.close(os.open(path, os.O_RDWR | BINARY | (os.O_CREAT if create else 0), 0o666))
        create = True  # the lock file
    while True:
        fd = os.open(_lock_file(path), os.O_RDWR | BINARY | (os.O_CREAT if create else 0), 0o666)
        try:
            if _try(fd) and _is_still(fd, _lock_file(path)):
                yield
                return
        finally:
            os.close(fd)
        if time.monotonic() > end:
            raise TimeoutError
        time.sleep(PAUSE)


def _is_still(fd: int, path: str) -> bool:
    """Whether the open file is the one of that name: it may have been replaced while we waited."""
    try:
        return os.path.samestat(os.fstat(fd), os.stat(path))
    except FileNotFoundError:
        return False
