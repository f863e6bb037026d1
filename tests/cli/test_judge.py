"""`incircuit judge`: the verdict on a bench story as people and as programs read it, and what stops it."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from incircuit.cli.text import WIDTH, cells
from tests.cli.helpers import GATE, ROOT, answer, run

EXAMPLES = sorted((ROOT / "examples").glob("*.readings"))
STORY = "examples/gate-drive.readings"
WORDS = ("healthy", "explained", "failed", "undecided", "unlisted")
NUMBER = (int, float)


@pytest.mark.parametrize("path", EXAMPLES, ids=[path.stem for path in EXAMPLES])
def test_an_example_says_what_the_program_says(path: Path) -> None:
    """Its own comments: ``# incircuit judge BOARD READINGS`` and ``# verdict: failed Q1; healthy D3 R7``."""
    text = path.read_text(encoding="utf-8")
    command = re.search(r"^# (incircuit judge .*)$", text, re.MULTILINE)
    stated = re.search(r"^# verdict: (.*)$", text, re.MULTILINE)
    assert command
    assert stated
    found = answer(*command[1].split()[1:])
    parts = {part["part"]: part["verdict"] for part in found["parts"]}
    said = [piece.split() for piece in stated[1].split("; ")]
    assert found["verdict"] == said[0][0]
    for word, *refs in said:
        assert {ref: parts[ref] for ref in refs} == dict.fromkeys(refs, word)
    assert [ref for ref, word in parts.items() if word == "failed"] == said[0][1:]


@pytest.mark.practice
def test_the_diode_is_not_condemned_and_the_switch_is() -> None:
    """Common practice: 10 Ω across a good diode reads like a short; lifted, it reads 0.53 to 0.59 V."""
    done = run("judge", GATE, STORY)
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0] == "FAILED Q1 (the old one, replaced since)"
    assert "failed: Q1 (the old one, replaced since)" in lines
    assert any(line.startswith("healthy: ") and "D3" in line for line in lines)
    first = next(line for line in lines if line.lstrip().startswith("1 "))
    assert first.split()[1:5] == ["GATE", "DRV", "diode", "0.011"]
    assert first.endswith("as healthy      R7")  # the current is in the resistor


def test_one_screen() -> None:
    lines = run("judge", GATE, STORY, "--why").stdout.splitlines()
    assert all(cells(line) <= WIDTH for line in lines)
    assert len(lines) <= 45


def test_why_names_the_source_of_the_odds() -> None:
    plain, why = run("judge", GATE, STORY).stdout, run("judge", GATE, STORY, "--why").stdout
    assert why.startswith(plain.rstrip())
    more = why[len(plain.rstrip()):]
    assert "Where the odds come from:" in more
    assert "Q1 short C-E: weight " in more
    assert "338B" in more
    assert "from memory" in more


KEYS = {
    "schema": int, "verdict": str, "parts": list, "candidates": list, "groups": list, "readings": list,
    "unlisted": (dict, type(None)), "blind_to": list, "why": str,
}


def check_keys(found: dict[str, object]) -> None:
    """Every key of the issue, with its type, and types all the way down."""
    for key, kind in KEYS.items():
        assert isinstance(found[key], kind), key
    assert found["verdict"] in WORDS
    for part in found["parts"]:
        assert isinstance(part["part"], str)
        assert part["verdict"] in WORDS
        assert 0.0 <= part["probability_faulty"] <= 1.0
    for candidate in found["candidates"]:
        assert 0.0 <= candidate["probability"] <= 1.0
        assert isinstance(candidate["fits"], bool)
        for fault in candidate["faults"]:
            assert isinstance(fault["fault"], str)
            assert isinstance(fault["part"], str | None)
            assert isinstance(fault["magnitude"], int | float | None)
    for group in found["groups"]:
        assert all({"part", "fault"} <= set(member) for member in group)
        assert len(group) > 1
    for reading in found["readings"]:
        assert isinstance(reading["shown"], str)
        assert isinstance(reading["fits"], bool)
        band = reading["healthy"]
        assert isinstance(band["overload"], bool)
        assert band["low"] is None or band["high"] is None or band["low"] <= band["high"]
        assert all(isinstance(c["part"], str) and 0.0 <= c["share"] <= 1.0 for c in reading["carried_by"])
    assert all({"part", "fault"} <= set(blind) for blind in found["blind_to"])


def test_json_has_the_keys_programs_rely_on() -> None:
    found = answer("judge", GATE, STORY)
    check_keys(found)
    assert found["verdict"] == "failed"
    assert [(r["red"], r["black"], r["mode"], r["shown"]) for r in found["readings"]][:2] == [
        ("GATE", "DRV", "diode", "0.011"), ("DRV", "GATE", "diode", "0.011")]
    assert found["candidates"][0]["faults"][0]["part"] == "Q1"
    assert found["candidates"][0]["faults"][0]["fault"] == "short C-E"
    parts = {p["part"]: p for p in found["parts"]}
    assert set(parts) == {"R5", "R6", "R7", "R8", "Q1", "Q2", "Q3", "C8", "D3", "D4"}
    assert parts["Q1"]["replaced"] is True
    assert parts["D3"]["replaced"] is False
    faulty = sum(c["probability"] for c in found["candidates"])
    assert faulty + found["healthy"]["probability"] == pytest.approx(1.0)


def test_json_where_nothing_listed_fits(tmp_path: Path) -> None:
    story = tmp_path / "x.readings"
    story.write_text("GATE RTN ohms 47.2\nRTN GATE ohms 47.2\nGATE RTN diode 0.043\n", encoding="utf-8")
    found = answer("judge", GATE, str(story))
    check_keys(found)
    told = found["unlisted"] or {"between": None}
    assert found["verdict"] in ("unlisted", "failed", "undecided")
    if found["unlisted"] is not None:
        assert sorted(told["between"]) == ["GATE", "RTN"]
        assert told["ohms"][0] <= 47 <= told["ohms"][1]
        assert told["marks"]


def test_no_reading_yet(tmp_path: Path) -> None:
    story = tmp_path / "x.readings"
    story.write_text("# nothing yet\n\nmeter handheld\n", encoding="utf-8")
    found = answer("judge", GATE, str(story))
    check_keys(found)
    assert (found["verdict"], found["candidates"], found["readings"]) == ("undecided", [], [])
    assert run("judge", GATE, str(story)).stdout.startswith("UNDECIDED")


BAD = """meter handheld
GATE DRV diode 0.011
GAET DRV diode 0.5
lift D3.X
GATE DRV omhs 10
SW RTN diode OL
frobnicate Q1
resolder D3.K
GATE DRV diode 999
meter nonesuch
fit Q1
"""


def test_every_bad_line_is_told_with_its_place_and_nothing_is_lost(tmp_path: Path) -> None:
    story = tmp_path / "bad.readings"
    story.write_text(BAD, encoding="utf-8")
    done = run("judge", GATE, str(story))
    assert (done.returncode, done.stdout) == (2, "")
    told = [line for line in done.stderr.splitlines() if line.startswith(str(story))]
    due = {":3:1": "GATE", ":4:6": "D3.A", ":5:10": "ohms", ":7:1": "state word", ":8:10": "lift",
           ":9:16": "999mV", ":10:7": "handheld"}
    for line, (place, word) in zip(told, due.items(), strict=True):
        assert line.startswith(f"{story}{place}: ")
        assert word in line
    assert story.read_text(encoding="utf-8") == BAD


@pytest.mark.parametrize(("arguments", "told"), [
    (["judge", GATE, "{}/none.readings"], "no such file"),
    (["judge", "{}/none.board", STORY], "no such file"),
    (["judge", GATE, "{}"], "is a directory"),
    (["judge", GATE, STORY, STORY], "extra argument"),
    (["judge", GATE], "READINGS"),
    (["judge", GATE, STORY, "--meter", "handhelt"], "handheld"),
    (["judge", GATE, "{}/plain.readings", "--meter", "moving-coil"], "has no diode mode"),
], ids=lambda value: " ".join(value) if isinstance(value, list) else "")
def test_what_stops_it_is_one_line(tmp_path: Path, arguments: list[str], told: str) -> None:
    (tmp_path / "plain.readings").write_text("GATE DRV diode 0.011\n", encoding="utf-8")
    done = run(*(a.replace("{}", str(tmp_path)) for a in arguments))
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr
    assert told in done.stderr
    assert len([line for line in done.stderr.splitlines() if not line.startswith("  ")]) == 1


def test_the_story_of_another_board() -> None:
    done = run("judge", "boards/lamp-driver/lamp-driver.board", STORY)
    assert (done.returncode, done.stdout) == (2, "")
    first, second = done.stderr.splitlines()[:2]
    assert first == f"{STORY}:1:1: 9 of 11 readings are not on this board (is it the story of another one?)"
    assert second == f'{STORY}:6:1: "GATE" is no net, pad or pin of this board'


@pytest.mark.parametrize("content", [bytes(range(256)), b"\x00" * 500, b"\xff\xfe" * 40, b"{" * 3000])
def test_junk_is_refused_whatever_it_is(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "junk.readings").write_bytes(content)
    done = run("judge", GATE, str(tmp_path / "junk.readings"))
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr
    assert f"{tmp_path}/junk.readings:" in done.stderr


def test_neither_hash_seed_nor_locale_changes_a_digit() -> None:
    one = run("judge", GATE, STORY, "--json", PYTHONHASHSEED="1", LC_ALL="C", LANG="C", PYTHONUTF8="0",
              PYTHONIOENCODING="ascii")
    two = run("judge", GATE, STORY, "--json", PYTHONHASHSEED="77")
    assert one.returncode == 0, one.stderr
    assert one.stdout == two.stdout


@pytest.mark.parametrize("arguments", [["judge", "--help"], ["record", "-h"], ["meter", "--help"],
                                       ["meter", "measure", "-h"], ["marking", "-h"], ["--help"]])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    code = (f"import sys, runpy; sys.argv = ['incircuit', *{arguments!r}]\n"
            "try: runpy.run_module('incircuit', run_name='__main__')\n"
            "except SystemExit as end: assert not end.code, end.code\n"
            "heavy = {'numpy', 'scipy', 'networkx', 'tomllib'} & set(sys.modules)\n"
            "assert not heavy, heavy")
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, encoding="utf-8",
                          env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"}, check=False)
    assert done.returncode == 0, done.stderr


def test_help_lists_the_commands_in_the_order_of_the_work() -> None:
    text = run("--help").stdout.partition("Commands:\n")[2].partition("\n\n")[0]
    lines = text.splitlines()
    work = ["discharge", "check", "predict", "explain", "compare", "record", "judge",
            "next", "survey", "worksheet", "powerup", "pads", "meter", "marking"]
    assert [line.split()[0] for line in lines if line.split()[0] in work] == work
    assert all(len(line) <= 80 and not line.endswith("...") for line in lines)
