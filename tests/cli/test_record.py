"""`incircuit record` as it is used: a session with the verdict after each line, killed, undone, at once."""

from __future__ import annotations

import os
import random
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner

from incircuit.cli.main import cli
from incircuit.cli.text import WIDTH, cells
from incircuit.story import read_story
from tests.cli.helpers import ROOT, run
from tests.story.bench_board import TEXT

DIODE = ("GATE", "DRV", "diode", "0.011")
VERDICT = re.compile(r"^(HEALTHY|EXPLAINED|FAILED|UNDECIDED|UNLISTED)( [A-Z]+[0-9]+.*)?$")
SESSION = [
    ("meter handheld", "UNDECIDED"),
    ("GATE DRV diode 0.011 first", "HEALTHY"),
    ('lift D3.K "to see it alone"', "HEALTHY"),
    ("D3.A D3.K diode 0.586", "HEALTHY"),
    ("resolder D3.K", "HEALTHY"),
    ("SW RTN diode 0.001", "FAILED Q1 or C9 or bridge RTN SW"),
    ("RTN SW diode 0.000", "FAILED Q1 or C9 or bridge RTN SW"),
    ("remove Q1", "FAILED Q1 or C9 or bridge RTN SW"),
    ("SW RTN diode OL", "FAILED Q1"),
    ("fit Q1", "FAILED Q1 (the old one, replaced since)"),
    ("RTN SW diode 0.431", "FAILED Q1 (the old one, replaced since)"),
]
"""Lines as typed, and the verdict that must follow: only without Q1 is it told from its neighbours."""


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    """A small board, and a readings file that is not there yet."""
    (tmp_path / "gate.board").write_text(TEXT, encoding="utf-8")
    return str(tmp_path / "gate.board"), str(tmp_path / "x.readings")


def record(*words: str) -> list[str]:
    """The lines it prints where all is well."""
    done = CliRunner().invoke(cli, ["record", *words], catch_exceptions=False)
    assert done.exit_code == 0
    assert done.stderr == ""
    return done.stdout.splitlines()


@pytest.mark.practice
def test_a_bench_session_with_the_verdict_after_every_line(files: tuple[str, str]) -> None:
    """Common practice: the diode reads like its gate resistor and is whole, the switch is shorted."""
    for line, verdict in SESSION:
        printed = record(*files, line)
        assert printed[:2] == [line, ""]
        assert VERDICT.match(printed[2])
        assert sorted(printed[2].split(" or ")) == sorted(verdict.split(" or "))
        assert all(cells(text) <= WIDTH for text in printed)
        assert len(printed) <= 45
    stored = Path(files[1]).read_text(encoding="utf-8").splitlines()
    assert stored[-len(SESSION):] == [line for line, _ in SESSION]
    judged = CliRunner().invoke(cli, ["judge", *files], catch_exceptions=False).stdout
    assert judged.splitlines() == printed[2:]


def test_undo_takes_the_last_line_back_and_the_verdict_with_it(files: tuple[str, str]) -> None:
    record(*files, *DIODE)
    assert record(*files, "SW RTN diode 0.001")[2].startswith("FAILED Q1")
    taken = record(*files, "--undo")
    assert taken[:3] == ["taken back: SW RTN diode 0.001", "", "HEALTHY"]
    record(*files, "--undo")
    empty = run("record", *files, "--undo")
    assert (empty.returncode, empty.stdout) == (2, "")
    assert "nothing to take back" in empty.stderr


def test_words_as_a_shell_hands_them_over(files: tuple[str, str]) -> None:
    assert record(*files, "GATE", "RTN", "ohms", "9.99 kΩ", "after", "5s", "--remark", "the pulldown")[0] == (
        'GATE RTN ohms 9.99 kΩ after 5s "the pulldown"')
    assert record(*files, "GATE", "DRV", "diode", "-0.001")[0] == "GATE DRV diode -0.001"
    assert re.search(r" @\d{4}-\d\d-\d\dT\d\d:\d\d$", record(*files, "lift", "D3.K", "--stamp")[0])
    found = read_story(files[1]).readings
    assert [(r.typed.value, r.when) for r in found] == [(9990.0, 5.0), (-0.001, "")]


@pytest.mark.parametrize(("words", "place", "told"), [
    ("GAET DRV diode 0.011", "1:1", "did you mean GATE?"),
    ("GATE DRV omhs 10", "1:10", "did you mean ohms?"),
    ("GATE DRV diode", "1:1", "SHOWN missing"),
    ("GATE DRV diode 999", "1:16", "999mV"),
    ("GATE GATE diode 0.011", "1:6", "both probes are on GATE"),
    ("lift D3.X", "1:6", "D3.A D3.K"),
    ("resolder D3.K", "1:10", "not lifted"),
    ("fit Q9", "1:5", "did you mean"),
    ("meter handhelt", "1:7", "handheld"),
    ("frobnicate", "1:1", "no state word"),
    ("", "1:1", "empty line"),
])
def test_a_mistake_is_told_with_its_place_and_not_recorded(files: tuple[str, str], words: str, place: str,
                                                           told: str) -> None:
    before = "# mine\nGATE DRV diode 0.011\n"
    Path(files[1]).write_text(before, encoding="utf-8")
    done = run("record", *files, *words.split())
    assert (done.returncode, done.stdout) == (2, "")
    first, *more = done.stderr.splitlines()
    assert first.startswith(f"this line:{place}: ")
    assert told in first
    assert all(line.startswith("  ") for line in more)
    assert Path(files[1]).read_text(encoding="utf-8") == before


@pytest.mark.parametrize(("board", "readings", "told"), [
    ("none.board", "x.readings", "no such file"),
    ("gate.board", "gate.board", "is the board file"),
    ("gate.board", ".", "is a directory"),
    ("gate.board", "no/such/x.readings", "no such"),
])
def test_files_that_cannot_be(files: tuple[str, str], board: str, readings: str, told: str) -> None:
    folder = Path(files[0]).parent
    done = run("record", str(folder / board), str(folder / readings), *DIODE)
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert sorted(os.listdir(folder)) == ["gate.board"]


def test_older_bad_lines_are_told_and_stay_and_the_new_one_is_kept(files: tuple[str, str]) -> None:
    Path(files[1]).write_text("GATE DRV ohms 10\nGATE DRV omhs 10\n", encoding="utf-8")
    done = run("record", *files, *DIODE)
    assert f"{files[1]}:2:10: " in done.stderr
    assert done.stdout.splitlines()[0] == "GATE DRV diode 0.011"
    assert Path(files[1]).read_text(encoding="utf-8").splitlines() == [
        "GATE DRV ohms 10", "GATE DRV omhs 10", "GATE DRV diode 0.011"]


def test_a_c_locale_records_and_prints_ohms(files: tuple[str, str]) -> None:
    done = run("record", *files, "GATE", "RTN", "ohms", "9.99 kΩ", LC_ALL="C", LANG="C", PYTHONUTF8="0",
               PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[0] == "GATE RTN ohms 9.99 kΩ"
    assert "kΩ" in Path(files[1]).read_text(encoding="utf-8")


def started(files: tuple[str, str], line: str) -> subprocess.Popen[str]:
    """The real command, in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "incircuit", "record", *files, line], cwd=ROOT, encoding="utf-8",
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)


def test_killed_at_any_moment_no_acknowledged_line_is_lost_and_none_torn(files: tuple[str, str]) -> None:
    """The whole command, verdict and all; the store alone is killed a hundred times in tests/story."""
    chance = random.Random(5)
    kept: list[str] = []
    told = 0
    for k in range(8):
        line = f'GATE DRV ohms 10.{k} "{"x" * (11 * k)}"'
        with started(files, line) as process:
            time.sleep(chance.uniform(0.05, 0.7))
            process.send_signal(signal.SIGKILL)
            out = process.communicate(timeout=60)[0]
        there = [e.line for e in read_story(files[1]).readings] if Path(files[1]).exists() else []
        assert there in (kept, [*kept, line])
        if out.startswith(line):
            told += 1
            assert there[-1:] == [line]
        kept = there
    last = record(*files, "GATE DRV ohms 10.2")
    assert last[0] == "GATE DRV ohms 10.2"
    assert len(read_story(files[1]).readings) == len(kept) + 1 >= told + 1


def test_three_at_once_do_not_mix(files: tuple[str, str]) -> None:
    lines = [f'GATE DRV ohms 10.{k} "{"abc"[k] * 60}"' for k in range(3)]
    every = [started(files, line) for line in lines]
    for process, line in zip(every, lines, strict=True):
        with process:
            assert process.communicate(timeout=60)[0].splitlines()[0] == line
    assert sorted(e.line for e in read_story(files[1]).readings) == lines
