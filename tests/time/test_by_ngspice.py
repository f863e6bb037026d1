"""Courses and series resistances against ngspice, on every shipped board with capacitors."""

from __future__ import annotations

import numpy as np
import pytest

from incircuit.board import make_state, read_board
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Capacitance
from incircuit.predict.charging import read_timed
from incircuit.predict.course import courses_of
from incircuit.predict.measure import Ask, direction, ranges_of
from incircuit.predict.question import Question, ask_about
from incircuit.predict.reach import moving_block
from tests.compare.circuits import BOARDS
from tests.time.spice import impedance, transient

pytestmark = pytest.mark.usefixtures("ngspice")
METER = load_meter("handheld")
ALLOWED = 0.005
"""Of the display's range: hardly to be seen, and no more than the meter's own accuracy."""
FILES = sorted(p for p in BOARDS.glob("*/*.board") if p.stem != "pump-drive")


def places(path: str) -> list[Question]:
    """Up to four places where a capacitor lies between two pads, the largest ones first."""
    board = read_board(path)
    hidden = {n.name for n in board.nets if n.hidden}
    found: dict[frozenset[str], float] = {}
    for part in board.parts:
        nets = [net for _, net in part.pins]
        if part.kind == "capacitor" and not hidden & set(nets):
            found[frozenset(nets)] = found.get(frozenset(nets), 0.0) + (part.value or 0.0)
    pairs = sorted(found, key=lambda pair: (-found[pair], sorted(pair)))[:4]
    return [ask_about(board, make_state(board), *sorted(pair)) for pair in pairs]


@pytest.mark.parametrize("path", FILES, ids=[p.stem for p in FILES])
def test_a_diode_test_moves_as_ngspice_says(path: str) -> None:
    assert METER.diode is not None
    for question in places(str(path)):
        ask = Ask("diode")
        course = courses_of(question, METER, [ask])[ask]
        both = zip(course.times, course.values, strict=True)
        seen = [(t, v) for t, v in both if v is not None and 0.0 < t <= 30.0]
        if not seen:
            continue
        times = np.array([t for t, _ in seen])
        pad = transient(moving_block(question), question.red_node, question.black_node, METER.diode.source,
                        METER.lead_resistance, direction(METER, ask), times)
        terminal = pad + METER.diode.source.current * METER.lead_resistance
        off = np.abs(terminal - [v for _, v in seen]).max()
        allowed = ALLOWED * METER.diode.overload + METER.diode.resolution
        assert off <= allowed, (question.red, question.black, off)


@pytest.mark.parametrize("path", FILES[:3] + FILES[4:6], ids=[p.stem for p in FILES[:3] + FILES[4:6]])
def test_ohms_on_one_range_move_as_ngspice_says(path: str) -> None:
    """The stretch from the first touch to the first change of range, whose source is one."""
    for question in places(str(path))[:2]:
        ask = Ask("ohms")
        course = courses_of(question, METER, [ask])[ask]
        scale, stretch = ranges_of(METER, "ohms")[0], []
        for t, v, at in zip(course.times, course.values, course.ranges, strict=True):
            if at or v is None or t > 20.0:
                break
            stretch += [(t, v)] if t else []
        if not stretch:
            continue
        times = np.array([t for t, _ in stretch])
        pad = transient(moving_block(question), question.red_node, question.black_node, scale.source,
                        METER.lead_resistance, 1, times)
        ohms = pad / scale.source.current + METER.lead_resistance
        off = np.abs(ohms - [v for _, v in stretch]).max()
        assert off <= ALLOWED * scale.full_scale + scale.resolution, (question.red, question.black, off)


@pytest.mark.parametrize("path", FILES, ids=[p.stem for p in FILES])
def test_the_impedance_of_every_capacitor_in_place(path: str) -> None:
    """Both linearise the same elements at rest: 0.01 % is what the resting points may differ."""
    assert METER.esr is not None
    for question in places(str(path)):
        pads = (question.red_node, question.black_node)
        here = read_timed(question.circuit, (), *pads, METER, [Ask("esr")], 0)[0, 0, 0]
        there = abs(impedance(moving_block(question), *pads, METER.esr.hertz))
        if np.isinf(here):
            assert there > METER.esr.ranges[-1].full_scale
        else:
            assert here == pytest.approx(there, rel=1e-4, abs=1e-6)


def test_every_board_with_capacitors_has_a_place() -> None:
    for path in FILES:
        board = read_board(str(path))
        if any(p.kind == "capacitor" for p in board.parts):
            assert any(isinstance(e, Capacitance) for q in places(str(path)) for e in moving_block(q)), path
