"""What a technician types off the display."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.errors import UnitError
from incircuit.meter.typed import parse_shown


@pytest.mark.parametrize(("text", "mode", "value"), [
    ("0.011", "diode", 0.011), (".011", "diode", 0.011), ("586mV", "diode", 0.586),
    ("586 mV", "diode", 0.586), ("0.586 V", "diode", 0.586), ("0.586V", "diode", 0.586),
    (" 0.586 ", "diode", 0.586), ("-0.012", "diode", -0.012), ("10k1", "ohms", 10100.0),
    ("9.98k", "ohms", 9980.0), ("9.98 kΩ", "ohms", 9980.0), ("10.1 Ω", "ohms", 10.1),
    ("10.1", "ohms", 10.1), ("1M", "ohms", 1e6), ("0", "ohms", 0.0), ("0R3", "continuity", 0.3),
    ("12.0", "continuity", 12.0),
])
def test_numbers(text: str, mode: str, value: float) -> None:
    assert parse_shown(text, mode)[:3] == (pytest.approx(value, rel=1e-12), False, None)


@pytest.mark.parametrize("text", ["OL", "ol", "O.L", "o.l", "0L", ".OL", " Ol ", "-OL"])
@pytest.mark.parametrize("mode", ["diode", "ohms", "continuity"])
def test_overload(text: str, mode: str) -> None:
    assert parse_shown(text, mode)[:3] == (None, True, None)


def test_the_beeper() -> None:
    assert parse_shown("beep", "continuity")[:3] == (None, False, True)
    assert parse_shown("Silent", "continuity")[:3] == (None, False, False)
    with pytest.raises(UnitError, match="continuity"):
        parse_shown("beep", "diode")


@pytest.mark.parametrize(("text", "mode", "hint"), [
    ("586", "diode", "586mV"), ("10,1", "ohms", "10.1"), ("12V", "ohms", "ohms"), ("10k", "diode", "V"),
    ("abc", "ohms", "write it like"), ("", "diode", "write it like"), ("open", "ohms", "write it like"),
    ("0.5", "amps", "expected one of diode, ohms, continuity, farads, esr, volts"), ("nan", "ohms", "nan"),
    ("inf", "diode", "inf"),
])
def test_refusals_suggest(text: str, mode: str, hint: str) -> None:
    with pytest.raises(UnitError, match=hint) as caught:
        parse_shown(text, mode)
    assert "\n" not in str(caught.value)


@settings(deadline=None, derandomize=True)
@given(st.text(max_size=100), st.sampled_from(["diode", "ohms", "continuity", "volts"]))
def test_any_text_is_read_or_refused(text: str, mode: str) -> None:
    with suppress(UnitError):
        value, overload, beep, _ = parse_shown(text, mode)
        assert (value is None) == (overload or beep is not None)


@pytest.mark.parametrize(("text", "mode"), [
    ("climbs", "diode"), ("climbs", "ohms"), ("drifts", "ohms"), ("chirp", "continuity"),
])
def test_what_a_display_does_is_a_word(text: str, mode: str) -> None:
    assert parse_shown(text, mode) == (None, False, None, text)


@pytest.mark.parametrize(("text", "mode", "value"), [
    ("470u", "farads", 470e-6), ("0.12", "esr", 0.12), ("24.1", "volts", 24.1), ("-0.3", "volts", -0.3),
])
def test_capacitance_series_resistance_and_volts(text: str, mode: str, value: float) -> None:
    assert parse_shown(text, mode)[:3] == (pytest.approx(value), False, None)


@pytest.mark.parametrize(("text", "mode"), [
    ("climbs", "farads"), ("chirp", "diode"), ("climbs", "continuity"),
])
def test_a_word_of_another_mode_is_told(text: str, mode: str) -> None:
    with pytest.raises(UnitError, match=f"is not what {mode} does"):
        parse_shown(text, mode)


def test_a_word_nearly_right() -> None:
    with pytest.raises(UnitError, match="did you mean climbs"):
        parse_shown("climb", "ohms")
