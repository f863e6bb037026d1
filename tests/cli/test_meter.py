"""`incircuit meter`: what there is, what it means, and a profile of one's own that then works everywhere."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from incircuit.cli.text import WIDTH, cells
from incircuit.meter.profile import load_meter, shipped_meters
from tests.cli.helpers import GATE, ROOT, answer, run

SESSION = ("--leads", "0.2", "--ohms", "100R 1%=100.4", "--ohms", "10k 1%=9.98k", "--diode", "1k 1%=0.921",
           "--diode-open", "2.81V", "--ohms-open", "400=1.10V", "--ohms-current", "400=0.680mA")


def measure(*arguments: str) -> str:
    """What `meter measure` prints where all is well."""
    done = run("meter", "measure", "mine", *arguments)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_every_shipped_meter_has_its_line() -> None:
    lines = run("meter", "list").stdout.splitlines()
    assert [line.split()[0] for line in lines[1:]] == list(shipped_meters())
    assert all(cells(line) <= WIDTH and "…" not in line for line in lines)
    assert [m["name"] for m in answer("meter", "list")["meters"]] == list(shipped_meters())


@pytest.mark.parametrize("name", [*shipped_meters(), "examples/bench-meter.toml"])
def test_show_says_what_the_profile_says(name: str) -> None:
    meter = load_meter(name if "/" not in name else str(ROOT / name))
    text = run("meter", "show", name).stdout
    assert text.startswith(f"{meter.name}: {meter.source}")
    assert all(cells(line) <= WIDTH for line in text.splitlines())
    for mode in meter.modes:
        assert f"\n{mode}: " in text
    assert meter.ohms
    assert sum("±" in line for line in text.partition("\nohms: ")[2].splitlines()) >= len(meter.ohms.ranges)
    found = answer("meter", "show", name)
    assert found["ohms"]["ranges"][0]["full_scale"] == meter.ohms.ranges[0].full_scale
    assert (found["diode"] is None) == (meter.diode is None)


def test_show_in_words() -> None:
    text = run("meter", "show", "handheld").stdout
    assert "diode: 1.00 mA up to 3.00 V; shows volts, OL from 2 V; last digit 1 mV, ±(0.5 % + 2 d" in text
    assert "400 Ω   700 µA    1.00 V        280 mV         0.1 Ω       ±(0.8 % + 2 digits)" in text
    assert "beeps below 40 Ω" in text
    assert "stay shut" in run("meter", "show", "low-voltage-ohms").stdout
    assert "red is minus" in run("meter", "show", "moving-coil").stdout


def test_a_measured_meter_is_written_and_works_everywhere(tmp_path: Path) -> None:
    own = tmp_path / "mine.toml"
    text = measure(*SESSION, "-o", str(own))
    assert "diode test: 0.921 ± 0.012 mA up to 2.81 V" in text
    meter = load_meter(str(own))
    assert meter.name == "mine"
    assert meter.diode
    assert meter.diode.source.current == pytest.approx(0.921e-3, rel=1e-3)
    said = own.read_text(encoding="utf-8")
    assert "# diode test: 0.921 ± 0.012 mA" in said
    assert "GUM" in said
    assert "with what was not measured taken from handheld" in said
    predicted = answer("predict", GATE, "GATE", "DRV", "--mode", "diode", "--meter", str(own))
    assert predicted["meter"] == "mine"
    assert predicted["readings"][0]["value"] == pytest.approx(10.0 * 0.921e-3 + 0.2 * 0.921e-3, rel=0.02)
    story = tmp_path / "x.readings"
    story.write_text("meter mine.toml\nGATE DRV diode 0.009\nGATE DRV ohms 10.2\n", encoding="utf-8")
    judged = answer("judge", GATE, str(story))
    assert judged["meter"] == "mine"
    assert all(r["fits"] for r in judged["readings"])


def test_json_has_the_profile_and_without_a_file_nothing_is_written(tmp_path: Path) -> None:
    own = tmp_path / "mine.toml"
    measure(*SESSION, "-o", str(own))
    found = answer("meter", "measure", "mine", *SESSION)
    assert found["profile"] == own.read_text(encoding="utf-8")
    assert measure(*SESSION).endswith("\n\nNothing is written yet: -o mine.toml writes the profile.\n")
    assert os.listdir(tmp_path) == ["mine.toml"]
    assert found["file"] is None
    assert found["base"] == "handheld"
    assert found["leads"]["uncertainty"] > 0
    assert found["diode_current"]["value"] == pytest.approx(0.921e-3, rel=1e-3)
    first, second = found["ranges"][:2]
    assert (first["readings"], second["readings"]) == (1, 0)
    gain = first["gain"]
    assert first["accuracy"]["percent"] >= 100 * (abs(gain["value"]) + gain["uncertainty"]) - 1e-9


def test_a_file_that_is_there_stays(tmp_path: Path) -> None:
    own = tmp_path / "mine.toml"
    own.write_text("mine, and dear to me\n", encoding="utf-8")
    done = run("meter", "measure", "mine", *SESSION, "-o", str(own))
    assert done.returncode == 2
    assert "is there already, name another file or add --force" in done.stderr
    assert own.read_text(encoding="utf-8") == "mine, and dear to me\n"
    measure(*SESSION, "-o", str(own), "--force")
    assert load_meter(str(own)).name == "mine"
    assert os.listdir(tmp_path) == ["mine.toml"]


@pytest.mark.parametrize(("arguments", "told"), [
    (["measure", "mine"], "nothing was measured"),
    (["measure", "mine", "--ohms", "10R"], '--ohms "10R": expected a resistor'),
    (["measure", "mine", "--ohms", "10k 1%=12k"], "would read 20 % too high"),
    (["measure", "mine", "--leads", "OL"], "--leads leads: with the probes held together"),
    (["measure", "mine", "--diode-current", "fast"], '--diode-current "fast" is not a value'),
    (["measure", "mine", "--diode-current", "0.92V"], "in volts, expected amps"),
    (["measure", "mine", "--ohms-current", "0.7mA"], "say on which range"),
    (["measure", "mine", "--ohms-current", "300=0.7mA"], "no range of 300 Ω"),
    (["measure", "mine", "--ohms-open", "1.1V", "--ohms-open", "1.2V"], "given twice"),
    (["measure", "mine", "--leads", "0.2", "--second", "nan", "2"], "--second: expected"),
    (["measure", "mine", "--leads", "0.2", "--base", "handhelt"], 'did you mean "handheld"'),
    (["measure", "mine", "--leads", "0.2", "-o", "{}"], "is a directory"),
    (["measure", "mine", "--leads", "0.2", "-o", "{}/no/such/place.toml"], "cannot be written"),
    (["measure", "\t", "--leads", "0.2"], "is no name for a meter"),
    (["show", "handhelt"], 'did you mean "handheld"'),
    (["show", "{}"], "not a file"),
    (["frob"], "frob"),
])
def test_mistakes_are_one_line_and_end_with_two(tmp_path: Path, arguments: list[str], told: str) -> None:
    done = run("meter", *(a.replace("{}", str(tmp_path)) for a in arguments))
    assert done.returncode == 2, done.stdout
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert told in done.stderr
    assert os.listdir(tmp_path) == []


def test_a_c_locale_writes_and_prints_the_same(tmp_path: Path) -> None:
    plain = {"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii"}
    done = run("meter", "measure", "mine", *SESSION, "-o", str(tmp_path / "mine.toml"), **plain)
    assert done.returncode == 0, done.stderr
    assert "±" in done.stdout
    assert json.dumps(load_meter(str(tmp_path / "mine.toml")).name) == '"mine"'
