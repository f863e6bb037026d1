"""What a part may override, the technician's way and SPICE's; and every fault located."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board.kinds import KINDS
from incircuit.board.model import Board, Part, Place, Statement
from incircuit.errors import BoardError
from incircuit.parts import check_parts, expand, expand_all
from incircuit.parts.elements import INFINITE, Channel, Junction
from tests.parts.samples import every_sample, named, sample

VT = 1.380649e-23 * 298.15 / 1.602176634e-19


def drop(junction: Junction, amps: float) -> float:
    """Shockley's equation with series resistance, independent of the package's."""
    return junction.n * VT * math.log(amps / junction.is_ + 1.0) + amps * junction.rs


def first(part: Part) -> Junction:
    return next(e for e in expand(part) if isinstance(e, Junction))


@given(st.sampled_from(["diode", "dual-diode", "bridge", "led"]), st.floats(0.05, 2.5), st.floats(1e-5, 1e-2))
@settings(deadline=None, derandomize=True, max_examples=60)
def test_typed_drop_is_kept_exactly(kind: str, volts: float, amps: float) -> None:
    part = sample(kind, vf=f"{volts!r}@{amps!r}")
    if volts <= amps * max(j.rs for j in expand(sample(kind)) if isinstance(j, Junction)):
        with pytest.raises(BoardError, match="series resistance"):
            expand(part)
        return
    found = [e for e in expand(part) if isinstance(e, Junction)]
    assert all(drop(j, amps) == pytest.approx(volts, abs=1e-9) for j in found)
    assert all(j.spread.own + j.spread.shared <= 0.0131 for j in found), "a typed type spreads little"


def test_drop_defaults_to_one_milliampere_and_keeps_the_class() -> None:
    typed, plain = first(sample("diode", "signal", vf="0.62")), first(sample("diode", "signal"))
    assert drop(typed, 1e-3) == pytest.approx(0.62)
    assert (typed.n, typed.rs) == (plain.n, plain.rs)
    assert drop(first(sample("igbt", freewheel_vf="0.41@1mA")), 1e-3) == pytest.approx(0.41)
    assert drop(first(sample("optocoupler", led_vf="1.2")), 1e-3) == pytest.approx(1.2)


def test_typed_led_keeps_its_temperature_coefficient() -> None:
    """(v − eg − xti·Vt)/T is the slope at constant current of SPICE's law; −2 mV/K from memory."""
    for volts in ("1.6", "1.9", "3.0"):
        led = first(sample("led", vf=volts))
        assert (drop(led, 1e-3) - led.eg - led.xti * VT) / 298.15 == pytest.approx(-2e-3, abs=2e-4)


def test_spice_parameters_put_the_rest_to_spice_defaults() -> None:
    for kind in ("diode", "dual-diode", "bridge", "three-phase-bridge"):
        for j in expand(sample(kind, is_="2.52n")):
            assert isinstance(j, Junction)
            assert (j.is_, j.n, j.rs, j.eg, j.xti) == (2.52e-9, 1.0, 0.0, 1.11, 3.0)
            assert (j.bv, j.ibv) == (INFINITE, 1e-3)
    j = first(sample("diode", "schottky", n="1.5"))
    assert (j.is_, j.n, j.eg, j.xti) == (1e-14, 1.5, 1.11, 3.0)
    j = first(sample("igbt", freewheel_rs="0.1"))
    assert (j.is_, j.n, j.rs) == (1e-14, 1.0, 0.1)


def test_vf_with_n_solves_is_with_that_n() -> None:
    j = first(sample("diode", vf="0.6", n="1.1"))
    assert (j.n, j.rs) == (1.1, 0.0)
    assert drop(j, 1e-3) == pytest.approx(0.6)


def test_channel_groups() -> None:
    def channel(part: Part) -> Channel:
        return next(e for e in expand(part) if isinstance(e, Channel))

    assert (channel(sample("nmos", vto="2")).vto, channel(sample("nmos", vto="2")).kp) == (2.0, 2e-5)
    assert (channel(sample("nmos", kp="0.5")).vto, channel(sample("nmos", kp="0.5")).kp) == (0.0, 0.5)
    assert channel(sample("pmos", vto="-2", kp="1")).vto == -2.0
    assert channel(sample("igbt", vth="4")).vto == 4.0
    body = first(sample("nmos", vto="2"))
    assert body.is_ != 1e-14, "the body is a group of its own"
    gates = ("+", "OUT", "-", "GH")
    assert channel(sample("half-bridge", "mos", pins=gates, vth="3")).vto == 3.0
    assert channel(sample("half-bridge", "igbt", pins=gates, kp="2")).vto > 4.0


def test_bipolar_gain_has_two_names() -> None:
    by_gain = expand(sample("npn", hfe="80"))
    assert getattr(by_gain[2], "gain", 0.0) == 80.0
    plain = expand(sample("npn"))
    assert getattr(plain[2], "gain", 0.0) * getattr(plain[0], "is_", 0.0) == pytest.approx(
        80.0 * getattr(by_gain[0], "is_", 0.0)), "hfe= alone keeps the class's saturation current"


def test_tolerance_of_a_drop() -> None:
    assert first(sample("diode", tol="0%")).spread.own == 0.0
    j = first(sample("diode", tol="10%"))
    assert j.spread.own == pytest.approx(0.1 * drop(j, 1e-3))
    assert first(sample("zener", tol="5%")) == first(sample("zener")), "a zener's tolerance is its voltage's"


BAD = [
    ("diode", {"vf": "much"}, "is not a value"),
    ("diode", {"vf": "0.6@"}, "is not a value"),
    ("diode", {"vf": "0.6@1V"}, "volts, expected amps"),
    ("diode", {"vf": "0"}, "cannot be zero"),
    ("diode", {"vf": "60"}, "no junction drops so much"),
    ("diode", {"vf": "0.5@1", "rs": "2"}, "alone drops 2 V"),
    ("diode", {"vf": "0.5", "is_": "1n"}, "same thing twice"),
    ("diode", {"is_": "0"}, "cannot be zero"),
    ("diode", {"n": "-1"}, "below zero"),
    ("diode", {"tol": "5"}, "has no % sign"),
    ("diode", {"tol": "500%"}, "more than 100%"),
    ("npn", {"bf": "100", "hfe": "100"}, "same thing twice"),
    ("igbt", {"freewheel": "maybe"}, "freewheel=none"),
    ("chip", {"supply": "VC"}, "did you mean VCC"),
    ("chip", {"clamps": "no"}, "clamps=none"),
    ("transformer", {"dcr_T": "1"}, "names no winding"),
    ("capacitor", {"esr": "1V"}, "expected ohms"),
    ("zener", {"vz": "0"}, "cannot be zero"),
    ("potentiometer", {"at": "120%"}, "more than 100%"),
    ("link", {"r": "x"}, "is not a value"),
    ("fuse", {"r": "x"}, "is not a value"),
    ("linear-regulator", {"r": "1F"}, "expected ohms"),
]


@pytest.mark.parametrize(("kind", "options", "message"), BAD, ids=[f"{k} {o}" for k, o, _ in BAD])
def test_bad_option_is_refused(kind: str, options: dict[str, str], message: str) -> None:
    with pytest.raises(BoardError, match=message) as caught:
        expand(sample(kind, pins=(), **options))
    assert len(caught.value.problems) == 1, [p.message for p in caught.value.problems]
    assert all(p.message.startswith("X1: ") for p in caught.value.problems)


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_every_option_of_every_kind_is_read(part: Part) -> None:
    """Nonsense in any option that holds a number, a drop or pins is a located fault, never swallowed."""
    for spec in KINDS[part.kind].options:
        winding = "P" if part.kind == "transformer" else "A"
        key = spec.name.replace(".*", f".{winding}")
        if _does_not_apply(part, key):
            continue
        bad = Part(part.ref, part.kind, part.pins, part.value, words=part.words,
                   options=tuple(o for o in part.options if o[0] != key) + ((key, "zzz"),))
        with pytest.raises(BoardError, match="zzz"):
            expand(bad)


def _does_not_apply(part: Part, key: str) -> bool:
    """Options of the other class of a kind, and of pins that are not there."""
    gates = any(pin.startswith("G") for pin in part.pin_names)
    if part.kind in ("half-bridge", "three-phase-inverter"):
        mos = "mos" in part.words
        return key.startswith("freewheel." if mos else "body.") or (key in ("vth", "vto", "kp") and not gates)
    return (key == "b" and "ptc" in part.words) or key == "freewheel"


def test_all_faults_of_a_board_at_once_with_caret() -> None:
    lines = ["D1 diode A=X K=Y vf=much", "  R1 resistor X Y", "U1 chip V=X supply=W", "R2 resistor X Y 10"]
    parts = (
        Part("D1", "diode", (("A", "X"), ("K", "Y")), options=(("vf", "much"),), place=Place("b.board", 2)),
        Part("R1", "resistor", (("1", "X"), ("2", "Y")), place=Place("b.board", 3)),
        Part("U1", "chip", (("V", "X"),), options=(("supply", "W"),), place=Place("b.board", 4)),
        Part("R2", "resistor", (("1", "X"), ("2", "Y")), 10.0, place=Place("b.board", 5)),
    )
    statements = tuple(Statement("part", text, ref=p.ref, place=p.place)
                       for text, p in zip(lines, parts, strict=True))
    problems = check_parts(Board(parts=parts, statements=statements))
    assert [(p.line, p.column) for p in problems] == [(2, 18), (3, 3), (4, 13)]
    assert problems[0].text == lines[0]
    with pytest.raises(BoardError) as caught:
        expand_all(Board(parts=parts, statements=statements))
    assert caught.value.problems == problems


def test_missing_pin_value_and_kind() -> None:
    with pytest.raises(BoardError, match="diode has no pin K here"):
        expand(Part("D1", "diode", (("A", "X"),)))
    with pytest.raises(BoardError, match="needs a value in ohms"):
        expand(Part("R1", "resistor", (("1", "X"), ("2", "Y"))))
    with pytest.raises(BoardError, match=r"unknown kind dioed \(did you mean diode\?\)"):
        expand(Part("D1", "dioed", (("A", "X"), ("K", "Y"))))
    with pytest.raises(BoardError, match="no winding"):
        expand(Part("T1", "transformer", (("A", "X"), ("B", "Y"))))


def test_aliases_expand_as_their_kind() -> None:
    pins = (("A", "X"), ("K", "Y"), ("G", "Z"))
    assert expand(Part("V1", "scr", pins)) == expand(Part("V1", "thyristor", pins))
