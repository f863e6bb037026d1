"""Sound boards whose junctions are other makers' than the data file's, read by ngspice.

One law for all diodes of a class would tie ohms to the diode test far too closely. The sets are of public
netlists, from memory: what their authors fitted at amperes differs at microamperes by decades.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import permutations

import pytest

from incircuit.board import Board, parse_board
from incircuit.circuit.build import build
from incircuit.circuit.spice import operating_point
from incircuit.judge.judge import judge
from incircuit.meter.profile import Source, load_meter
from incircuit.parts.elements import Coupling, Element, Junction
from incircuit.story import parse_story
from tests.compare.bench import Driven
from tests.judge.bench import _shown

pytestmark = pytest.mark.usefixtures("ngspice")
METER = load_meter("handheld")

RESONANT = """
BR1 bridge AC1=L AC2=N +=BUS -=RTN
Q1 igbt G=G C=COL E=RTN
L1 inductor BUS COL 90u dcr=60m
R1 resistor G RTN 10k
R2 resistor G DRV 10R
Q2 npn B=IN C=V18 E=DRV
Q3 pnp B=IN C=RTN E=DRV
R3 resistor IN V18 2k2
D1 diode A=SEN K=V5 signal
R4 resistor COL SEN 660k
R5 resistor SEN RTN 6k8
U1 chip VDD=V5 GND=RTN A=SEN supply=VDD ground=GND
"""
BUCK = """
Q1 pmos G=G D=SW S=VIN power
R1 resistor G VIN 10k
Z1 zener A=G K=VIN 12V
R2 resistor G C2 470R
Q2 npn B=B C=C2 E=GND
R3 resistor B PWM 2k2
R4 resistor B GND 10k
D1 diode A=GND K=SW schottky
L1 inductor SW OUT 47u dcr=0.1
R5 resistor OUT GND 22k
D2 diode A=OUT K=VIN rectifier
"""
SETS = {  # saturation current [A], emission coefficient, series resistance [ohm]
    "rectifier": ((7.0e-9, 1.81, 0.034), (3.7e-9, 1.77, 0.02), (7.7e-11, 1.45, 0.04)),
    "signal": ((2.5e-9, 1.75, 0.57), (4.4e-9, 1.91, 0.65)),
    "schottky": ((3e-7, 1.03, 0.05), (1e-6, 1.05, 0.04)),
    "bridge": ((3e-8, 1.85, 0.01), (1.5e-8, 1.8, 0.01)),
    "pmos": ((1e-11, 1.1, 0.01), (3e-12, 1.05, 0.01)),
    "igbt": ((5e-9, 1.5, 0.02), (2e-8, 1.6, 0.02)),
    "chip": ((1e-13, 1.1, 10.0), (1e-12, 1.2, 30.0)),
    "zener": ((3e-12, 1.2, 0.5), (2e-12, 1.15, 1.0)),
}


def other_makers(board: Board, rng: random.Random) -> list[Element]:
    """The board's elements with junctions of other sets: one set for a package, one type for a transistor."""
    made: list[Element] = list(build(board).elements)
    for part in board.parts:
        own = [k for k, e in enumerate(made) if e.part == part.ref]
        if part.kind in ("npn", "pnp"):
            is_, bf = rng.choice((6e-15, 1e-14, 2e-14)), rng.uniform(120.0, 300.0)
            br = 10.0 ** rng.uniform(-0.6, 0.6)
            for k in own:
                e = made[k]
                gain = bf if e.name.endswith(("forward", "B-E")) else br
                if isinstance(e, Junction):
                    made[k] = replace(e, is_=is_ / gain)
                elif isinstance(e, Coupling):
                    made[k] = replace(e, gain=gain)
            continue
        word = next((w for w in part.words if w in SETS), part.kind if part.kind in SETS else "rectifier")
        is_, n, rs = rng.choice(SETS[word])
        for k in own:
            e = made[k]
            if isinstance(e, Junction):
                made[k] = replace(e, is_=is_, n=n, rs=rs)
    return made


def shown(elements: list[Element], red: str, black: str, mode: str) -> str:
    """What a meter without an error shows."""
    def terminal(source: Source) -> tuple[float, float]:
        driven = Driven(source.current, source.open_circuit, source.resistance, METER.lead_resistance, 1)
        point = operating_point(elements, red, black, driven)
        return point.terminal_voltage, point.source_current

    return _shown(METER, mode, terminal, 0.0)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("text", [RESONANT, BUCK], ids=["resonant", "buck"])
def test_a_sound_board_of_other_makers_is_called_no_names(text: str, seed: int) -> None:
    board = parse_board(text, "x.board")
    elements = other_makers(board, random.Random(f"makers {seed}"))
    asked = dict.fromkeys((a, b, mode) for part in board.parts
                          for a, b in permutations(sorted({net for _, net in part.pins}), 2)
                          for mode in ("diode", "ohms"))
    lines = [f"{a} {b} {mode} {shown(elements, a, b, mode)}" for a, b, mode in asked]
    found = judge(board, parse_story("\n".join(lines) + "\n", board=board))
    assert found.ruling.word in ("healthy", "undecided")
    assert not [p.part for p in found.ruling.parts if p.word == "failed"]
    best = next(e for e in found.explanations if not e.faults)
    assert best.fits
    assert math.isfinite(best.fit.log_likelihood)
