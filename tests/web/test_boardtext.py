"""The editor's questions: faults as they are typed, and a part from a form with what is printed on it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from incircuit.board import KINDS, parse_board
from incircuit.web.boardtext import checked, kinds_json, part_line
from tests.web.serving import STAGE


def test_every_fault_has_its_line(tmp_path: Path) -> None:
    text = STAGE.replace("npn      ", "npnn     ").replace("22k", "22kk") + "R9 resistor A\n"
    found = checked(str(tmp_path), "stage.board", text)
    assert not found["sound"]
    assert {p["line"] for p in found["problems"]} == {8, 10, 13}
    assert (found["problems"][0]["line"], found["problems"][0]["column"]) == (8, 6)
    assert "npn" in found["problems"][0]["hint"]


def test_a_sound_text_gives_its_parts_and_nets(tmp_path: Path) -> None:
    found = checked(str(tmp_path), "stage.board", STAGE)
    assert found["sound"]
    assert [p["ref"] for p in found["parts"]] == ["K1", "D1", "Q1", "R1", "R2", "C1", "R3"]
    assert {n["name"]: n["pad"] for n in found["nets"]}["COIL"] == "TP2"


def test_faults_of_an_included_file_name_it_without_its_folder(tmp_path: Path) -> None:
    (tmp_path / "other.board").write_text("R1 resistor A\n", encoding="utf-8")
    problem = checked(str(tmp_path), "stage.board", 'include "other.board"\n')["problems"][0]
    assert (problem["file"], problem["here"]) == ("other.board", False)


@pytest.mark.parametrize(("kind", "printed", "value"), [
    ("capacitor", "104", 1e-7), ("capacitor", "473J", 4.7e-8), ("capacitor", "470u 25V", 470e-6),
    ("resistor", "103", 10e3), ("resistor", "10k", 10e3), ("resistor", "brown black orange gold", 10e3),
    ("resistor", "68C", 49.9e3), ("resistor", "47", 47.0), ("inductor", "101", 100e-6), ("zener", "5V1", 5.1),
    ("resistor", "4R7 1%", 4.7),
])
def test_values_as_printed(kind: str, printed: str, value: float) -> None:
    pins = [["A", "X"], ["K", "Y"]] if kind == "zener" else [["1", "X"], ["2", "Y"]]
    found = part_line({"kind": kind, "ref": "X1", "value": printed, "pins": pins})
    assert found["problems"] == []
    part = parse_board(found["line"]).part("X1")
    assert part.value == pytest.approx(value, rel=1e-9)


def test_a_mark_with_two_meanings_offers_both() -> None:
    found = part_line({"kind": "resistor", "ref": "R1", "value": "220", "pins": [["1", "A"], ["2", "B"]]})
    assert {c["value"] for c in found["choices"]} >= {"22R", "220R"}


def test_tolerance_bands_come_along() -> None:
    found = part_line({"kind": "resistor", "ref": "R1", "value": "yellow violet orange gold",
                       "pins": [["1", "A"], ["2", "B"]]})
    part = parse_board(found["line"]).part("R1")
    assert (part.value, part.tolerance) == (47e3, 0.05)


def sample(kind: dict[str, Any]) -> dict[str, Any]:
    pins = kind["pins"] or (["P1", "P2"] if kind["name"] == "transformer" else ["1", "2"])
    value = {"Ω": "1k", "F": "1u", "H": "1m", "V": "12V"}.get(kind["unit"], "")
    nets = [[pin, f"N{k}"] for k, pin in enumerate(pins)]
    return {"kind": kind["name"], "ref": "X1", "value": value, "pins": nets}


@pytest.mark.parametrize("kind", kinds_json(), ids=list(KINDS))
def test_every_kind_can_be_added_by_the_form(kind: dict[str, Any]) -> None:
    found = part_line(sample(kind))
    assert found["problems"] == [], found
    assert parse_board(found["line"]).part("X1").kind == kind["name"]


def test_a_form_left_empty_is_told_what_it_lacks() -> None:
    found = part_line({"kind": "diode", "ref": "", "value": "", "pins": [["A", "X"], ["K", ""]]})
    assert found["problems"]
