"""Meter profiles: the shipped ones by their behaviour, a user's own, and every kind of broken one."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from incircuit.errors import MeterError
from incircuit.meter.profile import Meter, Source, load_meter, read_meter, shipped_meters

EXACT = """
name = "exact"
[diode]
current = 1e-3
open_circuit = 3
overload = 2.0
resolution = 1e-6
accuracy = { percent = 0, digits = 0 }
[ohms]
open_circuit = 1.0
ranges = [ { full_scale = 400, current = 7e-4, resolution = 1e-6 },
           { full_scale = 4e7, current = 1e-8, resolution = 1e-6 } ]
[continuity]
range = 400
beeps_below = 40
"""


def read(text: str) -> Meter:
    return read_meter(text.encode(), "my.toml")


def told(text: str) -> list[str]:
    """The lines of the refusal."""
    with pytest.raises(MeterError) as caught:
        read(text)
    return str(caught.value).splitlines()


def test_shipped_names() -> None:
    assert shipped_meters() == ("handheld", "handheld-2000", "low-voltage-ohms", "moving-coil")
    for name in shipped_meters():
        meter = load_meter(name)
        assert meter.name == name
        assert "memory" in meter.source  # every number says where it comes from
        assert len(meter.digest) == 64


@pytest.mark.practice
@pytest.mark.parametrize("name", ["handheld", "handheld-2000", "low-voltage-ohms"])
def test_digital_meters_behave_as_meters_do(name: str) -> None:
    """Common practice, no source: test currents, limits, leads, beeper of hand-held meters."""
    meter = load_meter(name)
    assert meter.diode
    assert meter.ohms
    assert meter.continuity
    assert 0.5e-3 <= meter.diode.source.current <= 1.5e-3
    assert 2.0 <= meter.diode.source.open_circuit <= 3.5
    assert meter.diode.overload == pytest.approx(2.0, abs=0.01)
    assert 30 <= meter.continuity.beeps_below <= 150
    assert 0.1 <= meter.lead_resistance <= 0.5
    currents = [r.source.current for r in meter.ohms.ranges]
    assert currents == sorted(currents, reverse=True)  # the ohms test current falls with range
    for r in meter.ohms.ranges:
        assert r.source.current * r.full_scale <= r.source.open_circuit  # full scale is within reach


def test_handheld_is_the_one_of_the_design() -> None:
    meter = load_meter("handheld")
    assert meter.diode
    assert meter.ohms
    assert meter.continuity
    assert meter.diode.source == Source(1e-3, 3.0, pytest.approx(0.3))  # type: ignore[arg-type]
    assert not meter.ohms.manual
    first = meter.ohms.ranges[0]
    assert (first.full_scale, first.resolution, first.source.current) == (400.0, 0.1, 7e-4)
    assert (first.accuracy.percent, first.accuracy.digits) == (0.8, 2.0)
    assert meter.continuity.range is first


def test_manual_meter_has_2000_counts() -> None:
    ohms = load_meter("handheld-2000").ohms
    assert ohms
    assert ohms.manual
    assert [r.full_scale for r in ohms.ranges] == [200, 2e3, 20e3, 200e3, 2e6, 20e6]
    assert all(r.full_scale / r.resolution == pytest.approx(2000) for r in ohms.ranges)


@pytest.mark.published
def test_low_voltage_ohms_stay_under_a_junction() -> None:
    """Kuphaldt, Lessons In Electric Circuits, Semiconductors ch. 3: low-voltage ohms, under 0.3 V."""
    ohms = load_meter("low-voltage-ohms").ohms
    assert ohms
    assert all(r.source.open_circuit < 0.3 for r in ohms.ranges)


@pytest.mark.published
def test_moving_coil_has_red_negative() -> None:
    """Kuphaldt, as above: analog ohmmeters often put plus on the black lead."""
    meter = load_meter("moving-coil")
    assert meter.ohms
    assert meter.ohms.red == -1
    assert meter.modes == ("ohms",)
    assert all(math.isinf(r.source.current) for r in meter.ohms.ranges)


def test_exact_profile_is_legal_and_absent_fields_have_defaults() -> None:
    meter = read(EXACT)
    assert (meter.lead_resistance, meter.source) == (0.0, "not told")
    assert meter.diode
    assert meter.diode.accuracy.percent == meter.diode.accuracy.digits == 0.0
    assert meter.diode.source.resistance == pytest.approx(1e-4 * 3.0 / 1e-3)
    assert meter.ohms
    assert meter.continuity
    assert meter.ohms.red == 1
    assert meter.continuity.range == meter.ohms.ranges[0]


def test_order_of_ranges_does_not_matter_and_ranges_override_the_mode() -> None:
    meter = read('[ohms]\nopen_circuit = 1.5\nsource_resistance = 100\nred = "-"\nranging = "manual"\n'
                 "ranges = [{full_scale = 1e4, resolution = 10, open_circuit = 9}, "
                 "{full_scale = 100, resolution = 1, source_resistance = 10}]")
    assert meter.ohms
    low, high = meter.ohms.ranges
    assert (low.source, high.source) == (Source(math.inf, 1.5, 10.0), Source(math.inf, 9.0, 100.0))
    assert (meter.ohms.red, meter.ohms.manual, meter.name) == (-1, True, "my")


def test_continuity_of_its_own() -> None:
    meter = read("[continuity]\ncurrent = 1e-3\nopen_circuit = 2\nfull_scale = 600\nresolution = 1\n"
                 "beeps_below = 50")
    assert meter.continuity
    assert meter.continuity.range.source.current == 1e-3
    assert meter.modes == ("continuity",)


DIODE = "[diode]\ncurrent = 1e-3\nopen_circuit = 3\noverload = 2\nresolution = 1e-3\n"

VOLTS = "expected a number above 0 in volts"
RANGES = "expected a list of 1 to 50 tables, { full_scale = 400, … }"
ONE = "[ohms]\nopen_circuit = 1\ncurrent = 1e-3\n"

REFUSED = [
    (DIODE.replace("current", "curent"),
     ["diode.current: missing, expected `current` in amperes, or `source_resistance` in ohms for a voltage "
      "behind a resistance", 'diode.curent: unknown key, did you mean "current"?']),
    (DIODE.replace("= 3", '= "3 V"'), [f'diode.open_circuit: found the text "3 V", {VOLTS}']),
    (DIODE.replace("= 2", "= -2"), [f"diode.overload: found -2, {VOLTS}"]),
    (DIODE.replace("= 2", "= nan"), [f"diode.overload: found nan, {VOLTS}"]),
    (DIODE.replace("= 3", "= inf"), [f"diode.open_circuit: found inf, {VOLTS}"]),
    (DIODE.replace("= 3", "= true"), [f"diode.open_circuit: found true, {VOLTS}"]),
    (DIODE.replace("= 3", "= 1979-05-27"), [f"diode.open_circuit: found a date or time, {VOLTS}"]),
    (DIODE.replace("1e-3\no", "0\no"), ["diode.current: found 0, expected a number above 0 in amperes"]),
    (DIODE.replace("= 1e-3\n", "= 5\n"), ["diode.resolution: found 5.0, expected less than overload"]),
    ("lead_resistance = -1\n" + DIODE, ["lead_resistance: found -1, expected a number of 0 or more in ohms"]),
    ("name = 7\n" + DIODE, ["name: found 7, expected one line of text"]),
    (DIODE + "accuracy = 3", ["diode.accuracy: found 3, expected a table"]),
    (DIODE + "accuracy = { percent = -1 }",
     ["diode.accuracy.percent: found -1, expected a number of 0 or more"]),
    (DIODE + "accuracy = { precent = 1 }", ['diode.accuracy.precent: unknown key, did you mean "percent"?']),
    (DIODE + "[omhs]", ['omhs: unknown key, did you mean "ohms"?']),
    ("diode = 3", ["diode: found 3, expected a table"]),
    ("", ["no mode: expected at least one of the tables [diode], [ohms], [continuity], [farads], [esr], "
         "[volts]"]),
    ("[ohms]\nopen_circuit = 1", [f"ohms.ranges: missing, {RANGES}"]),
    ("[ohms]\nranges = []", [f"ohms.ranges: found 0 entries, {RANGES}"]),
    ("[ohms]\nranges = [400]", ["ohms.ranges[0]: found 400, expected a table"]),
    (ONE + 'red = "black"\nranges = [{full_scale = 400, resolution = 1}]',
     ["ohms.red: found the text \"black\", expected '+' or '-'"]),
    (ONE + "ranges = [{full_scale = 400, resolution = 1}, {full_scale = 400.0, resolution = 1}]",
     ["ohms.ranges: two ranges with full_scale = 400"]),
    (EXACT.replace("range = 400", "range = 300"),
     ["continuity.range: found 300, expected the full_scale of an ohms range: 400, 4e+07"]),
    ("[continuity]\nrange = 400\nbeeps_below = 40",
     ["continuity.range: found 400, expected the full_scale of an ohms range: none: the meter has no "
      "[ohms]"]),
]


@pytest.mark.parametrize(("text", "expected"), REFUSED)
def test_refusals_say_file_key_found_and_expected(text: str, expected: list[str]) -> None:
    assert told(text) == [f"my.toml: {line}" for line in expected]


def test_all_faults_are_told_at_once() -> None:
    assert len(told("name = 1\nlead_resistance = 'x'\nwhat = 2\n[diode]\n[ohms]")) >= 6


def test_what_is_not_a_profile_is_refused(tmp_path: Path) -> None:
    (tmp_path / "junk").write_bytes(bytes(range(256)))
    (tmp_path / "zeros").write_bytes(bytes(100))
    (tmp_path / "huge.toml").write_bytes(b"# " + b"x" * 100_000_000)
    (tmp_path / "deep.toml").write_text("a = " + "[" * 50_000)
    (tmp_path / "digits.toml").write_text("lead_resistance = " + "9" * 50_000)
    os.mkfifo(tmp_path / "pipe")
    for name, words in (("junk", "UTF-8"), ("zeros", "not TOML"), ("huge.toml", "larger than"),
                        ("deep.toml", "not TOML"), ("digits.toml", "not TOML"), ("pipe", "not a file"),
                        ("", "not a file"), ("absent.toml", "neither a shipped meter nor a file")):
        with pytest.raises(MeterError, match=words) as caught:
            load_meter(str(tmp_path / name) if name else str(tmp_path))
        assert "\n" not in str(caught.value)
        assert len(str(caught.value)) < 400


def test_broken_toml_tells_the_line() -> None:
    assert "my.toml: not TOML: Invalid value (at line 2" in told("name = 'a'\nlead_resistance =\n")[0]


def test_misspelt_meter_gets_the_nearest_name() -> None:
    with pytest.raises(MeterError, match='did you mean "handheld"'):
        load_meter("handhelt")
    with pytest.raises(MeterError, match="expected one of: handheld, handheld-2000"):
        load_meter("\0\x1b[31m")


def test_users_own_file_with_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "own.toml"
    path.write_bytes(b"\xef\xbb\xbf" + EXACT.replace("\n", "\r\n").encode())
    assert load_meter(str(path)).name == "exact"


junk = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8)),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)


def toml(value: object) -> str:
    match value:
        case bool():
            return str(value).lower()
        case int():
            return str(value)
        case float():
            return "nan" if math.isnan(value) else repr(value)
        case list():
            return "[" + ", ".join(map(toml, value)) + "]"
        case dict():
            return "{" + ", ".join(f"{toml(k)} = {toml(v)}" for k, v in value.items()) + "}"
        case _:
            plain = "".join(c for c in str(value) if c.isprintable() and c not in "\"\\'")
            return f'"{plain}"'


KEYS = ["name", "lead_resistance", "updates_per_second", "diode", "ohms", "continuity", "diode.current",
        "diode.accuracy", "ohms.ranges", "ohms.red", "continuity.range"]


@settings(deadline=None, derandomize=True)
@given(st.sampled_from(KEYS), junk)
@example("ohms.ranges", [{}])
@example("lead_resistance", 10**400)
def test_any_value_at_any_key_is_read_or_refused_never_worse(key: str, value: object) -> None:
    table, _, inner = key.rpartition(".")
    text = f"[{table}]\n{inner} = {toml(value)}" if table else f"{inner} = {toml(value)}\n{DIODE}"
    with suppress(MeterError):
        assert read(text).modes


@settings(deadline=None, derandomize=True)
@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    with pytest.raises(MeterError, match=r"my\.toml: "):
        read_meter(content, "my.toml")


def test_reading_a_profile_imports_no_numpy() -> None:
    code = ("import sys, incircuit.meter.display; from incircuit.meter.profile import load_meter\n"
            "load_meter('handheld'); print('numpy' in sys.modules)")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
