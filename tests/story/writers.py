"""Processes that write to one readings file, to be started and killed by the tests.

``python -m tests.story.writers lines FILE NAME COUNT`` appends; ``undo FILE COUNT`` takes lines back and
prints them; ``kills FILE COUNT`` kills a writer again and again and checks what it left; ``nobody FILE``
tries without the permission to write.
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
from itertools import count

from incircuit.errors import StoryError
from incircuit.story import append, read_story, undo


def line(name: str, number: int) -> str:
    """A line that says who wrote it; the lengths differ."""
    return f"{name} PAD{number} ohms {number + 1}{'0' * (number % 5)} \"{'x' * (number * 7 % 90 + 1)}\""


def lines(file: str, name: str, many: str) -> None:
    """Append so many lines."""
    for number in range(int(many)):
        append(file, line(name, number))


def take_back(file: str, many: str) -> None:
    """Undo so many times, trying again where there is nothing yet; print what was taken."""
    left = int(many)
    while left:
        try:
            print(undo(file), flush=True)
            left -= 1
        except StoryError as error:
            if "nothing to take back" not in str(error) and "no such file" not in str(error):
                raise
            time.sleep(0.01)


def nobody(file: str) -> None:
    """Append and undo as a user who may only read; print what is said."""
    if os.getuid() == 0:
        os.setuid(65534)
    for act in (lambda: append(file, line("A", 0)), lambda: undo(file)):
        try:
            act()
        except StoryError as error:
            print(error)


def _child(file: str, round_: int, acknowledge: int) -> None:
    for number in count():
        append(file, line(f"K{round_}", number))
        os.write(acknowledge, b".")


def kills(file: str, many: str) -> None:
    """Kill a writer at a random instant; every line it was told to be stored must be there, none torn."""
    chance = random.Random(7)
    kept: list[str] = []
    torn = 0
    for round_ in range(int(many)):
        reader, acknowledge = os.pipe()
        child = os.fork()
        if not child:
            _child(file, round_, acknowledge)
        os.close(acknowledge)
        time.sleep(chance.uniform(0.0, 0.03))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        told = 0
        while got := os.read(reader, 1000):
            told += len(got)
        os.close(reader)
        story = read_story(file) if os.path.exists(file) else None
        there = [e.line for e in story.readings] if story else []
        fresh = [line(f"K{round_}", k) for k in range(told + 1)]
        # what was written but not yet acknowledged may be there, whole
        assert there in (kept + fresh[:-1], kept + fresh), (round_, told, there[len(kept):])
        kept = there
        torn += sum(e.line.startswith("#") for e in story.entries) - 1 if story else 0
    print(len(kept), torn)


if __name__ == "__main__":
    {"lines": lines, "undo": take_back, "kills": kills, "nobody": nobody}[sys.argv[1]](*sys.argv[2:])
