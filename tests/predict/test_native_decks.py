"""The command line against ngspice, on decks written without the program: device by device, D, Q, M cards.

The meter has no tolerance, six decimals and no leads, and the board's parts are given by their
physical parameters, so that both must show the same: within 20 µV + 0.01 %.
"""

from __future__ import annotations

import json
import random
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from incircuit.circuit.ngspice import solve_deck
from incircuit.cli.main import cli
from tests.predict.native import Twin, large_twin, random_twin

pytestmark = [pytest.mark.usefixtures("ngspice"), pytest.mark.published]

METER = """
name = "exact"
source = "test"
lead_resistance = 0
[diode]
current = 1e-3
open_circuit = 3.0
overload = 3.0
resolution = 1e-6
[ohms]
open_circuit = 1.0
ranges = [ { full_scale = 1e9, current = 1e-4, resolution = 1e-6 } ]
"""
SOURCES = {"diode": (1e-3, 3.0, 0.3), "ohms": (1e-4, 1.0, 1.0)}
"""Current, open-circuit voltage, and the knee's resistance: 1e-4 of their ratio, see the profile reader."""


def reference(twin: Twin, red: str, black: str, mode: str) -> tuple[float, float] | None:
    """Volts and amps at the pads by ngspice; None where it finds no point it trusts itself."""
    current, volts, behind = SOURCES[mode]
    names = {black: "0"}

    def renamed(card: str) -> str:
        if card.startswith("."):
            return card
        count = {"r": 2, "d": 2, "q": 3, "m": 4}[card[0]]
        name, *rest = card.split()
        nodes = [names.setdefault(node, f"n{len(names)}") for node in rest[:count]]
        return " ".join([name, *nodes, *rest[count:]])

    cards = [renamed(card) for card in twin.cards]
    at = names.setdefault(red, f"n{len(names)}")
    options = ".options temp=25 tnom=25 gmin=1e-12 reltol=1e-6 abstol=1e-15 vntol=1e-9 itl1=500 rshunt=1e15"
    limited = [f"vmeter m 0 {volts!r}", f"rmeter m {at} {behind!r}"]
    for drive in (limited, [f"imeter 0 {at} {current!r}"]):
        values, log = solve_deck("\n".join(["* deck", *cards, *drive, options, ".op", ".end"]))
        if values is None or any("Transient op" in line for line in log):
            return None
        v = values[at]
        flows = -values["vmeter#branch"] if drive is limited else current
        if flows <= current:
            return v, flows
    return v, current


def shown(runner: CliRunner, tmp_path: Path, twin: Twin, red: str, black: str) -> list[dict[str, Any]]:
    """The readings of `predict --json` on the twin's board."""
    (tmp_path / "meter.toml").write_text(METER, encoding="utf-8")
    text = "\n".join(['board "x"', *(f"net {n}" for n in twin.nets), *twin.lines, ""])
    (tmp_path / "x.board").write_text(text, encoding="utf-8")
    result = runner.invoke(cli, ["predict", str(tmp_path / "x.board"), red, black, "--json", "--meter",
                                 str(tmp_path / "meter.toml")], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    found: list[dict[str, Any]] = json.loads(result.output)["readings"]
    return found


def compare(twin: Twin, readings: list[dict[str, Any]]) -> int:
    """Compare all readings of one pair of pads; returns how many were compared."""
    done = 0
    for reading in readings:
        point = reference(twin, reading["red"], reading["black"], reading["mode"])
        if point is None:
            continue
        volts, amps = point
        allowed = 20e-6 + 1e-4 * volts
        where = (twin.seed, reading["mode"], reading["red"], reading["black"], volts, reading["value"])
        if reading["mode"] == "diode":
            if reading["overload"]:
                assert volts > 3.0 - allowed - 1e-6, where
            else:
                assert abs(reading["value"] - volts) <= allowed, where
        elif reading["overload"]:
            assert amps < 1.01e-9 * volts, where
        else:
            # a Q card has a substrate, tied to node 0 (the black pad), and gmin from its collector to it
            substrate = 1e-12 * volts * sum(card.startswith("q") for card in twin.cards)
            leaking = volts / amps * substrate / amps
            assert abs(reading["value"] - volts / amps) <= allowed / amps + leaking, where
        done += 1
    return done


@pytest.mark.parametrize("block", range(6))
def test_small_boards_of_every_kind(block: int, tmp_path: Path) -> None:
    """Reference: ngspice, native cards."""
    runner, done = CliRunner(), 0
    for seed in range(30 * block, 30 * block + 30):
        twin = random_twin(seed)
        red, black = twin.pick(2)
        done += compare(twin, shown(runner, tmp_path, twin, red, black))
    assert done > 100  # of 120: ngspice may fail on a few, never on many


def test_a_board_of_three_hundred_parts(tmp_path: Path) -> None:
    """Reference: ngspice, native cards."""
    runner, done = CliRunner(), 0
    for seed in range(3):
        twin = large_twin(seed, 300)
        red, black = random.Random(seed).sample(twin.nets, 2)
        done += compare(twin, shown(runner, tmp_path, twin, red, black))
    assert done >= 6
