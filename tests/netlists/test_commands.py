"""`incircuit import` and `incircuit export` as a user runs them."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from shutil import which

import pytest

from tests.cli.helpers import GATE, run

RELAY, DECK = "examples/netlists/relay.net", "examples/netlists/gate-drive.cir"


def test_a_board_is_written_checked_and_never_overwritten(tmp_path: Path) -> None:
    target = tmp_path / "my board.board"
    done = run("import", DECK, "-o", str(target))
    assert (done.returncode, done.stdout) == (0, "")
    assert "12 parts on 7 nets, 5 kinds guessed" in done.stderr
    assert run("check", str(target)).returncode == 0
    assert "15.2 Ω" in run("predict", str(target), "drv", "gate", "--mode", "ohms").stdout
    again = run("import", DECK, "-o", str(target))
    assert again.returncode == 2
    assert "overwritten" in again.stderr


def test_the_board_alone_goes_to_the_pipe() -> None:
    done = run("import", RELAY, "--as", "D1 diode signal")
    assert done.returncode == 0
    assert "D1 diode A=/COIL K=+12V signal   # as you said" in done.stdout
    assert "R4 is not fitted" in done.stderr
    assert "resistor: R1 R2 R3" in done.stderr


def test_json_has_the_board_the_guesses_and_the_problems() -> None:
    answer = json.loads(run("import", RELAY, "--json").stdout)
    assert answer["schema"] == 1
    assert answer["file"] is None
    assert {"part": "D2", "kind": "led", "why": "ref D, library part LED"} in answer["guesses"]
    assert [(p["line"], p["column"], p["warning"]) for p in answer["problems"]] == [(22, 29, True)]


def test_what_is_left_out_ends_with_two_and_the_rest_is_written(tmp_path: Path) -> None:
    (tmp_path / "x.cir").write_text("t\nR1 a b 1k\nR2 a b {x*2}\n", encoding="utf-8")
    done = run("import", str(tmp_path / "x.cir"), "-o", str(tmp_path / "x.board"))
    assert done.returncode == 2
    assert f"{tmp_path / 'x.cir'}:3:8: R2" in done.stderr
    assert "R1 resistor a b 1k" in (tmp_path / "x.board").read_text(encoding="utf-8")


@pytest.mark.parametrize(("arguments", "told"), [
    (["import"], "FILE"), (["import", "nowhere.cir"], "no such file"), (["import", "boards"], "directory"),
    (["import", RELAY, "--as", "D1"], "no part and kind"), (["import", RELAY, "--as", "D1 dode"], "diode"),
    (["import", RELAY, "-o", "no/such/place.board"], "cannot be written"),
    (["export", GATE, "GATE", "DRV"], "--mode"), (["export", GATE, "GATE", "DVR", "--mode", "ohms"], "DRV"),
    (["export", GATE, "GATE", "GATE", "--mode", "ohms"], "two different pads"),
    (["export", GATE, "GATE", "DRV", "--mode", "diode", "--meter", "moving-coil"], "it has: ohms"),
    (["export", GATE, "GATE", "DRV", "--mode", "diode", "-o", GATE], "overwritten"),
], ids=str)
def test_mistakes_are_one_line(arguments: list[str], told: str) -> None:
    done = run(*arguments)
    assert done.returncode == 2
    assert told in done.stderr
    told_lines = [x for x in done.stderr.splitlines() if ": warning: " not in x and not x.startswith("  ")]
    assert len(told_lines) == 1
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(which("ngspice") is None, reason="the program ngspice is not installed")
@pytest.mark.parametrize(("swap", "expected"), [(False, 0.4305), (True, None)])
def test_ngspice_runs_the_deck_that_is_written(swap: bool, expected: float | None, tmp_path: Path) -> None:
    deck = tmp_path / "one reading.cir"
    done = run("export", GATE, "RTN", "SW", "--mode", "diode", "--spice", *(["--swap"] if swap else []), "-o",
               str(deck))
    assert done.returncode == 0, done.stderr
    ran = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, encoding="utf-8", check=False)
    assert ran.returncode == 0
    read = float(next(line.split()[1] for line in ran.stdout.splitlines() if line.split()[:1] == ["reading"]))
    answer = json.loads(run("predict", GATE, *(("SW", "RTN") if swap else ("RTN", "SW")), "--mode", "diode",
                            "--json").stdout)["readings"][0]
    if expected is None:
        assert answer["overload"]
        assert read > 2.0
    else:
        assert read == pytest.approx(answer["value"], abs=2e-6)
        assert read == pytest.approx(expected, abs=0.05)
