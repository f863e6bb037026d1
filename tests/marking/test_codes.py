"""Digits and letters on resistors, capacitors, coils, zener diodes."""

from __future__ import annotations

import pytest

from incircuit.errors import MarkError
from incircuit.marking import SERIES, read_mark
from incircuit.marking.series import scaled
from incircuit.marking.tables import EIA96_LETTERS, capacitor_tolerance


def values(text: str, part: str = "resistor") -> list[float]:
    return [m.value for m in read_mark(text) if m.part == part]


@pytest.mark.published
@pytest.mark.parametrize(
    ("code", "ohms"),
    [
        # IEC 60062, digit codes
        ("220", 22.0),
        ("103", 10e3),
        ("1001", 1e3),
        ("4992", 49.9e3),
        ("12R0", 12.0),
        ("0", 0.0),
        ("000", 0.0),
        # EIA-96
        ("68C", 49.9e3),
        ("24C", 17.4e3),
        ("01C", 10e3),
    ],
)
def test_codes_on_resistors(code: str, ohms: float) -> None:
    assert values(code)[0] == ohms


@pytest.mark.published
@pytest.mark.parametrize(
    ("letters", "multiplier"),
    [
        # EIA-96, from memory
        ("Z", 0.001),
        ("YR", 0.01),
        ("XS", 0.1),
        ("A", 1),
        ("BH", 10),
        ("C", 100),
        ("D", 1e3),
        ("E", 1e4),
        ("F", 1e5),
    ],
)
def test_multipliers_of_eia96(letters: str, multiplier: float) -> None:
    for letter in letters:
        assert 10.0 ** EIA96_LETTERS[letter] == pytest.approx(multiplier)
        (meaning,) = (m for m in read_mark(f"02{letter}") if m.kind == "EIA-96")
        assert meaning.value == pytest.approx(102 * multiplier)


def test_eia96_says_every_position() -> None:
    for position, step in enumerate(SERIES["E96"], start=1):
        (meaning,) = (m for m in read_mark(f"{position:02d}D") if m.kind == "EIA-96")
        assert (meaning.value, meaning.tolerance and meaning.tolerance.plus) == (scaled(step, 3), 0.01)


@pytest.mark.published
def test_twelve_r_is_two_things() -> None:
    # IEC 60062 letter code; EIA-96 position 12 (130) and R for ×0.01
    found = [(m.value, m.kind) for m in read_mark("12R")]
    assert found == [(12.0, "letter code"), (1.3, "EIA-96")]


@pytest.mark.published
def test_220_is_not_220r() -> None:
    # IEC 60062: the last of three digits counts zeros, R is the point
    assert values("220R") == [220.0]
    found = [m for m in read_mark("220") if m.part == "resistor"]
    assert [(m.value, m.kind) for m in found] == [(22.0, "three-digit code"), (220.0, "plain number")]
    assert "221 or 220R" in found[0].note


@pytest.mark.published
@pytest.mark.parametrize(
    ("code", "ohms"),
    [
        # IEC 60062, letter code for resistance (L from memory)
        ("R10", 0.1),
        ("R010", 0.01),
        ("0R1", 0.1),
        ("1R0", 1.0),
        ("2R2", 2.2),
        ("3R32", 3.32),
        ("590R", 590.0),
        ("4k7", 4.7e3),
        ("4K7", 4.7e3),
        ("K47", 470.0),
        ("59K0", 59e3),
        ("1M0", 1e6),
        ("M47", 470e3),
        ("1G0", 1e9),
        ("5L0", 0.005),
    ],
)
def test_letter_code_for_resistance(code: str, ohms: float) -> None:
    assert values(code)[0] == ohms


@pytest.mark.published
@pytest.mark.parametrize(
    ("code", "farads"),
    [
        # IEC 60062, letter code for capacitance
        ("p10", 0.1e-12),
        ("1p0", 1e-12),
        ("3p32", 3.32e-12),
        ("47p", 47e-12),
        ("4n7", 4.7e-9),
        ("n10", 0.1e-9),
        ("100n", 100e-9),
        ("1u0", 1e-6),
        ("1µ0", 1e-6),
        ("470u", 470e-6),
        ("1m0", 1e-3),
        # and its three-digit code in picofarads
        ("104", 100e-9),
        ("473", 47e-9),
        ("220", 22e-12),
        ("101", 100e-12),
    ],
)
def test_codes_on_capacitors(code: str, farads: float) -> None:
    assert values(code, "capacitor")[0] == farads


@pytest.mark.published
@pytest.mark.parametrize(
    ("code", "farads", "tolerance"),
    [
        # IEC 60062, letters of tolerance (from memory)
        ("473J", 47e-9, "±5 %"),
        ("104K", 100e-9, "±10 %"),
        ("104M", 100e-9, "±20 %"),
        ("104Z", 100e-9, "−20 % +80 %"),
        ("4n7J", 4.7e-9, "±5 %"),
        ("229C", 2.2e-12, "±0.25 pF"),
        ("4p7D", 4.7e-12, "±0.5 pF"),
        ("102F", 1e-9, "±1 %"),
    ],
)
def test_tolerance_letters_of_capacitors(code: str, farads: float, tolerance: str) -> None:
    first = next(m for m in read_mark(code) if m.part == "capacitor")
    assert (first.value, first.tolerance and first.tolerance.text) == (farads, tolerance)


def test_picofarads_of_tolerance_are_a_share_of_the_value() -> None:
    tolerance = capacitor_tolerance("C", 2.5e-12)
    assert tolerance
    assert tolerance.plus == pytest.approx(0.1)
    assert capacitor_tolerance("", 1e-9) is None


def test_the_same_code_means_different_things_on_different_parts() -> None:
    assert [(m.part, m.value, m.unit) for m in read_mark("104")] == [
        ("resistor", 100e3, "Ω"),
        ("capacitor", 100e-9, "F"),
        ("coil", 0.1, "H"),
    ]


@pytest.mark.practice
@pytest.mark.parametrize(
    ("code", "part", "expected"),
    [
        ("0.1", "capacitor", [100e-9]),
        (".047", "capacitor", [47e-9]),
        ("0,22", "capacitor", [220e-9]),
        ("2200", "capacitor", [220e-12, 2200e-6, 2200e-12]),
        ("47", "capacitor", [47e-12, 47e-6]),
        ("47J", "capacitor", [47e-12]),
        ("4R7", "capacitor", [4.7e-12, 4.7e-6]),
        ("4R7", "coil", [4.7e-6]),
        ("101", "coil", [100e-6]),
        ("5V1", "zener", [5.1]),
        ("479", "capacitor", [4.7e-12]),
        ("108", "capacitor", [1000e-6, 0.1e-12]),
        ("499", "resistor", [499.0, 49e9]),
        ("4E7", "resistor", [4.7]),
        ("22m", "resistor", [0.022]),
    ],
)
def test_what_the_trade_prints(code: str, part: str, expected: list[float]) -> None:
    assert values(code, part) == expected


@pytest.mark.parametrize("link", ["0", "00", "000", "0000", "0R", "0R0", "R000", "000R", "0.0", "0 ohm"])
def test_links(link: str) -> None:
    assert [(m.part, m.value) for m in read_mark(link)] == [("resistor", 0.0)]


@pytest.mark.parametrize(
    ("text", "part", "value"),
    [
        ("10 kΩ", "resistor", 10e3),
        ("10kohm", "resistor", 10e3),
        ("4.7k", "resistor", 4.7e3),
        ("4.7e3", "resistor", 4.7e3),
        ("100 nF", "capacitor", 100e-9),
        ("4.7uF", "capacitor", 4.7e-6),
        ("10uH", "coil", 10e-6),
        ("12 V", "zener", 12.0),
    ],
)
def test_written_values(text: str, part: str, value: float) -> None:
    assert value in values(text, part)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", '"" is no marking: write a code (103, 4k7, 68C, 473J) or the colours of the bands'),
        ("68c", '"68c" is no marking: did you mean 68C?'),
        ("1O3", '"1O3" is no marking: did you mean 103?'),
        ("4 k 7", '"4 k 7" is no marking: did you mean 4k7?'),
        ("4k7x", '"4k7x" is no marking: did you mean 4k7?'),
        ("97C", '"97C" is no marking: the digits of EIA-96 go from 01 to 96'),
        ("5A", '"5A" is in amps: a marking says ohms, farads or henries'),
        ("1e300", "it must be between 1e-18 and 1e+16"),
        ("-5", "it must be between"),
        ("9" * 90, "is too long for a marking"),
    ],
)
def test_what_is_no_marking_says_what_would_be(text: str, message: str) -> None:
    with pytest.raises(MarkError) as told:
        read_mark(text)
    assert message in str(told.value)
