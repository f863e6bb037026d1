"""`incircuit drill` as a trainee runs it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.helpers import GATE, ROOT, run


def play(typed: str, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "incircuit", "drill", *arguments],
        cwd=ROOT,
        input=typed,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"},
    )


def test_an_exercise_from_beginning_to_end(tmp_path: Path) -> None:
    results = tmp_path / "results.jsonl"
    done = play(
        "help\nboard\nIN OUT diode\nIN OTU diode\nfault R1 open\n",
        "--level",
        "1",
        "--seed",
        "3",
        "--results",
        str(results),
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "Right: R1 open" in done.stdout
    assert "no net" in done.stdout
    assert "Unplug" in done.stdout
    assert "The shortest way:\n" in done.stdout
    assert done.stdout.count("R1   resistor") == 2
    told = run("drill", "--progress", "--results", str(results))
    assert told.stdout.splitlines()[1].split() == ["1", "1", "1", "100", "100"]
    answer = json.loads(run("drill", "--progress", "--results", str(results), "--json").stdout)
    assert answer["levels"] == [{"level": 1, "played": 1, "right": 1, "points": 100.0, "lately": 100.0}]


@pytest.mark.parametrize("typed", ["", "quit\n", "IN OUT diode\n"])
def test_leaving_keeps_nothing(typed: str, tmp_path: Path) -> None:
    done = play(typed, "--seed", "3", "--results", str(tmp_path / "r"))
    assert done.returncode == 0
    assert "nothing is kept" in done.stdout
    assert not (tmp_path / "r").exists()


def test_a_board_of_ones_own() -> None:
    done = play("GATE DRV diode\nhealthy\n", GATE, "--seed", "5", "--no-results")
    assert done.returncode == 0
    assert "Pump drive: gate drive" in done.stdout
    assert "The lesson: " in done.stdout


def test_the_same_seed_prints_the_same_sheet() -> None:
    one, two = (run("drill", "--sheet", "2", "--seed", "3").stdout for _ in range(2))
    assert one == two
    exercises, _, solutions = one.partition("\f")
    assert exercises.count("What is wrong?") == 2
    assert solutions.count("The shortest way") == 2
    assert "R1 open" in solutions


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--level", "9"], "1<=x<=5"),
        (["nowhere.board"], "no such file"),
        (["--meter", "handhelt"], "handheld"),
        (["--costs", "nowhere.toml"], "cannot be used"),
        (["--json"], "--progress"),
        (["--sheet", "0"], "1<=x<=50"),
        (["examples/mistakes.board"], "resistorr"),
    ],
)
def test_mistakes_are_told(arguments: list[str], told: str) -> None:
    done = run("drill", *arguments)
    assert done.returncode == 2
    assert told in done.stderr
    assert "Traceback" not in done.stderr
