"""Values to marks and back; any text at all."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.errors import MarkError
from incircuit.marking import SERIES, capacitor_marks_of, marks_of, plain, read_mark
from incircuit.marking.series import SMALLEST, scaled
from incircuit.marking.tables import ALL_COLOURS
from incircuit.units import parse_value

quick = settings(deadline=None, derandomize=True, max_examples=500)
resistances = st.floats(1e-3, 1e11)


def values(text: str, part: str = "resistor") -> list[float]:
    return [m.value for m in read_mark(text) if m.part == part]


@quick
@given(resistances)
def test_every_mark_of_a_resistance_reads_as_that_resistance(ohms: float) -> None:
    marks = marks_of(ohms)
    assert [p.series for p in marks.printed] in (["E24", "E96"], ["E24"])
    for p in marks.printed:
        assert abs(p.ohms / ohms - 1) < (0.0715 if p.series == "E24" else 0.0147)  # half the widest step
        for bands in (p.four_bands, p.five_bands):
            assert bands is None or p.ohms in values(" ".join(bands))
        for code in (p.three_digits, p.four_digits, p.eia96, p.letters):
            assert code is None or p.ohms in values(code)


@quick
@given(st.floats(1e-13, 1.0))
def test_every_mark_of_a_capacitance_reads_as_that_capacitance(farads: float) -> None:
    marks = capacitor_marks_of(farads)
    assert abs(marks.farads / farads - 1) < 0.0715
    for code in (marks.three_digits, marks.letters):
        assert code is None or marks.farads in values(code, "capacitor")
    assert float(marks.microfarads) == pytest.approx(marks.farads * 1e6, rel=1e-12)


@pytest.mark.parametrize("power", range(-1, 5))
def test_no_way_to_mark_is_missing_between_ten_ohms_and_ten_megohms(power: int) -> None:
    for step in SERIES["E24"]:
        p = marks_of(scaled(step, power)).printed[0]
        assert p.ohms == scaled(step, power)
        assert None not in (p.four_bands, p.five_bands, p.three_digits, p.four_digits)
    for step in SERIES["E96"]:
        p = marks_of(scaled(step, power)).printed[-1]
        assert p.ohms == scaled(step, power)
        assert None not in (p.five_bands, p.four_digits, p.eia96)


@quick
@given(resistances, resistances)
def test_marks_are_monotone(one: float, other: float) -> None:
    low, high = (marks_of(ohms) for ohms in sorted((one, other)))
    assert low.printed[0].ohms <= high.printed[0].ohms
    assert low.printed[-1].ohms <= high.printed[-1].ohms


@pytest.mark.published
def test_forty_seven_ohms() -> None:
    # colours and digits of IEC 60062, position 66 of E96 (475) as in IEC 60063
    first, second = marks_of(47.0).printed
    assert first.three_digits == "470"
    assert first.four_bands == ("yellow", "violet", "black", "gold")
    assert (second.ohms, second.eia96, second.four_digits) == (47.5, "66X", "47R5")


@pytest.mark.published
@pytest.mark.parametrize(("ohms", "code"), [(49.9e3, "68C"), (17.4e3, "24C"), (10e3, "01C")])
def test_eia96_written(ohms: float, code: str) -> None:
    # EIA-96
    assert marks_of(ohms).printed[-1].eia96 == code


@pytest.mark.parametrize(("ohms", "three", "four"), [
    (4.7, "4R7", "4R70"), (0.47, "R47", "R470"), (0.01, "R010", "R010"), (0.022, "R022", "R022"),
    (47.0, "470", "47R0"), (1e6, "105", "1004")])
def test_digits_of_small_and_large_resistances(ohms: float, three: str, four: str) -> None:
    p = marks_of(ohms).printed[0]
    assert (p.three_digits, p.four_digits) == (three, four)


def test_zero_is_a_link() -> None:
    (link,) = marks_of(0.0).printed
    assert (link.four_bands, link.three_digits, link.letters) == (("black",), "000", "0R")


@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf"), SMALLEST / 10])
def test_what_cannot_be_marked_is_refused(value: float) -> None:
    with pytest.raises(MarkError):
        marks_of(value)
    with pytest.raises(MarkError):
        capacitor_marks_of(value)


@quick
@given(st.floats(1e-12, 9e14), st.sampled_from(["Ω", "F", "H", "V"]))
def test_values_for_people_lose_nothing(value: float, unit: str) -> None:
    text = plain(value, unit)
    assert parse_value(text, unit) == pytest.approx(value, rel=1e-15)


texts = st.one_of(
    st.text(max_size=90),
    st.text("0123456789RKMGTLkmnpuµEFJZAX.,- ΩVH%e", max_size=9),
    st.lists(st.sampled_from([*ALL_COLOURS, "borwn", "none", "4k7", "-", "BK"]), max_size=8).map(" ".join),
)


@settings(quick, max_examples=2000)
@given(texts)
def test_any_text_is_read_or_refused_in_one_line(text: str) -> None:
    message, found = "", ()
    try:
        found = read_mark(text)
    except MarkError as error:
        message = str(error)
    assert bool(message) != bool(found)
    assert len(message.splitlines()) <= 1
    assert len(message) < 250
    assert len({(m.part, m.value) for m in found}) == len(found)
    for m in found:
        assert m.value >= 0
        assert plain(m.value, m.unit)
        if m.part == "resistor":
            assert marks_of(m.value).printed
        if m.part == "capacitor":
            assert capacitor_marks_of(m.value).letters


def test_numpy_stays_out() -> None:
    code = "import sys, incircuit.marking; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
