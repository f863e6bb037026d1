"""The program as a whole: what it loads, how it ends, what it prints where things go wrong."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.cli.helpers import GATE, ROOT, run

HEAVY = ("numpy", "scipy", "networkx", "tomllib")


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["--version"], [], ["predict", "--help"],
                                       ["explain", "-h"], ["compare", "--help"], ["check", "-h"]])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    code = (f"import sys, runpy; sys.argv = ['incircuit', *{arguments!r}]\n"
            "try: runpy.run_module('incircuit', run_name='__main__')\n"
            "except SystemExit as end: assert not end.code, end.code\n"
            f"loaded = set({HEAVY!r}) & set(sys.modules)\n"
            "assert not loaded, loaded")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, encoding="utf-8",
                          env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"}, check=False)
    assert done.returncode == 0, done.stderr
    assert "incircuit" in done.stdout


JUNK = {
    "junk.board": b"\x00\xff\xfe\x80junk", "empty.board": b"", "nets.board": b"net A\nnet B\n",
    "me.board": b'include "me.board"\n',
    "meter.toml": b"[diode]\ncurrent = -1\nopen_circuit = 3\noverload = 2\nresolution = 1e-3\n",
}


@pytest.fixture
def files(tmp_path: Path) -> Path:
    for name, content in JUNK.items():
        (tmp_path / name).write_bytes(content)
    return tmp_path


@pytest.mark.parametrize(("arguments", "told"), [
    (["predict", "{}/junk.board", "A", "B"], "not UTF-8"),
    (["predict", "{}/empty.board", "A", "B"], "no net"),
    (["predict", "{}/me.board", "A", "B"], "include"),
    (["predict", "{}/nowhere.board", "A", "B"], "no such file"),
    (["predict", "{}", "A", "B"], "directory"),
    (["predict", GATE, "GATE", "GATE"], "two different pads"),
    (["predict", GATE, "GATE", "DVR"], "DRV"),
    (["predict", GATE, "D3.A", "D3.Q"], "its pins are A K"),
    (["predict", GATE, "", "DRV"], "no net"),
    (["predict", GATE, "GATE", "DRV", "--part", "D33"], "D3"),
    (["predict", GATE, "GATE", "DRV", "--part", ""], "no part"),
    (["predict", GATE, "GATE", "DRV", "--meter", "handhelt"], "handheld"),
    (["predict", GATE, "GATE", "DRV", "--meter", "{}/meter.toml"], "current"),
    (["predict", GATE, "GATE", "DRV", "--meter", "{}"], "not a file"),
    (["predict", GATE, "GATE", "DRV", "--meter", "moving-coil", "--mode", "diode"], "it has: ohms"),
    (["explain", GATE, "GATE", "DRV", "--meter", "moving-coil"], "it has: ohms"),
    (["compare", GATE, "GATE", "DRV", "0.5", "--meter", "moving-coil"], "it has: ohms"),
    (["predict", GATE, "GATE", "DRV", "--mode", "amps"], "amps"),
    (["predict", GATE, "GATE", "DRV", "--celsius", "nan"], "-60 to 200"),
    (["predict", GATE, "GATE", "DRV", "--celsius", "1e9"], "-60 to 200"),
    (["predict", GATE, "GATE", "DRV", "--celsius", "-300"], "-60 to 200"),
    (["predict", GATE, "GATE", "DRV", "--celsius", "warm"], "warm"),
    (["predict", GATE, "GATE", "DRV", "--fault", "Q1 shrt"], "short"),
    (["predict", GATE, "GATE", "DRV", "--fault", "Q1"], "Q1 short"),
    (["predict", GATE, "GATE", "DRV", "--fault", "Q11 short"], "Q1"),
    (["predict", GATE, "GATE", "DRV", "--lift", "D3"], "D3.A"),
    (["predict", GATE, "GATE", "DRV", "--remove", "D33"], "D3"),
    (["predict", GATE, "GATE", "DRV", "--engine", "other"], "ngspice"),
    (["predict", GATE, "GATE", "DRV", "--colour"], "--colour"),
    (["predict", GATE, "GATE"], "BLACK"),
    (["predict", GATE, "-12V", "GATE"], "-12V"),
    (["predict", GATE, "電源", "GATE"], "電源"),
    (["compare", GATE, "GATE", "DRV", "much"], "much"),
    (["compare", GATE, "GATE", "DRV", "nan"], "nan"),
    (["compare", GATE, "GATE", "DRV", ""], "value"),
    (["frobnicate"], "frobnicate"),
], ids=lambda value: " ".join(value) if isinstance(value, list) else "")
def test_every_mistake_is_told_and_ends_with_two(files: Path, arguments: list[str], told: str) -> None:
    done = run(*(a.replace("{}", str(files)) for a in arguments))
    assert done.returncode == 2, done.stderr
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert told in done.stderr
    lines = [line for line in done.stderr.splitlines() if not line.startswith("  ")]  # a file's line, a caret
    assert len(lines) == 1, lines


def test_a_board_without_parts_reads_open(files: Path) -> None:
    done = run("predict", str(files / "nets.board"), "A", "B")
    assert done.returncode == 0
    assert done.stdout.count("OL") == 12


def test_two_names_of_one_net_read_the_leads() -> None:
    done = run("explain", GATE, "GATE", "TP4", "--mode", "ohms")
    assert done.returncode == 0
    assert "one node" in done.stdout
    assert "0.2 Ω" in done.stdout


def test_negative_readings_and_nets_that_begin_with_a_dash(tmp_path: Path) -> None:
    (tmp_path / "x.board").write_text("R1 resistor -12V GND 10k\n", encoding="utf-8")
    assert "10.00 kΩ" in run("predict", str(tmp_path / "x.board"), "-12V", "GND").stdout
    assert run("compare", GATE, "GATE", "DRV", "-0.001").returncode == 0


def test_a_c_locale_still_prints_ohms() -> None:
    done = run("predict", GATE, "GATE", "DRV", LC_ALL="C", LANG="C", PYTHONUTF8="0", PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert "10.2 Ω" in done.stdout


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full here")
def test_a_full_disk_is_told() -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:
        done = subprocess.run([sys.executable, "-m", "incircuit", "predict", GATE, "GATE", "DRV"], cwd=ROOT,
                              stdout=full, stderr=subprocess.PIPE, encoding="utf-8", check=False,
                              env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert done.returncode == 2
    assert len(done.stderr.splitlines()) == 1


def test_a_reader_that_has_seen_enough() -> None:
    command = f"{sys.executable} -m incircuit explain {GATE} GATE DRV --json | head -c 1"
    done = subprocess.run(["sh", "-c", command], cwd=ROOT, capture_output=True, encoding="utf-8", check=False,
                          env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert (done.stdout, done.stderr) == ("{", "")


def test_an_interrupt_is_one_line() -> None:
    arguments = ["explain", "boards/pump-drive/pump-drive.board", "INV-", "LIW", "--mode", "ohms"]
    with subprocess.Popen([sys.executable, "-m", "incircuit", *arguments], cwd=ROOT, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE, encoding="utf-8",
                          env={**os.environ, "PYTHONPATH": str(ROOT)}) as process:
        time.sleep(2.0)  # past the imports also on a busy machine, before the answer or just after it
        process.send_signal(signal.SIGINT)
        out, err = process.communicate(timeout=60)
    assert process.returncode in (0, 130)  # a fast machine may have answered
    assert out == "" or process.returncode == 0
    assert err in ("interrupted\n", "\ninterrupted\n", "")
