"""Energy, bleed time and discharge resistor, computed again here; safety figures of the standards."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from incircuit.board import parse_board, read_board
from incircuit.circuit.build import build
from incircuit.cli.main import cli
from incircuit.meter.profile import Source
from incircuit.parts.elements import Capacitance
from incircuit.power.discharge import Bank, stored
from incircuit.power.limits import CAUTIONS, LIMITS, can_hurt
from incircuit.power.resistor import E12, JOULES_PER_WATT, OVERLOAD, discharger
from tests.compare.circuits import BOARDS
from tests.time.spice import transient

LINK = "C1 capacitor BUS RTN 470u 450V electrolytic\nR1 resistor BUS RTN 100k 5%\nsupply BUS RTN 400V\n"


def banks(text: str) -> tuple[Bank, ...]:
    return stored(parse_board(text, "x.board")).banks


@pytest.mark.published
def test_a_link_capacitor() -> None:
    """470 µF at 400 V holds 37.6 J; to 50 V through 100 k takes 97.7 s (computed: ½CV², RC·ln)."""
    (bank,) = banks(LINK)
    assert bank.joules == pytest.approx(37.6, abs=0.01)
    to_60, to_50, to_34 = (t if t is not None else math.inf for t in bank.seconds)
    assert to_50 == pytest.approx(97.7, rel=5e-3)
    assert to_60 == pytest.approx(47.0 * math.log(400.0 / 60.0), rel=5e-3)
    assert to_34 == pytest.approx(47.0 * math.log(400.0 / 34.0), rel=5e-3)
    assert bank.time_constant == pytest.approx(47.0, rel=1e-3)
    assert bank.can_hurt


def test_tolerances_at_their_slow_end() -> None:
    """20 % more capacitance and 5 % more resistance."""
    (bank,) = banks(LINK)
    slow, usual = bank.slowest[1], bank.seconds[1]
    assert slow is not None
    assert usual is not None
    assert slow / usual == pytest.approx(1.2 * 1.05, rel=0.01)


def test_one_of_the_bleeders_open() -> None:
    """In a row nothing bleeds any more, side by side the other one does."""
    row = LINK.replace("R1 resistor BUS RTN 100k 5%", "R1 resistor BUS M 47k\nR2 resistor M RTN 47k")
    (bank,) = banks(row)
    assert {f.part: f.ohms for f in bank.failing} == {"R1": math.inf, "R2": math.inf}
    assert all(t is None for f in bank.failing for t in f.seconds)
    (bank,) = banks(LINK + "R2 resistor BUS RTN 100k 5%\n")
    assert bank.time_constant == pytest.approx(23.5, rel=1e-3)
    for failing in bank.failing:
        assert failing.seconds[1] == pytest.approx(97.7, rel=5e-3)


def test_no_bleeder_at_all() -> None:
    (bank,) = banks("C1 capacitor BUS RTN 470u 450V electrolytic\n")
    assert bank.why == "rating"
    assert bank.volts == 450.0
    assert bank.bleeders == ()
    assert bank.seconds == (None, None, None)


@pytest.mark.published
def test_peak_of_the_mains() -> None:
    """230 V rms 325.27 V, 120 V 169.71 V, 400 V 565.69 V; an X capacitor on the mains may hold all of it."""
    for rms, peak in ((230, 325.27), (120, 169.71), (400, 565.69)):
        text = f"C1 capacitor L N 1u 275V film\nR1 resistor L N 1M\nmains L N {rms}V\n"
        (bank,) = banks(text)
        assert bank.volts == pytest.approx(peak, abs=0.05)


@pytest.mark.published
def test_x_capacitor_at_the_plug() -> None:
    """34 V at the pins after one second (IEC 60335-1 cl. 22.5): 1 µF needs R below 1/ln(325/34) MΩ."""
    good = banks("C1 capacitor L N 1u 275V film\nR1 resistor L N 390k\nmains L N 230V\n")[0].seconds[2]
    bad = banks("C1 capacitor L N 1u 275V film\nR1 resistor L N 680k\nmains L N 230V\n")[0].seconds[2]
    assert good is not None
    assert bad is not None
    assert good == pytest.approx(0.39 * math.log(325.27 / 34.0), rel=5e-3)
    assert good < 1.0 < bad


def test_behind_a_bridge_the_peak_less_two_junctions() -> None:
    text = ("BR1 bridge AC1=L AC2=N +=BUS -=RTN\nC1 capacitor BUS RTN 100u 450V electrolytic\n"
            "R1 resistor BUS RTN 220k\nmains L N 230V\n")
    (bank,) = banks(text)
    assert 1.0 < 325.27 - bank.volts + 0.0 + 0.2 < 1.8
    assert bank.why == "mains"


@pytest.mark.parametrize("volts", [2000, 25000, 100000])
@pytest.mark.parametrize("bleeder", ["R1 resistor P B 100M", "R1 resistor P B 1G", ""])
def test_kilovolts(volts: int, bleeder: str) -> None:
    """The last bit of two kilovolts behind 0.2 Ω is a picoampere: no reason to have no answer."""
    for feed in (f"supply P B {volts}V", f"mains A B {volts / math.sqrt(2.0)}V\nD1 diode A=A K=P"):
        (bank,) = banks(f"{feed}\nC1 capacitor P B 1u {volts}V film\n{bleeder}\n")
        assert bank.joules == pytest.approx(0.5e-6 * volts**2, rel=0.01)


def test_in_series_and_small_ones() -> None:
    """Each half of a split link is a bank; a picofarad is none."""
    text = ("C1 capacitor P M 330u 400V electrolytic\nC2 capacitor M N 330u 400V electrolytic\n"
            "C3 capacitor P N 100p ceramic\nR1 resistor P M 100k\nR2 resistor M N 100k\nsupply P N 600V\n")
    found = stored(parse_board(text, "x.board"))
    assert [b.refs for b in found.banks] == [("C1",), ("C2",)]
    assert [b.volts for b in found.banks] == pytest.approx([300.0, 300.0], rel=1e-3)
    ((upper, lower),) = found.stacks
    assert upper.volts + lower.volts == pytest.approx(600.0, rel=1e-3)


@pytest.mark.published
def test_a_kilohm_is_no_small_matter() -> None:
    """470 µF at 400 V through 1 k: 0.977 s to 50 V with 160 W at the start (computed)."""
    assert 400.0**2 / 1e3 == 160.0
    found = discharger(470e-6, 400.0)
    assert found.peak_watts == pytest.approx(400.0**2 / found.ohms)
    assert found.peak_watts <= 50.0
    assert found.joules == pytest.approx(37.6, abs=0.01)
    assert found.seconds == pytest.approx(found.ohms * 470e-6 * math.log(400.0 / 34.0))
    assert found.watts * OVERLOAD >= found.peak_watts
    assert found.watts * JOULES_PER_WATT >= found.joules


@pytest.mark.parametrize("farads", [1e-6, 1e-4, 1e-2])
@pytest.mark.parametrize("volts", [40.0, 325.0, 800.0])
def test_resistors_one_can_buy(farads: float, volts: float) -> None:
    found = discharger(farads, volts)
    mantissa = found.ohms / 10.0 ** math.floor(math.log10(found.ohms) + 1e-9)
    assert any(mantissa == pytest.approx(step) for step in E12)
    assert found.seconds <= 75.0


@pytest.mark.published
def test_shock_threshold() -> None:
    """100 V and 10 J: Berkeley Lab electrical safety manual."""
    assert can_hurt(100.0, 10.0)
    assert not can_hurt(99.0, 1000.0)
    assert not can_hurt(1000.0, 9.0)


def test_every_limit_names_its_standard() -> None:
    assert [limit.volts for limit in LIMITS] == [60.0, 50.0, 34.0]
    assert all(word in " ".join(limit.source for limit in LIMITS) for word in ("60204-1", "460.6", "60335-1"))


def run(*args: str) -> str:
    found = CliRunner().invoke(cli, list(args))
    assert found.exit_code == 0, found.output
    return found.stdout


def test_the_command_says_energy_time_resistor_and_cautions() -> None:
    text = run("discharge", str(BOARDS / "pump-drive/boost-stage.board"))
    for words in ("C9, C10, C11", "71.5 J", "CAN KILL", "R11, R12, R13 open", "wirewound", "verify on volts",
                  "1910.333", "DOE-HDBK-1092", "Local electrical codes"):
        assert words in text
    assert all(len(line) <= 100 for line in text.splitlines())


def test_what_holds_nothing_dangerous_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "small.board"
    path.write_text("C1 capacitor V RTN 10u 35V electrolytic\nC2 capacitor BUS RTN 470u 450V electrolytic\n")
    text = run("discharge", str(path))
    assert "C1, V to RTN: 10.0 µF, 35 V (its rating, the worst it may hold), 6.12 mJ; with" in text
    assert text.count("Discharge with") == 1
    assert "in at once" not in text


def test_json_has_what_the_text_has() -> None:
    answer = json.loads(run("discharge", str(BOARDS / "battery-charger/battery-charger.board"), "--json"))
    assert answer["schema"] == 1
    assert {tuple(b["parts"]) for b in answer["banks"]} >= {("C1",), ("C2",)}
    first = answer["banks"][0]
    assert first["joules"] == pytest.approx(0.5 * first["farads"] * first["volts"] ** 2)
    assert first["time_constant"] == pytest.approx(first["farads"] * first["bleed_ohms"])
    assert len(answer["cautions"]) == len(CAUTIONS)
    (stack,) = answer["stacks"]
    assert stack["volts"] == pytest.approx(565.69 - 2 * 0.55, abs=1.5)


def test_other_mains() -> None:
    board = read_board(str(BOARDS / "pump-drive/mains-input.board"))
    assert stored(board, rms=120.0).banks[0].volts < 170.0 < stored(board).banks[0].volts


@pytest.mark.parametrize("path", sorted(BOARDS.rglob("*.board")), ids=lambda p: p.stem)
def test_every_shipped_board_is_answered(path: Path) -> None:
    """An isolated side has no voltage against the other that rounding could blow up."""
    found = stored(read_board(path))
    rated = max((p.rating or 0.0 for p in found.board.parts), default=0.0)
    assert all(bank.volts <= max(rated, 400.0) for bank in found.banks)


BEHIND_A_BRIDGE = """mains L N 230V
C1 capacitor L N 470n 275V film
R1 resistor L N 1M 5%
BR1 bridge AC1=L AC2=N +=P -=M rectifier
C2 capacitor P M 47u 450V electrolytic
R2 resistor P M 220k 5%
"""


@pytest.mark.usefixtures("ngspice")
@pytest.mark.parametrize(("ref", "open_part"), [("C1", ""), ("C2", ""), ("C1", "R1")])
def test_banks_that_empty_together_by_ngspice(ref: str, open_part: str) -> None:
    """Two banks with a bridge between them, its junctions in reverse: what stands off only by leakage."""
    found = {b.refs[0]: b for b in banks(BEHIND_A_BRIDGE)}
    bank = found[ref]
    told = bank.seconds if not open_part else next(f.seconds for f in bank.failing if f.part == open_part)
    text = "\n".join(line for line in BEHIND_A_BRIDGE.splitlines() if not open_part
                     or not line.startswith(open_part))
    elements = [replace(e, volts=(1.0 if (e.a, e.b) == (found[e.part].plus, found[e.part].minus) else -1.0)
                        * found[e.part].volts) if isinstance(e, Capacitance) else e
                for e in build(parse_board(text, "x.board")).elements]
    longest = max(t for t in told if t is not None)
    times = np.linspace(0.0, 1.2 * longest, 4000)[1:]
    none = Source(0.0, 1e6, 1.0)
    volts = transient(elements, bank.plus, bank.minus, none, 0.0, 1, times)
    for limit, seconds in zip(LIMITS, told, strict=True):
        assert seconds == pytest.approx(float(times[np.argmax(volts <= limit.volts)]), rel=0.02)
