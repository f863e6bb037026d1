"""Preferred values: IEC 60063, and the reference library `eseries`."""

from __future__ import annotations

import eseries
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.errors import MarkError
from incircuit.marking.series import (
    LARGEST,
    SERIES,
    SMALLEST,
    decades,
    nearest,
    neighbours,
    scaled,
    series_of,
)

quick = settings(deadline=None, derandomize=True, max_examples=300)
values = st.floats(1e-9, 1e9)
names = st.sampled_from(sorted(SERIES))


@pytest.mark.published
@pytest.mark.parametrize("name", SERIES)
def test_every_series_is_that_of_the_reference_library(name: str) -> None:
    # PyPI eseries
    reference = eseries.series(eseries.ESeries[name])
    scale = 1 if name in ("E48", "E96", "E192") else 10
    assert SERIES[name] == tuple(int(v) * scale for v in reference)


@pytest.mark.published
def test_e24_and_the_values_that_are_not_the_rounded_power() -> None:
    # IEC 60063: positions 10 to 16 and 22 of E24, position 185 of E192
    rule = [round(10 * 10 ** (i / 24)) for i in range(24)]
    own = [v // 10 for v in SERIES["E24"]]
    assert {i: v for i, v in enumerate(own) if v != rule[i]} == {
        10: 27, 11: 30, 12: 33, 13: 36, 14: 39, 15: 43, 16: 47, 22: 82}
    exact = [round(100 * 10 ** (i / 192)) for i in range(192)]
    assert {i: v for i, v in enumerate(SERIES["E192"]) if v != exact[i]} == {185: 920}


@pytest.mark.published
@pytest.mark.parametrize(("name", "size"), [("E48", 48), ("E96", 96)])
def test_e48_and_e96_follow_the_rule_exactly(name: str, size: int) -> None:
    # IEC 60063
    assert list(SERIES[name]) == [round(100 * 10 ** (i / size)) for i in range(size)]


@pytest.mark.published
@quick
@given(value=values, name=names)
def test_nearest_and_neighbours_are_those_of_the_reference_library(value: float, name: str) -> None:
    # PyPI eseries; its values are products of floats, ours decimal numbers, hence the tolerance
    key = eseries.ESeries[name]
    low, high = neighbours(value, name)
    assert low < value < high
    if series_of(value) == "":
        assert low == pytest.approx(eseries.find_less_than(key, value), rel=1e-12)
        assert high == pytest.approx(eseries.find_greater_than(key, value), rel=1e-12)
    best = eseries.find_nearest(key, value)
    assert abs(nearest(value, name) - value) == pytest.approx(abs(best - value), rel=1e-9, abs=1e-12 * value)


@pytest.mark.parametrize("name", SERIES)
def test_a_value_of_a_series_is_its_own_nearest(name: str) -> None:
    for power in (-12, -4, 0, 7):
        for step in SERIES[name]:
            value = scaled(step, power)
            assert nearest(value, name) == value
            low, high = neighbours(value, name)
            assert low < value < high
            assert series_of(value) in list(SERIES)[: list(SERIES).index(name) + 1]


@quick
@given(value=values, other=values, name=names)
def test_nearest_is_monotone_and_between_the_neighbours(value: float, other: float, name: str) -> None:
    low, high = sorted((value, other))
    assert nearest(low, name) <= nearest(high, name)
    assert neighbours(low, name) <= neighbours(high, name)
    assert nearest(value, name) in (value, *neighbours(value, name))


@quick
@given(value=values)
def test_taking_apart_and_putting_together(value: float) -> None:
    significand, power = decades(value)
    assert 100 <= significand < 1000
    assert float(significand.scaleb(power)) == value


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf"), SMALLEST / 2, LARGEST * 2])
def test_what_is_no_value_of_a_part_is_refused(value: float) -> None:
    for ask in (lambda: nearest(value, "E24"), lambda: neighbours(value, "E24"), lambda: decades(value)):
        with pytest.raises(MarkError, match="has no marking"):
            ask()
    assert series_of(value) == ""


def test_an_unknown_series_is_refused_with_the_known_ones() -> None:
    with pytest.raises(MarkError, match=r"E7.*E3, E6, E12, E24, E48, E96, E192"):
        nearest(1.0, "E7")
