"""Solving only what moves gives what solving everything gives, and bands hold what ngspice reads."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from incircuit.advise.outcomes import default_modes
from incircuit.board import Board, parse_board
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from incircuit.predict.batch import drawn, pair_of
from incircuit.predict.faulty import cases_of, measure_cases
from incircuit.predict.measure import Ask
from tests.compare.circuits import small

GATES = parse_board("""board "gates that a lead carrying nothing biases"
R1 resistor IN G 1k
Q1 nmos G=G D=D S=S small
R2 resistor IN D 10k
R3 resistor D S 47k
Q2 pmos G=D D=OUT S=IN small
R4 resistor OUT S 100k
""")


BOARDS = [small("gate-drive"), small("switch-transistor"), small("half-bridge"), GATES]


@pytest.mark.parametrize("board", BOARDS, ids=lambda b: b.title[:12])
@pytest.mark.parametrize("meter", ["handheld", "moving-coil"])
def test_what_is_not_solved_again_reads_the_same(board: Board, meter: str) -> None:
    circuit, profile = build(board), load_meter(meter)
    cases = [c for part in board.parts for c in cases_of(circuit, part.ref)]
    asks = [Ask(mode, swap) for mode in default_modes(profile) for swap in (False, True)]
    unsolved = 0
    for red, black in list(combinations(board.net_names(), 2))[::2]:
        pair = pair_of(circuit, [c.change for c in cases], red, black, profile, asks)
        whole = measure_cases(circuit, cases, red, black, profile, asks, 0)
        unsolved += pair.conditions - 1 - len(pair.moved)
        for a, ask in enumerate(asks):
            expected = whole.shows[ask].exact
            # a tenth of what a meter's accuracy is, and of its last digit
            where = f"{red} {black} {ask}"
            np.testing.assert_allclose(pair.exact[a], expected, rtol=5e-4, atol=1e-4, err_msg=where)
    assert unsolved > 0


def test_drawn_boards_spread_around_the_nominal_one() -> None:
    board = parse_board("R1 resistor A B 1k 5%\nR2 resistor B C 1k 5%\n")
    pair = pair_of(build(board), [], "A", "C", load_meter("handheld"), [Ask("ohms")])
    (ohms,) = drawn(pair, [(0, 0)], 200)
    assert ohms[0] == pytest.approx(2000.2, abs=0.1)  # both leads are 0.2 ohm
    assert 1900.0 < ohms.min() < 1930.0
    assert 2070.0 < ohms.max() < 2100.5
