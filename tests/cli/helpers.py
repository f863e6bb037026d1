"""The program as a user runs it: a process of its own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
GATE = "boards/pump-drive/gate-drive.board"


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """`incircuit` with these arguments, from the repository root."""
    return subprocess.run(
        [sys.executable, "-m", "incircuit", *arguments], cwd=ROOT, stdin=subprocess.DEVNULL,
        capture_output=True, env={**os.environ, "PYTHONPATH": str(ROOT), **environment}, encoding="utf-8",
        timeout=120, check=False,
    )


def _refused(name: str) -> None:
    raise ValueError(f"{name} is no JSON")


def answer(*arguments: str, **environment: str) -> dict[str, Any]:
    """What it prints with --json, strictly read: no NaN and no Infinity."""
    done = run(*arguments, "--json", **environment)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    found: dict[str, Any] = json.loads(done.stdout, parse_constant=_refused)
    assert next(iter(found)) == "schema"
    assert found["schema"] == 1
    return found
