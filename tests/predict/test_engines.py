"""Both engines read the same: every shipped board, pad pairs, every mode and range, both ways round,
healthy and with single faults; and boards of every kind put together at random."""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from incircuit.board import HEALTHY, Board, State, read_board
from incircuit.circuit.build import build
from incircuit.circuit.network import compile_network
from incircuit.circuit.values import nominal_values
from incircuit.errors import EngineError
from incircuit.meter.profile import Meter, load_meter
from incircuit.parts import defects_of
from incircuit.predict.measure import Ask, measure, quiet
from incircuit.predict.question import Question, ask_about
from tests.predict.boards import random_board

pytestmark = [pytest.mark.usefixtures("ngspice"), pytest.mark.published]

ROOT = Path(__file__).resolve().parents[2]
BOARDS = sorted((ROOT / "boards").rglob("*.board"))
PAIRS = {"pump-drive": 4, "audio-amp": 6}
MOST_PAIRS = 14
"""Pad pairs drawn on a board (fewer where ngspice is slow to converge); each is read healthy and with
one fault drawn for it."""


def gap(question: Question, meter: Meter) -> tuple[float, float]:
    """Largest |ΔV| at the pads and what is allowed there: 20 µV + 0.01 %, over all ranges of all modes."""
    network = compile_network(question.block, question.red_node, question.black_node)
    celsius = question.circuit.state.celsius
    values = nominal_values(network, celsius)
    asks = [Ask(mode, swapped) for mode in meter.modes for swapped in (False, True)]
    own = measure(network, values, meter, asks, quiet(1)).solution
    other = measure(network, values, meter, asks, quiet(1), celsius).solution
    allowed = 20e-6 + 1e-4 * np.abs(other.pad_voltage)
    off = np.abs(own.pad_voltage - other.pad_voltage)
    worst = int(np.argmax(off - allowed))
    return float(off[worst]), float(allowed[worst])


def single_faults(board: Board) -> list[str]:
    """Every fault text of every part."""
    circuit = build(board)
    return [f"{part.ref} {defect.name}" for part in board.parts
            for defect in defects_of(part, circuit.of_part(part.ref))]


def questions(path: Path) -> Iterator[tuple[str, Question]]:
    """Pad pairs of a board, drawn with the board's name as seed: healthy, and with a fault drawn for each."""
    board, r = read_board(path), random.Random(path.stem)
    pairs = list(combinations(board.net_names(), 2))
    faults = single_faults(board)
    for red, black in r.sample(pairs, min(PAIRS.get(path.stem, MOST_PAIRS), len(pairs))):
        fault = r.choice(faults)
        for state in (HEALTHY, State(faults=(fault,))):
            yield f"{red} {black} {state.faults}", ask_about(board, state, red, black)


@pytest.mark.parametrize("path", BOARDS, ids=[path.stem for path in BOARDS])
def test_a_shipped_board_reads_the_same(path: Path) -> None:
    """Reference: ngspice."""
    meter, asked, refused = load_meter("handheld"), 0, []
    for name, question in questions(path):
        asked += 1
        try:
            off, allowed = gap(question, meter)
        except EngineError:  # ngspice says that it found no point: no answer is not another answer
            refused.append(name)
            continue
        assert off <= allowed, name
    assert len(refused) <= asked // 6, refused


@pytest.mark.parametrize("block", range(0, 1400, 175))
def test_random_boards_of_every_kind_read_the_same(block: int) -> None:
    """Reference: ngspice. With those of tests/spice, two thousand networks."""
    meter = load_meter("handheld-2000")
    for seed in range(block, block + 175):
        board = random_board(seed)
        off, allowed = gap(ask_about(board, HEALTHY, "a", "b"), meter)
        assert off <= allowed, seed
