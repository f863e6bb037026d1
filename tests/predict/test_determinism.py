"""The same input gives the same output to the digit: whatever the hash seed, threads, locale or path."""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from incircuit.circuit import solve as engine
from tests.benchmarks.reference import ours, task

ROOT = Path(__file__).resolve().parent.parent.parent
BOARD = "boards/pump-drive/gate-drive.board"
STORY = "examples/gate-drive.readings"
COMMANDS = (("predict", BOARD, "GATE", "DRV", "--json"), ("judge", BOARD, STORY),
            ("compare", BOARD, "GATE", "DRV", "0.011", "--mode", "diode"))


def said(arguments: tuple[str, ...], folder: Path = ROOT, **environment: str) -> str:
    """What a command prints, in a process of its own."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("LC_", "LANG", "PYTHON"))}
    done = subprocess.run([sys.executable, "-m", "incircuit", *arguments], cwd=folder, capture_output=True,
                          check=False, env={**kept, "PYTHONPATH": str(ROOT), **environment})
    assert done.returncode == 0, done.stderr.decode("utf-8", "replace")
    return done.stdout.decode("utf-8")


@pytest.mark.parametrize("arguments", COMMANDS, ids=[c[0] for c in COMMANDS])
def test_hash_seed_threads_and_locale(arguments: tuple[str, ...]) -> None:
    first = said(arguments, PYTHONHASHSEED="1", INCIRCUIT_CORES="1", LC_ALL="C.UTF-8")
    assert said(arguments, PYTHONHASHSEED="4321", INCIRCUIT_CORES="2", LC_ALL="C") == first


def test_blanks_and_letters_of_the_world_in_paths(tmp_path: Path) -> None:
    folder = tmp_path / "Werkstück Nr 1 – насос"
    folder.mkdir()
    shutil.copy(ROOT / BOARD, folder / "Gate drive Ω.board")
    shutil.copy(ROOT / STORY, folder / "gelesen am 3 März.readings")
    arguments = ("judge", "Gate drive Ω.board", "gelesen am 3 März.readings", "--json")
    here = said(("judge", BOARD, STORY, "--json"))
    for locale in ("C", "C.UTF-8"):
        assert said(arguments, folder, LC_ALL=locale) == here


def test_threads_change_no_digit(monkeypatch: pytest.MonkeyPatch) -> None:
    """Chunks are the same however many cores work on them."""
    work = task(100)
    monkeypatch.setattr(engine, "_CHUNK_NUMBERS", 30_000)  # several chunks
    answers = []
    for cores in ("1", "2", "7"):
        monkeypatch.setenv("INCIRCUIT_CORES", cores)
        answers.append(ours(work, 1)[0])
    for other in answers[1:]:
        assert np.array_equal(other.v, answers[0].v)
        assert np.array_equal(other.current, answers[0].current)


POSIX_ONLY = {"fcntl", "grp", "pty", "pwd", "resource", "syslog", "termios", "tty"}
POSIX_NAMES = {"fork", "getuid", "geteuid", "setsid", "killpg", "getpgid", "mkfifo", "uname", "alarm",
               "pause", "SIGALRM", "SIGKILL", "SIGHUP", "add_signal_handler"}


@pytest.mark.parametrize("module", sorted((ROOT / "incircuit").rglob("*.py")), ids=lambda p: p.name)
def test_nothing_that_windows_lacks(module: Path) -> None:
    """Unless it stands in a module that asks for the platform first."""
    text = module.read_text(encoding="utf-8")
    if 'sys.platform == "win32"' in text or 'os.name == "nt"' in text or 'os.name != "nt"' in text:
        return
    for node in ast.walk(ast.parse(text)):
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        assert not POSIX_ONLY & {n.split(".")[0] for n in names}, f"line {getattr(node, 'lineno', 0)}"
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            guarded = f'hasattr({node.value.id}, "{node.attr}")' in text
            assert node.attr not in POSIX_NAMES or guarded, f"line {node.lineno}"


ON_WINDOWS = """
import sys, types, pathlib
import click, numpy, networkx, tomllib, tempfile, subprocess, asyncio
import multiprocessing.connection, concurrent.futures.process
for name in {posix!r}:
    sys.modules[name] = None
held = []
fake = types.ModuleType("msvcrt")
fake.LK_NBLCK = 2
fake.locking = lambda fd, mode, count: held.append(count)
sys.modules["msvcrt"] = fake
sys.platform = "win32"
from incircuit.story import append, story_of_file
append(sys.argv[1], "A B ohms 10k")
append(sys.argv[1], "B A ohms 9.99k")
assert held == [1, 1], held
assert len(story_of_file(sys.argv[1]).readings) == 2
import incircuit.judge.judge, incircuit.predict.prediction, incircuit.advise.survey
"""


def test_a_story_grows_where_only_windows_locks_exist(tmp_path: Path) -> None:
    """With the modules of other systems gone and a lock of Windows put in: nothing asks for them."""
    script = ON_WINDOWS.format(posix=sorted(POSIX_ONLY))
    done = subprocess.run([sys.executable, "-c", script, str(tmp_path / "begun.readings")], cwd=ROOT,
                          check=False, capture_output=True, env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert done.returncode == 0, done.stderr.decode("utf-8", "replace")
