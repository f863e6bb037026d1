"""`incircuit marking`: what a person sees, what a program gets, what an error looks like."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from incircuit.cli.main import cli
from incircuit.cli.text import WIDTH

ROOT = Path(__file__).resolve().parent.parent.parent
SAMPLES = ("104", "220", "12R", "4k8", "499", "108", "1000", "22F", "47E", "0", "10m", "5V1", "4n7F", "9990",
           "brown black orange brown", "yellow violet black red grey red", "yellow violet orange gold yellow")


def told(*arguments: str) -> Result:
    return CliRunner().invoke(cli, ["marking", *arguments], catch_exceptions=False)


def test_the_same_code_on_a_resistor_and_on_a_capacitor() -> None:
    lines = told("104").output.splitlines()
    assert lines[0].split() == ["on", "a", "means", "tolerance", "series", "read", "as"]
    assert lines[1].split()[:3] == ["resistor", "100", "kΩ"]
    assert lines[2].split()[:3] == ["capacitor", "100", "nF"]


def test_both_directions_meet() -> None:
    marks = {mark: told(mark).output.partition("\n\n")[2].partition("\n\n")[0].rstrip()
             for mark in ("103", "10k", "brown black orange gold", "1002")}
    assert len(set(marks.values())) == 1
    shown = marks["103"].splitlines()
    assert [line.rsplit("  ", 1)[-1] for line in shown] == [
        "10 kΩ, E24", "brown black orange gold", "brown black black red brown", "103", "1002", "01C", "10k"]


def test_a_value_between_is_marked_as_the_nearest_of_e24_and_of_e96() -> None:
    lines = told("4k8").output.splitlines()
    assert lines[3].split(None, 2)[2] == "4.7 kΩ, E24 (−2.1 %)             4.75 kΩ, E96 (−1.0 %)"
    assert lines[-2].split() == ["EIA-96,", "1", "%", "–", "66B"]


def test_colours_need_no_quotes() -> None:
    assert told("brown", "black", "orange", "gold").output == told("brown black orange gold").output


@pytest.mark.parametrize("mark", SAMPLES)
def test_nothing_is_cut_and_no_line_is_too_long(mark: str) -> None:
    result = told(mark)
    assert result.exit_code == 0
    assert "…" not in result.output
    assert max(map(len, result.output.splitlines())) <= WIDTH


@pytest.mark.parametrize("mark", SAMPLES)
def test_json_says_what_the_text_says(mark: str) -> None:
    answer = json.loads(told(mark, "--json").output)
    assert (answer["schema"], answer["mark"]) == (1, mark)
    assert answer["meanings"]
    of_part = {part: {m["value"] for m in answer["meanings"] if m["part"] == part}
               for part in ("resistor", "capacitor")}
    assert {m["ohms"] for m in answer["resistors"]} == of_part["resistor"]
    assert {m["asked"] for m in answer["capacitors"]} == of_part["capacitor"]


def test_every_json_field_is_documented() -> None:
    def fields(value: object) -> set[str]:
        if isinstance(value, dict):
            return set(value) | set().union(*map(fields, value.values()))
        return set().union(*map(fields, value)) if isinstance(value, list) else set()

    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    section = readme.partition("\n## What is printed on the part\n")[2].partition("\n## ")[0]
    answered = set().union(*(fields(json.loads(told(mark, "--json").output)) for mark in SAMPLES))
    assert {name for name in answered if not re.search(rf"\b{name}\b", section)} == {"schema"}


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["borwn"], '"borwn" is no colour of a band: did you mean brown?'),
        (["borwn black orange gold"], '"borwn" is no colour of a band: did you mean brown?'),
        (["68c"], '"68c" is no marking: did you mean 68C?'),
        (["red", "red"], "2 bands: a resistor has 3 to 6, a link one black band"),
    ],
)
def test_a_typing_error_is_one_line_and_exit_code_2(arguments: list[str], message: str) -> None:
    done = subprocess.run([sys.executable, "-m", "incircuit", "marking", *arguments], capture_output=True,
                          text=True, encoding="utf-8", check=False,
                          env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"})
    assert (done.returncode, done.stdout, done.stderr) == (2, "", message + "\n")
