"""The JSON that programs rely on: the keys named in the README are there, with the types they have."""

from __future__ import annotations

from typing import Any

import pytest

from tests.cli.helpers import GATE, answer

NUMBER = (int, float)
BAND = {"value": NUMBER, "low": NUMBER, "high": NUMBER, "overload": bool}


def holds(found: dict[str, Any], keys: dict[str, Any], nullable: tuple[str, ...] = ()) -> None:
    """Every key is there with its type; only the nullable ones may be null."""
    for key, kind in keys.items():
        assert key in found
        if found[key] is None:
            assert key in nullable, key
        else:
            assert isinstance(found[key], kind), key


def test_predict() -> None:
    found = answer("predict", GATE, "D3.A", "D3.K", "--lift", "D3.K")
    assert [(r["mode"], r["red"]) for r in found["readings"]] == [
        (mode, pad) for mode in ("diode", "ohms", "continuity") for pad in ("D3.A", "D3.K")]
    for reading in found["readings"]:
        holds(reading, {"mode": str, "red": str, "black": str, "display": str, "value": NUMBER, "unit": str,
                        "overload": bool, "low": NUMBER, "high": NUMBER, "beep": bool, "alone": dict},
              ("value", "low", "high", "beep"))
        holds(reading["alone"], BAND, ("value", "low", "high"))
        assert reading["unit"] == ("V" if reading["mode"] == "diode" else "Ω")
        assert (reading["value"] is None) == reading["overload"]
        assert (reading["display"] == "OL") == reading["overload"]
    forward, back = found["readings"][:2]
    assert forward["low"] < forward["value"] < forward["high"]
    assert back["overload"]
    assert back["low"] is None
    assert back["high"] is None


def test_a_band_that_reaches_overload_has_no_upper_end() -> None:
    found = answer("predict", GATE, "D3.K", "D3.A", "--lift", "D3.K", "--mode", "ohms")["readings"][0]
    assert found["overload"]
    assert found["low"] > 1e6
    assert found["high"] is None


def test_the_value_has_full_digits() -> None:
    value = answer("predict", GATE, "GATE", "DRV", "--mode", "diode")["readings"][0]["value"]
    assert len(repr(value)) > 12
    assert value == pytest.approx(0.0102, abs=1e-4)


def test_no_part_between_the_pads() -> None:
    found = answer("predict", GATE, "PWM", "SW")
    assert found["part"] is None
    assert all(r["alone"] is None for r in found["readings"])


def test_explain() -> None:
    found = answer("explain", "boards/pump-drive/boost-stage.board", "RTN", "BUS")
    holds(found, {"paths": list, "can_matter": list, "cannot_matter": list, "junctions": list,
                  "blind_to": list})
    for path in found["paths"]:
        holds(path, {"parts": list, "share": NUMBER})
    for junction in found["junctions"]:
        holds(junction, {"part": str, "volts": NUMBER, "amps": NUMBER, "conducts": bool})
    for fault in found["blind_to"]:
        holds(fault, {"part": str, "fault": str})
    assert sum(p["share"] for p in found["paths"]) == pytest.approx(1.0, abs=0.02)
    assert {j["part"] for j in found["junctions"] if j["conducts"]} == {"Q1", "D5"}


def test_explain_names_every_part_once() -> None:
    found = answer("explain", GATE, "GATE", "DRV")
    assert sorted(found["can_matter"] + found["cannot_matter"]) == sorted(
        ["R6", "R5", "Q2", "Q3", "C8", "R7", "D3", "R8", "D4", "Q1"])
    assert found["cannot_matter"] == ["R6"]


def test_compare() -> None:
    found = answer("compare", GATE, "GATE", "DRV", "0.011")
    holds(found, {"verdict": str, "part": str, "fault": str, "candidates": list, "healthy": dict,
                  "alone": dict, "reading": dict, "carried_by": list, "blind_to": list, "why": str},
          ("fault",))
    assert found["verdict"] in ("healthy", "explained", "failed", "undecided", "unlisted")
    holds(found["healthy"], {"low": NUMBER, "high": NUMBER, "overload": bool}, ("low", "high"))
    for candidate in found["candidates"]:
        holds(candidate, {"part": str, "fault": str, "probability": NUMBER, "fits": bool})
    for carrier in found["carried_by"]:
        holds(carrier, {"part": str, "share": NUMBER})
    assert found["carried_by"][0]["part"] == "R7"


@pytest.mark.usefixtures("ngspice")
@pytest.mark.published
@pytest.mark.parametrize("pads", [("GATE", "DRV"), ("RTN", "GATE"), ("DRV", "SW")])
def test_the_second_engine_gives_the_same(pads: tuple[str, str]) -> None:
    """Reference: ngspice. 20 µV + 0.01 %, on ohms at the range's current."""
    own, other = (answer("predict", GATE, *pads, "--engine", engine)["readings"]
                  for engine in ("own", "ngspice"))
    for one, two in zip(own, other, strict=True):
        assert one["display"] == two["display"]
        if one["value"] is not None:
            slack = 20e-6 if one["mode"] == "diode" else 20e-6 / 7e-8
            assert one["value"] == pytest.approx(two["value"], rel=1e-4, abs=slack)


def test_neither_order_of_lines_nor_hash_seed_nor_locale_changes_a_digit(tmp_path: Any) -> None:
    lines = ["R7 resistor DRV GATE 10R 1%", "R8 resistor GATE RTN 10k", "D3 diode A=GATE K=DRV signal",
             "Q1 igbt G=GATE C=SW E=RTN", "C9 capacitor SW RTN 470u 450V electrolytic",
             "D5 diode A=SW K=BUS fast", "R9 resistor BUS RTN 68k"]
    (tmp_path / "a.board").write_text("\n".join(lines), encoding="utf-8")
    (tmp_path / "b.board").write_text("\n".join(lines[::-1]), encoding="utf-8")
    one = answer("predict", str(tmp_path / "a.board"), "RTN", "BUS", PYTHONHASHSEED="1", LC_ALL="C")
    two = answer("predict", str(tmp_path / "b.board"), "RTN", "BUS", PYTHONHASHSEED="77", LC_ALL="C.UTF-8")
    assert one["readings"] == two["readings"]
