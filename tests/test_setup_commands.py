"""The two set-up commands of README.md work in a clean directory with a fresh environment.

The directory holds the files git knows of and nothing else, so a file that was never added, or
that the build leaves out of the package, is noticed here.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
SETUP = re.findall(r"^python3 -m venv .*$", README, re.MULTILINE)
NOT_INHERITED = ("PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV", "PYTEST_ADDOPTS")

pytestmark = pytest.mark.slow


def clean_copy(target: Path) -> Path:
    """The files git knows of, as they are now, copied to `target`."""
    listed = subprocess.run(
        ["git", "-c", f"safe.directory={ROOT}", "ls-files", "-z"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        check=True,
    ).stdout
    for name in listed.decode().split("\0"):
        if name and (ROOT / name).is_file():
            (target / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(ROOT / name, target / name)
    return target


def run(command: str, directory: Path) -> subprocess.CompletedProcess[str]:
    """Run a line as a newcomer would. A new session has no terminal, so sudo cannot ask."""
    environment = {key: value for key, value in os.environ.items() if key not in NOT_INHERITED}
    return subprocess.run(
        ["bash", "-c", command],
        cwd=directory,
        env={**environment, "PYTHONUTF8": "1"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        timeout=1500,
        start_new_session=True,
        check=False,
    )


def test_there_are_exactly_two_set_up_commands() -> None:
    assert len(SETUP) == 2
    assert SETUP[0].endswith(" GATE DRV")
    assert SETUP[1].endswith(" tests/checks.py")


def test_the_first_command_does_the_main_job(tmp_path: Path) -> None:
    main_job = SETUP[0].rpartition(" && ")[2]
    done = run(SETUP[0], clean_copy(tmp_path))
    assert done.returncode == 0, done.stdout
    shown = README.partition(main_job.replace(".venv/bin/", "$ ") + "\n")[2].partition("\n```")[0]
    assert shown, f"the tour does not show what `{main_job}` prints"
    assert shown in done.stdout


def test_the_second_command_sets_up_the_tests(tmp_path: Path) -> None:
    # The checks themselves are what is running at this moment: only show that they could start.
    done = run(f"{SETUP[1]} --quick", clean_copy(tmp_path))
    assert done.returncode == 0, done.stdout
    assert re.search(r"\d+ tests collected", done.stdout), done.stdout
    assert "test_readme.py" in done.stdout
