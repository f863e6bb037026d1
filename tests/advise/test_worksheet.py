"""Every fault a worksheet says its readings show is shown by them, as ngspice reads the faulty board."""

from __future__ import annotations

import random
from contextlib import suppress

import pytest

from incircuit.advise.costs import load_costs
from incircuit.advise.worksheet import Worksheet, seconds, worksheet
from incircuit.board.state import HEALTHY
from incircuit.circuit.build import build
from incircuit.errors import EngineError
from incircuit.meter.profile import load_meter
from incircuit.meter.typed import parse_shown
from tests.advise.follow import hidden
from tests.compare.circuits import SHIPPED, small
from tests.compare.circuits import board as circuit_named
from tests.judge.bench import Bench, bench, read

METER, COSTS = load_meter("handheld"), load_costs()


def _off(sheet: Worksheet, on: Bench, rng: random.Random) -> list[int]:
    """Numbers of the steps whose reading lies outside the band."""
    found = []
    for n, step in enumerate(sheet.steps):
        p = step.probe
        shown = parse_shown(read(on, HEALTHY, frozenset(), p.red, p.black, p.mode, rng), p.mode).value
        value = float("inf") if shown is None else shown
        if not step.low <= value <= step.high:
            found.append(n)
    return found


NAMES = ("gate-drive", "half-bridge", "switch-transistor", "led", "divider", "relay")


SHEETS = ("pump-drive/gate-drive", "pump-drive/mains-input",
          *(pytest.param(name, marks=pytest.mark.slow) for name in SHIPPED[2:]))


@pytest.mark.parametrize("name", [*NAMES, *SHEETS])
def test_every_fault_said_to_show_shows(name: str) -> None:
    board = circuit_named(name)
    sheet = worksheet(build(board), METER, COSTS)
    assert sheet.gap == 0, "not proven shortest"
    listed = sorted({f for s in sheet.steps for h in s.hints for f in h.faults})
    assert len(listed) == sheet.shown
    rng = random.Random(name)
    missed = []
    for part, fault in rng.sample(listed, min(12, len(listed))):
        on = bench(board, METER, [hidden(board, f"{part} {fault}")], rng)
        with suppress(EngineError):  # ngspice finds no operating point there
            if not _off(sheet, on, rng):
                missed.append(f"{part} {fault}")
    assert missed == []


@pytest.mark.parametrize("name", ["gate-drive", "half-bridge", "led"])
def test_a_sound_board_reads_within_the_bands(name: str) -> None:
    board = small(name)
    sheet = worksheet(build(board), METER, COSTS)
    rng = random.Random(name)
    assert [_off(sheet, bench(board, METER, [], rng), rng) for _ in range(4)] == [[]] * 4


def test_probes_move_less_than_in_any_order() -> None:
    sheet = worksheet(build(small("half-bridge")), METER, COSTS)
    probes = [s.probe for s in sheet.steps]

    def cost(order: list[int]) -> float:
        return sum(seconds(COSTS, probes[a] if a >= 0 else None, probes[b])
                   for a, b in zip([-1, *order], order, strict=False))

    rng = random.Random(3)
    shuffled = [rng.sample(range(len(probes)), len(probes)) for _ in range(30)]
    assert cost(list(range(len(probes)))) <= sum(map(cost, shuffled)) / len(shuffled)
