"""The four commands as a user runs them: text within 100 columns, JSON with its keys, plain errors."""

from __future__ import annotations

import contextlib
import csv
import io
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from incircuit.board import read_board
from incircuit.story import story_of_file
from tests.cli.helpers import GATE, ROOT, answer, run


@pytest.mark.parametrize("words", [("survey", GATE, "R7", "D3"), ("worksheet", GATE), ("next", GATE),
                                   ("pads", GATE, "Q1"), ("next", GATE, "examples/gate-drive.readings")])
def test_text_fits_the_screen_and_says_nothing_on_the_side(words: tuple[str, ...]) -> None:
    done = run(*words)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    assert max(map(len, done.stdout.splitlines())) <= 100


def test_survey_json() -> None:
    found = answer("survey", GATE, "D3")
    assert {f["part"] for f in found["faults"]} == {"D3"}
    by_name = {f["fault"]: f for f in found["faults"]}
    assert by_name["short"]["in_place"]
    assert by_name["short"]["confused_with"] == [{"part": "R7", "fault": "short"}]
    assert set(by_name["short"]["reading"]) == {"red", "black", "mode"}
    assert not by_name["open"]["in_place"]
    assert by_name["open"]["lift"]["part"] in {"D3", "R7"}
    assert found["complete"]
    assert found["visible"] == sum(f["in_place"] for f in found["faults"]) / len(found["faults"])


def test_worksheet_json_csv_and_a_readings_file_to_fill_in(tmp_path: Path) -> None:
    found = answer("worksheet", GATE)
    assert found["gap"] == 0
    assert "discharge" in found["caution"]
    assert [s["step"] for s in found["steps"]] == list(range(1, len(found["steps"]) + 1))
    stub, sheet = tmp_path / "bench.readings", tmp_path / "sheet.csv"
    assert run("worksheet", GATE, "--csv", "-o", str(sheet), "--readings", str(stub)).returncode == 0
    rows = list(csv.DictReader(io.StringIO(sheet.read_text(encoding="utf-8"))))
    assert [(r["red"], r["black"], r["mode"]) for r in rows] == [
        (s["red"], s["black"], s["mode"]) for s in found["steps"]]
    assert {r["you read"] for r in rows} == {""}
    board = read_board(str(ROOT / GATE))
    assert story_of_file(str(stub), board).problems == ()
    # filled in as it says, every line is a reading
    filled = stub.read_text(encoding="utf-8")
    for row in rows:
        line = f"{row['red']} {row['black']} {row['mode']}"
        filled = filled.replace(f"# {line}\n", f"{line} OL\n", 1)
    stub.write_text(filled, encoding="utf-8")
    story = story_of_file(str(stub), board)
    assert story.problems == ()
    assert len(story.readings) == len(rows)
    again = run("worksheet", GATE, "--readings", str(stub))
    assert again.returncode == 2
    assert stub.read_text(encoding="utf-8") == filled


def test_next_json_and_the_verdict(tmp_path: Path) -> None:
    first = answer("next", GATE)
    assert not first["stop"]
    assert 0 < len(first["acts"]) <= 5
    for act in first["acts"]:
        assert act["bits"] > 0.0
        assert sum(o["probability"] for o in act["outcomes"]) == pytest.approx(1.0)
    story = tmp_path / "bench.readings"
    story.write_text("SW RTN diode 0.001\nRTN SW diode 0.001\nGATE RTN ohms 9.99k\n", encoding="utf-8")
    found = answer("next", GATE, str(story))
    assert found["stop"]
    assert found["replace"] == ["Q1"]
    assert {"red": "SW", "black": "RTN", "mode": "diode"} in found["read_again"]


def test_pads_json_where_a_net_is_hidden(tmp_path: Path) -> None:
    path = tmp_path / "hidden.board"
    path.write_text("net M hidden\nR1 resistor A M 10R\nR2 resistor M B 1k\nD1 diode A=M K=C signal\n",
                    encoding="utf-8")
    found = answer("pads", str(path), "D1")
    pin = found["pins"][0]
    assert (pin["pin"], pin["pad"], pin["via"], pin["ohms"]) == ("A", "A", ["R1"], 10.0)
    assert found["pairs"] == [{"pins": ["A", "K"], "red": "A", "black": "C"}]


@pytest.mark.parametrize(("words", "said"), [
    (("survey", GATE, "D33"), "did you mean D3"), (("pads", GATE, "Q9"), "Q9"),
    (("next", GATE, "no-such.readings"), "no-such.readings"), (("worksheet", "no-such.board"), "no-such"),
    (("worksheet", GATE, "--csv", "--json"), "exclude"),
    (("survey", GATE, "--costs", "none.toml"), "none.toml"),
    (("next", GATE, "--meter", "handhold"), "handheld"), (("survey", GATE, "--lift", "D3.X"), "D3.A"),
])
def test_errors_are_one_line_and_exit_code_2(words: tuple[str, ...], said: str) -> None:
    done = run(*words)
    assert done.returncode == 2
    assert said in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert done.stdout == ""


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminal")
def test_ctrl_c_stops_a_survey_with_what_is_known() -> None:
    """Stopped at its first sign of progress, which is only shown on a terminal."""
    import pty

    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "incircuit", "survey", "boards/pump-drive/pump-drive.board"], cwd=ROOT,
        env=environment, stdout=subprocess.PIPE, stderr=theirs, encoding="utf-8",
    ) as running:
        os.close(theirs)
        err = os.read(ours, 4096).decode()
        running.send_signal(signal.SIGINT)
        out, _ = running.communicate(timeout=60)
        with contextlib.suppress(OSError):  # the other end is closed
            while more := os.read(ours, 4096).decode():
                err += more
        os.close(ours)
    assert running.returncode == 130
    assert "Traceback" not in err
    assert "stopped" in err
    assert "faults" in out
