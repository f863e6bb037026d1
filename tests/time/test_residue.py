"""A charge left on a capacitor is looked for only where its display may pass what was read."""

from __future__ import annotations

from pathlib import Path

import pytest

from incircuit.board import read_board
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from incircuit.predict import course_charge
from incircuit.predict.course_charge import residue
from incircuit.predict.measure import Ask

BOARD = Path(__file__).parents[1] / "benchmarks" / "fifteen.board"


@pytest.mark.parametrize(("red", "black", "swapped"), [("BUS", "SW", True), ("SW", "BUS", True)])
@pytest.mark.parametrize("volts", [-0.3, 0.001, 0.1, 0.3, 0.452, 0.7, 1.1, 1.9])
def test_what_no_charge_shows_is_told_at_once(red: str, black: str, swapped: bool, volts: float,
                                              monkeypatch: pytest.MonkeyPatch) -> None:
    circuit, meter, ask = build(read_board(BOARD)), load_meter("handheld"), Ask("diode", swapped)
    quick = residue(circuit, red, black, meter, ask, volts)
    monkeypatch.setattr(course_charge, "_within", lambda _ends, _value: True)
    assert residue(circuit, red, black, meter, ask, volts) == quick


def test_a_display_out_of_reach_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: object) -> None:
        raise AssertionError("the charging was followed")

    monkeypatch.setattr(course_charge, "film", never)
    circuit = build(read_board(BOARD))
    assert residue(circuit, "BUS", "SW", load_meter("handheld"), Ask("diode", True), 0.001) is None
