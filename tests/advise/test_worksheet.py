"""Every fault a worksheet says its readings show is shown by them, as ngspice reads the faulty board."""

from __future__ import annotations

import random

import pytest

from incircuit.advise.worksheet import seconds, worksheet
from incircuit.circuit.build import build
from tests.advise.sheets import COSTS, METER, listed, missed, off
from tests.compare.circuits import SHIPPED, small
from tests.compare.circuits import board as circuit_named
from tests.judge.bench import bench

NAMES = ("gate-drive", "half-bridge", "switch-transistor", "led", "divider", "relay")


SHEETS = ("pump-drive/gate-drive", "pump-drive/mains-input",
          *(pytest.param(name, marks=pytest.mark.slow) for name in SHIPPED[2:]))


@pytest.mark.parametrize("name", [*NAMES, *SHEETS])
def test_every_fault_said_to_show_shows(name: str) -> None:
    board = circuit_named(name)
    sheet = worksheet(build(board), METER, COSTS)
    assert sheet.gap == 0, "not proven shortest"
    said = listed(sheet)
    assert len(said) == sheet.shown
    rng = random.Random(name)
    some = rng.sample(said, min(12, len(said)))
    assert [fault for fault, lost in missed(board, sheet, some, rng) if lost] == []


@pytest.mark.parametrize("name", ["gate-drive", "half-bridge", "led"])
def test_a_sound_board_reads_within_the_bands(name: str) -> None:
    board = small(name)
    sheet = worksheet(build(board), METER, COSTS)
    rng = random.Random(name)
    assert [off(sheet, bench(board, METER, [], rng), rng) for _ in range(4)] == [[]] * 4


def test_probes_move_less_than_in_any_order() -> None:
    sheet = worksheet(build(small("half-bridge")), METER, COSTS)
    probes = [s.probe for s in sheet.steps]

    def cost(order: list[int]) -> float:
        return sum(seconds(COSTS, probes[a] if a >= 0 else None, probes[b])
                   for a, b in zip([-1, *order], order, strict=False))

    rng = random.Random(3)
    shuffled = [rng.sample(range(len(probes)), len(probes)) for _ in range(30)]
    assert cost(list(range(len(probes)))) <= sum(map(cost, shuffled)) / len(shuffled)
