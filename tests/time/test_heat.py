"""A part at a temperature of its own, against ngspice: junctions, channels, windings."""

from __future__ import annotations

import pytest

from incircuit.board import make_state, parse_board
from incircuit.meter.profile import load_meter
from incircuit.predict.prediction import predict
from incircuit.predict.question import ask_about

pytestmark = pytest.mark.usefixtures("ngspice")
METER = load_meter("handheld")


@pytest.mark.parametrize("part", [
    "X1 diode A=A K=B rectifier", "X1 zener A=A K=B 12V", "X1 npn B=A C=C E=B small",
    "X1 nmos G=G D=B S=A power", "X1 motor-winding A B", "X1 thermistor A B 1k ntc b=3435",
])
@pytest.mark.parametrize("celsius", [-10, 90])
def test_both_engines_heat_a_part_alike(part: str, celsius: int) -> None:
    """20 µV and 0.01 % are what the engines may differ anywhere else."""
    around = "R1 resistor A B 2k2 1%\nR2 resistor G B 10k 1%\nR3 resistor C B 10k 1%\n"
    board = parse_board(f"{part}\n{around}", "x.board")
    question = ask_about(board, make_state(board, hot=(f"X1 {celsius}",)), "A", "B")
    own, other = (predict(question, METER, ["diode"], (False,), engine)[0].band.value
                  for engine in ("own", "ngspice"))
    assert own is not None
    assert own == pytest.approx(other, rel=1e-4, abs=2e-5)
    cold = ask_about(board, make_state(board), "A", "B")
    assert own != pytest.approx(predict(cold, METER, ["diode"], (False,))[0].band.value, rel=5e-3)
