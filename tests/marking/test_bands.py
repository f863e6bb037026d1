"""Colour bands: worked examples, both ends, and back."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.errors import MarkError
from incircuit.marking import SERIES, marks_of, read_mark
from incircuit.marking.bands import read_bands, write_bands
from incircuit.marking.series import scaled
from incircuit.marking.tables import (
    ALL_COLOURS,
    BAND_TOLERANCES,
    COLOURS,
    MULTIPLIERS,
    NO_BAND,
    TEMPERATURE_BANDS,
)

quick = settings(deadline=None, derandomize=True, max_examples=300)


@pytest.mark.published
@pytest.mark.parametrize(
    ("bands", "ohms", "tolerance"),
    [
        # T. R. Kuphaldt, Lessons In Electric Circuits, Vol. V Reference, resistor colour codes
        ("yellow violet orange gold", 47e3, 0.05),
        ("brown green grey silver red", 1.58, 0.02),
        ("blue brown green silver blue", 6.15, 0.0025),
    ],
)
def test_worked_examples_of_the_textbook(bands: str, ohms: float, tolerance: float) -> None:
    first = read_mark(bands)[0]
    assert (first.value, first.unit, first.tolerance and first.tolerance.plus) == (ohms, "Ω", tolerance)


@pytest.mark.published
def test_the_tables_of_iec_60062() -> None:
    # IEC 60062; digits, gold, silver and the usual tolerances as in Lessons In Electric Circuits,
    # Vol. V Reference; the rest from memory
    assert COLOURS == (
        "black",
        "brown",
        "red",
        "orange",
        "yellow",
        "green",
        "blue",
        "violet",
        "grey",
        "white",
    )
    assert [MULTIPLIERS[c] for c in (*COLOURS, "gold", "silver")] == [*range(10), -1, -2]
    usual = {"brown": 1, "red": 2, "gold": 5, "silver": 10, "green": 0.5, "blue": 0.25, "violet": 0.1}
    assert {c: BAND_TOLERANCES[c] for c in usual} == {c: pytest.approx(p / 100) for c, p in usual.items()}
    assert NO_BAND == 0.2


@pytest.mark.parametrize("digit", range(10))
def test_each_colour_is_its_digit(digit: int) -> None:
    bands = ("brown", COLOURS[digit], "red", "gold")
    assert read_bands(bands)[0].value == (10 + digit) * 100


def test_three_bands_are_twenty_percent() -> None:
    (meaning,) = read_mark("brown black gold")
    assert (meaning.value, meaning.tolerance and meaning.tolerance.text) == (1.0, "±20 %")
    assert read_mark("brown black gold none") == (meaning,)
    assert [m.value for m in read_mark("brown black orange")] == [10e3, 300.0]


def test_six_bands_end_in_the_temperature_coefficient() -> None:
    first = read_mark("yellow violet black red brown red")[0]
    assert (first.value, first.tolerance and first.tolerance.plus, first.tempco) == (47e3, 0.01, 50e-6)


def test_a_single_black_band_is_a_link() -> None:
    (link,) = read_mark("black")
    assert (link.value, link.note) == (0.0, "one black band: a wire link")


def test_a_code_that_reads_both_ways_shows_both() -> None:
    found = read_mark("brown black orange brown")
    assert [(m.value, "other end" in m.note) for m in found] == [(10e3, False), (13.0, True)]
    assert {m.value for m in read_mark("brown orange black brown")} == {10e3, 13.0}


def test_gold_cannot_begin_so_the_other_end_is_read() -> None:
    (meaning,) = read_mark("gold orange black brown")
    assert (meaning.value, meaning.note) == (10e3, "if read from the other end")


def test_a_value_of_no_series_gives_way_to_one_of_a_series() -> None:
    # as typed 14 ×10 Ω 1 %, and 14 is not in E24; from the other end 11 ×10 kΩ 1 %
    found = read_mark("brown yellow brown brown")
    assert [m.value for m in found] == [110e3, 140.0]
    assert found[1].note == "14 is not in E24"


@pytest.mark.practice
def test_a_fifth_band_after_gold_may_be_a_failure_rate() -> None:
    # military parts, from memory: four bands and a failure rate
    found = read_mark("yellow violet orange gold yellow")
    assert (found[0].value, found[0].tolerance and found[0].tolerance.plus) == (47e3, 0.05)
    assert "failure rate" in found[0].note
    assert 47.3 in [m.value for m in found]


@pytest.mark.parametrize(
    "text",
    [
        "Brown-Black-Orange-Gold",
        "brown, black, orange, gold",
        "BN BK OG GD",
        "brown/black/orange/gold",
        "  brown  black orange   gold ",
    ],
)
def test_ways_to_type_bands(text: str) -> None:
    assert read_mark(text) == read_mark("brown black orange gold")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("borwn", '"borwn" is no colour of a band: did you mean brown?'),
        ("brown black ornage gold", '"ornage" is no colour of a band: did you mean orange?'),
        ("brown black 4k7", '"4k7" is no colour of a band: there are black, brown,'),
        ("red", "1 band: a resistor has 3 to 6, a link one black band"),
        ("red red red red red red red", "7 bands: a resistor has 3 to 6"),
        ("gold red red gold", "gold red red gold: gold is no digit; from the other end gold is no digit"),
        ("black red red black", "the first digit would be 0"),
        ("red red red black", "black is no tolerance"),
        ("red red red red red white", "white is no temperature coefficient"),
    ],
)
def test_what_cannot_be_read_says_why(text: str, message: str) -> None:
    with pytest.raises(MarkError) as told:
        read_mark(text)
    assert message in str(told.value)
    assert "\n" not in str(told.value)


@pytest.mark.parametrize("bands", [3, 4, 5, 6])
@pytest.mark.parametrize("power", range(-2, 7))
def test_every_value_of_the_series_comes_back(bands: int, power: int) -> None:
    for step in SERIES["E24" if bands < 5 else "E192"]:
        ohms = scaled(step, power)
        written = write_bands(ohms, 2 if bands < 5 else 3, 0.05 if bands < 5 else 0.02)
        assert written is not None
        shown = written[:3] if bands == 3 else (*written, "red") if bands == 6 else written
        # as typed or, where the wrong end makes a coarser series, among the meanings
        assert ohms in [m.value for m in read_bands(shown)]


@quick
@given(st.lists(st.sampled_from(ALL_COLOURS), min_size=3, max_size=6))
def test_the_other_end_is_never_hidden(bands: list[str]) -> None:
    def values(way: list[str]) -> set[float]:
        try:
            found = read_bands(tuple(way))
        except MarkError:
            return set()
        assert all(m.tolerance for m in found)
        assert [bool(m.series) for m in found] == sorted((bool(m.series) for m in found), reverse=True)
        return {m.value for m in found if m.series and "failure rate" not in m.note}

    assert values(bands) == values(bands[::-1])


def test_a_tolerance_without_a_colour_is_refused() -> None:
    with pytest.raises(MarkError, match=r"0\.03: no colour"):
        marks_of(100.0, tolerance=0.03)
    assert marks_of(100.0, tolerance=0.02).printed[0].four_bands == ("brown", "black", "brown", "red")


def test_temperature_bands_are_of_both_signs_and_distinct() -> None:
    assert len(set(TEMPERATURE_BANDS.values())) == len(TEMPERATURE_BANDS)
