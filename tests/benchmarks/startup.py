"""Whole processes: predict against the bare imports, judge and next on fifteen parts."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
IMPORTS = ("-c", "import numpy, scipy.sparse, networkx, click")
BOARD, STORY = str(HERE / "fifteen.board"), str(HERE / "fifteen.readings")
COMMANDS = {
    "predict": ("-m", "incircuit", "predict", "boards/pump-drive/gate-drive.board", "GATE", "DRV"),
    "judge, 10 readings, 15 parts": ("-m", "incircuit", "judge", BOARD, STORY),
    "judge, two faults hidden": ("-m", "incircuit", "judge", BOARD, str(HERE / "two-faults.readings")),
    "next on ten readings, 15 parts": ("-m", "incircuit", "next", BOARD, STORY),
}


def seconds(arguments: tuple[str, ...], repeats: int = 5) -> float:
    """The fastest of some runs, the process included."""
    best = float("inf")
    for _ in range(repeats + 1):  # the first may still write byte code
        begin = time.perf_counter()
        subprocess.run([sys.executable, *arguments], cwd=ROOT, check=True, stdout=subprocess.DEVNULL,
                       env={**os.environ, "PYTHONPATH": str(ROOT)})
        best = min(best, time.perf_counter() - begin)
    return best


def table() -> dict[str, tuple[float, float]]:
    """(seconds, ratio to the imports alone) of every command."""
    alone = seconds(IMPORTS)
    found = {"import numpy, scipy.sparse, networkx, click": (alone, 1.0)}
    for name, arguments in COMMANDS.items():
        took = seconds(arguments)
        found[name] = (took, took / alone)
    return found
