"""Values as the trade writes them: exact, strict, and back."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.errors import UnitError
from incircuit.units import PREFIXES, UNIT_WORDS, format_value, parse_quantity, parse_value, rkm

quick = settings(deadline=None, derandomize=True, max_examples=300)


@pytest.mark.published
@pytest.mark.parametrize(
    ("code", "ohms"),
    [
        # IEC 60062, letter code for resistance: the letter stands for the decimal point
        ("R10", 0.1),
        ("R332", 0.332),
        ("1R0", 1.0),
        ("3R32", 3.32),
        ("33R2", 33.2),
        ("590R", 590.0),
        ("1K0", 1e3),
        ("3K32", 3320.0),
        ("59K0", 59e3),
        ("1M0", 1e6),
        ("33M2", 33.2e6),
        ("1G0", 1e9),
        ("4k7", 4700.0),
        ("2R2", 2.2),
        ("10R", 10.0),
        ("0R1", 0.1),
        ("1M", 1e6),
        ("1M5", 1.5e6),
    ],
)
def test_resistance_codes_of_iec_60062(code: str, ohms: float) -> None:
    assert parse_value(code, "Ω") == ohms


@pytest.mark.published
@pytest.mark.parametrize(
    ("code", "farads"),
    [
        # IEC 60062, letter code for capacitance
        ("p10", 0.1e-12),
        ("1p0", 1e-12),
        ("3p32", 3.32e-12),
        ("10p", 10e-12),
        ("1n0", 1e-9),
        ("33n2", 33.2e-9),
        ("1µ0", 1e-6),
        ("1u0", 1e-6),
        ("470u", 470e-6),
        ("47p", 47e-12),
        ("4n7", 4.7e-9),
        ("1m0", 1e-3),
    ],
)
def test_capacitance_codes_of_iec_60062(code: str, farads: float) -> None:
    assert parse_value(code, "F") == farads


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("10000", 1e4, ""),
        ("4.7e-5", 4.7e-5, ""),
        ("4.7E-5F", 4.7e-5, "F"),
        (".5", 0.5, ""),
        ("5.", 5.0, ""),
        ("10ohm", 10.0, "Ω"),
        ("10kΩ", 1e4, "Ω"),
        ("10k\u2126", 1e4, "Ω"),
        ("4k7ohm", 4700.0, "Ω"),
        ("10K", 1e4, ""),
        ("1mA", 1e-3, "A"),
        ("5V1", 5.1, "V"),
        ("-0.586", -0.586, ""),
        ("-12V", -12.0, "V"),
        ("8MHz", 8e6, "Hz"),
        ("5%", 0.05, "%"),
        ("0.1%", 0.001, "%"),
        ("10\u00b5F", 1e-5, "F"),
        ("10\u03bcF", 1e-5, "F"),
        ("10fA", 1e-14, "A"),
        ("0", 0.0, ""),
        ("-0", 0.0, ""),
        ("4.70 kΩ", 4700.0, "Ω"),
        ("2W", 2.0, "W"),
        ("5s", 5.0, "s"),
        ("4F7", 4.7, "F"),
    ],
)
def test_written_forms(text: str, value: float, unit: str) -> None:
    got, found = parse_quantity(text)
    assert (got, found) == (value, unit)
    assert math.copysign(1.0, got) == (1.0 if value == 0 else math.copysign(1.0, value))


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("47pf", "did you mean 47p or 47pF?"),
        ("4k7k", "did you mean 4k7?"),
        ("1meg", "did you mean 1M?"),
        ("1MEGohm", "did you mean 1MΩ?"),
        ("1,5k", "did you mean 1.5k?"),
        ("1,500", "did you mean 1500 or 1.500?"),
        ("470UF", "did you mean 470u or 470uF?"),
        ("100N", "did you mean 100n?"),
        ("4r7", "did you mean 4R7?"),
        ("10Ohm", "did you mean 10Ω?"),
        ("1_000", "did you mean 1000?"),
        ("１０", "did you mean 10?"),
        ("+5V", "did you mean 5V?"),
        ("1A5", "did you mean 1.5A?"),
        ("5v", "did you mean 5V?"),
        ("470mfd", "did you mean 470uF?"),
        ("−5V", "did you mean -5V?"),
        ("k47", "did you mean .47k?"),
        ("4R7R", "did you mean 4R7?"),
        ("10kR", "did you mean 10k?"),
        ("1 000", "did you mean 1000?"),
        ("10k\n", "did you mean 10k?"),
        *(
            (text, "write it like 4k7, 0R1, 100n or 2.5e-3")
            for text in (
                "",
                " ",
                "nan",
                "inf",
                "-inf",
                "abc",
                "10.5.2",
                "4.7e3k",
                "10%%",
                "0x10",
                "1e5e5",
                "k",
                "R",
                "-",
                ".",
                "e5",
                "٣",
                "1" * 200,
                "k%",
                "%",
            )
        ),
    ],
)
def test_everything_else_is_refused_with_a_sentence(text: str, hint: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_quantity(text)
    assert str(caught.value).endswith(f"is not a value: {hint}")
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "unit", "message"),
    [
        ("10R", "F", '"10R" is in ohms, expected farads (F)'),
        ("10V", "1", '"10V" is in volts, expected a plain number'),
        ("10", "%", '"10" has no % sign: did you mean 10%?'),
        ("0.1", "%", '"0.1" has no % sign: did you mean 10%?'),
        ("10f", "F", '"10f" is not a value: did you mean 10pF or 10F?'),
        ("-1", "Ω", '"-1" is below zero: ohms cannot be'),
        ("-5%", "", '"-5%" is below zero: percent cannot be'),
        ("1e999", "", '"1e999" is too large a number: write it like 4k7, 0R1, 100n or 2.5e-3'),
        ("1e-999", "", '"1e-999" is too small a number: write 0 if it is meant'),
    ],
)
def test_misfits_say_what_is_wrong(text: str, unit: str, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        parse_value(text, unit)
    assert str(caught.value) == message


def test_kelvin_and_kilo_are_told_apart_by_what_is_expected() -> None:
    assert parse_value("3950K", "K") == parse_value("3950", "K") == parse_value("3k95", "K") == 3950.0
    assert parse_value("10K", "Ω") == 1e4


numbers = st.floats(min_value=1e-18, max_value=1e18, allow_nan=False) | st.just(0.0)


@quick
@given(numbers, st.sampled_from(sorted(UNIT_WORDS)))
def test_rkm_reads_back_exactly(x: float, unit: str) -> None:
    assert parse_value(rkm(x, unit), unit) == x


@quick
@given(st.integers(1, 9999), st.integers(-4, 4), st.sampled_from(sorted(PREFIXES.keys() - {"f"})))
def test_letter_and_point_forms_are_the_same_exact_decimal(digits: int, point: int, prefix: str) -> None:
    number = Decimal(digits).scaleb(point)
    whole, _, part = f"{number:f}".partition(".")
    exact = float(number.scaleb(PREFIXES[prefix]))
    assert parse_value(f"{number:f}{prefix}") == exact
    assert parse_value(f"{whole}{prefix}{part}") == exact


@quick
@given(numbers, numbers)
def test_values_keep_their_order(a: float, b: float) -> None:
    assert (parse_value(rkm(a)) < parse_value(rkm(b))) == (a < b)


@quick
@given(st.text(max_size=12) | st.text("0123456789.eE+-kKmMuµnpRVFΩ%, _", max_size=8))
def test_any_text_is_a_finite_value_or_a_unit_error(text: str) -> None:
    try:
        value, unit = parse_quantity(text)
    except UnitError as error:
        value, unit, message = 0.0, "", str(error)
    else:
        message = ""
        assert text.isascii() or any(c in text for c in "Ω\u2126µμ")
    assert math.isfinite(value)
    assert "\n" not in message
    assert unit in {"", *UNIT_WORDS}


@quick
@given(st.text("0123456789.kmunpRVFAHz,", min_size=1, max_size=8))
def test_every_suggestion_is_itself_a_value(text: str) -> None:
    try:
        parse_quantity(text)
    except UnitError as error:
        _, found, hint = str(error).partition("did you mean ")
        for suggestion in hint.rstrip("?").split(" or ") if found else ():
            parse_quantity(suggestion)


@pytest.mark.parametrize(
    ("x", "unit", "digits", "text"),
    [
        (4700, "Ω", 3, "4.70 kΩ"),
        (0.0047, "F", 3, "4700 µF"),
        (470e-6, "F", 3, "470 µF"),
        (47e-12, "F", 2, "47 pF"),
        (999.96, "Ω", 3, "1.00 kΩ"),
        (999.4, "Ω", 3, "999 Ω"),
        (0.05, "%", 3, "5.00 %"),
        (25.0, "°C", 3, "25.0 °C"),
        (0, "V", 3, "0 V"),
        (-0.586, "V", 3, "-586 mV"),
        (1.25, "V", 2, "1.2 V"),
        (1.35, "V", 2, "1.4 V"),
        (1e-20, "A", 3, "1.00e-20 A"),
        (math.inf, "Ω", 3, "∞ Ω"),
        (-math.inf, "V", 3, "−∞ V"),
        (1.0, "1", 3, "1.00"),
        (math.nan, "V", 3, "not a number V"),
        (1, "F", 3, "1.00 F"),
        (123456, "", 2, "120 k"),
        (2.5e-3, "H", 3, "2.50 mH"),
    ],
)
def test_engineering_numbers_for_people(x: float, unit: str, digits: int, text: str) -> None:
    assert format_value(x, unit, digits) == text


@quick
@given(st.floats(1e-14, 1e14), st.sampled_from(["Ω", "F", "H", "V", "A", "Hz"]), st.integers(3, 9))
def test_formatted_values_read_back_within_their_digits(x: float, unit: str, digits: int) -> None:
    text = format_value(x, unit, digits)
    assert parse_value(text, unit) == pytest.approx(x, rel=0.6 * 10.0 ** (1 - digits))


def test_what_cannot_be_written_is_refused() -> None:
    for x in (math.nan, math.inf, -math.inf):
        with pytest.raises(UnitError):
            rkm(x)
