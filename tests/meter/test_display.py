"""What the display shows: digits, ranges, OL, beep, accuracy."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.meter import display
from incircuit.meter.profile import Accuracy, ContinuityMode, DiodeMode, OhmsMode, Range, Source, load_meter
from incircuit.meter.typed import parse_shown

HANDHELD = load_meter("handheld")
EXACT = DiodeMode(Source(1e-3, 3.0, 0.3), 2.0, 1e-6, Accuracy())


def modes() -> tuple[DiodeMode, OhmsMode, ContinuityMode]:
    assert HANDHELD.diode
    assert HANDHELD.ohms
    assert HANDHELD.continuity
    return HANDHELD.diode, HANDHELD.ohms, HANDHELD.continuity


def autoranged(mode: OhmsMode, ohms: float) -> display.Shown:
    """What the lowest range that fits shows of a plain resistance, the highest where none does."""
    shown = [display.show_ohms(chosen, ohms) for chosen in mode.ranges]
    return next((one for one in shown if not one.overload), shown[-1])


@pytest.mark.parametrize(("volts", "text"), [
    (0.0108, "0.011 V"), (0.5862, "0.586 V"), (0.0, "0.000 V"), (-0.0004, "0.000 V"), (-0.0006, "-0.001 V"),
    (1.9994, "1.999 V"), (1.9996, "OL"), (2.0, "OL"), (3.0, "OL"), (math.inf, "OL"),
    (-2.5, "OL"), (math.nan, "OL"),
])
def test_diode_test(volts: float, text: str) -> None:
    diode, _, _ = modes()
    shown = display.show_diode(diode, volts)
    assert shown.text == text
    assert shown.overload == (text == "OL") == (shown.value is None)


def test_fine_resolution_shows_every_digit() -> None:
    assert display.show_diode(EXACT, 0.01234567).text == "0.012346 V"
    assert display.show_diode(EXACT, 0.01234567).value == 0.012346


@pytest.mark.parametrize(("ohms", "text", "full_scale"), [
    (10.2, "10.2 Ω", 400), (0.0, "0.0 Ω", 400), (400.04, "400.0 Ω", 400), (400.06, "0.400 kΩ", 4e3),
    (3912.4, "3.912 kΩ", 4e3), (9980.0, "9.98 kΩ", 40e3), (47e3, "47.0 kΩ", 400e3), (1e6, "1.000 MΩ", 4e6),
    (4.7e6, "4.70 MΩ", 40e6), (40.1e6, "OL", 40e6), (math.inf, "OL", 40e6), (-0.04, "0.0 Ω", 400),
])
def test_autoranging_ohms(ohms: float, text: str, full_scale: float) -> None:
    _, mode, _ = modes()
    shown = autoranged(mode, ohms)
    assert shown.text == text
    assert shown.range is not None
    assert shown.range.full_scale == full_scale


def test_continuity_beeps_below_the_threshold_only() -> None:
    _, _, mode = modes()
    assert [display.show_continuity(mode, r).beep for r in (0.2, 39.9, 40.0, 300.0, math.inf)] == [
        True, True, False, False, False]
    assert display.show_continuity(mode, 1e3).text == "OL"
    beyond = ContinuityMode(mode.range, beeps_below=500.0)
    assert display.show_continuity(beyond, 450.0).beep
    assert display.show_continuity(beyond, 450.0).overload


def test_accuracy_of_digits_and_of_a_needle() -> None:
    assert display.half_width(Accuracy(0.5, 2), 1e-3, 0.6) == pytest.approx(0.005)
    assert display.half_width(Accuracy(0.5, 2), 1e-3, -0.6) == pytest.approx(0.005)
    assert display.half_width(Accuracy(), 1e-6, 0.6) == 0.0
    needle = Range(1e3, 1.0, Accuracy(arc=3.0), Source(math.inf, 1.5, 20.0))
    h = 1e-6
    for ohms in (0.0, 5.0, 20.0, 200.0):  # the width is 3 % of the arc by the slope of the scale
        slope = (20.0 / (ohms + h + 20.0) - 20.0 / (ohms + 20.0)) / h
        assert display.range_half_width(needle, ohms) == pytest.approx(0.03 / abs(slope), rel=1e-6)
    assert display.range_half_width(needle, 20.0) / 20.0 == pytest.approx(0.12)  # four times arc at mid scale


@pytest.mark.parametrize(("full_scale", "resolution", "ohms", "text"), [
    (0.5, 1e-4, 0.0123, "12.3 mΩ"), (999.0, 1.0, 12.4, "12 Ω"), (2e3, 1.0, 1999.0, "1.999 kΩ"),
    (2e9, 1e6, 1.5e9, "1.500 GΩ"), (1e3, 0.25, 10.2, "0.01025 kΩ"), (600.0, 0.5, 10.2, "10.0 Ω"),
    (600.0, 20.0, 31.0, "40 Ω"),
])
def test_prefix_follows_the_range_and_digits_the_resolution(
    full_scale: float, resolution: float, ohms: float, text: str,
) -> None:
    made = Range(full_scale, resolution, Accuracy(), Source(1e-3, 1.0, 0.1))
    assert display.show_ohms(made, ohms).text == text


@settings(deadline=None, derandomize=True)
@given(st.floats(-1e7, 1e7), st.sampled_from([1e-6, 1e-3, 0.1, 0.25, 1.0, 10.0, 1e4]))
def test_quantise_is_nearest_and_the_same_for_arrays(value: float, resolution: float) -> None:
    one = display.quantise(value, resolution)
    many = display.quantise(np.array([value, -value, math.inf]), resolution)
    assert abs(one - value) <= 0.5 * resolution * (1 + 1e-9) + 1e-9
    assert many[0] == pytest.approx(one, rel=1e-12, abs=1e-12)
    assert many[2] == math.inf
    assert math.copysign(1.0, display.quantise(-0.0, resolution)) == 1.0
    assert display.quantise(one, resolution) == one


@settings(deadline=None, derandomize=True)
@given(st.floats(0.0, 1e8))
def test_the_text_reads_back_as_the_value(ohms: float) -> None:
    diode, mode, _ = modes()
    shown = autoranged(mode, ohms)
    typed = parse_shown(shown.text, "ohms")
    assert typed.overload == shown.overload
    if shown.value is not None:
        assert typed.value == pytest.approx(shown.value, rel=1e-12)
        assert shown.range is not None
        assert abs(shown.value - ohms) <= 0.5001 * shown.range.resolution
    seen = display.show_diode(diode, ohms * 1e-8 * 3)
    assert parse_shown(seen.text, "diode").value == seen.value
