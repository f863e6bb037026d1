"""Ohms of a junction jump from one range of the meter to the next: which one it stood on is an event."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from incircuit.board import read_board
from incircuit.judge.evidence import on_its_range
from incircuit.judge.memory import Notes
from incircuit.judge.observed import Observed
from incircuit.judge.scenes import scenes_of
from incircuit.story import moments, parse_story
from tests.judge.neighbourhoods import board
from tests.judge.told import METER, verdict

MAINS = Path(__file__).parents[2] / "boards" / "pump-drive" / "mains-input.board"
LEGS = """
RTN U diode 0.388
U RTN diode OL
RTN U ohms 3.885k
RTN V diode 0.389
RTN V ohms 3.886k
RTN W diode 0.389
RTN W ohms 3.885k
U BUS diode 0.424
BUS U ohms 300.4k
RTN BUS diode 0.810
BUS RTN ohms 199.9k
"""


def test_a_sound_board_is_not_improbable_because_others_stand_on_another_range() -> None:
    """Three diodes side by side, read by ngspice; a few drawn boards fit below 400 ohm and read a tenth."""
    found = verdict(board("three-legs"), LEGS)
    assert found.ruling.word != "failed"
    assert next(e for e in found.explanations if not e.faults).probability > 0.1


def test_zeros_left_out_do_not_condemn_a_sound_board() -> None:
    """People type 318k for 318.0k: that fits the range below, so it does not tell which one was read."""
    read = """
    L N ohms 0.44M
    N L ohms 0.441M
    LR L ohms 10.3
    RECT- RECT ohms 318k
    L RECT diode 0.506
    RECT- L diode 0.507
    N RECT diode 0.508
    RECT- PE ohms OL
    """
    found = verdict(read_board(str(MAINS)), read)
    assert found.ruling.word == "healthy"


def observed(line: str) -> Observed:
    on = board("three-legs")
    taken = moments(parse_story(line + "\n", board=on), on)[0]
    (scene,) = scenes_of(on, taken, lambda _: METER, Notes().page(("board", on)))
    return scene.readings[0].observed


def test_the_range_begins_where_the_one_below_ends() -> None:
    assert observed("RTN U ohms 3.885k").start == 400.0
    assert observed("RTN U ohms 388.5").start == 0.0
    assert observed("RTN U ohms 35.9k").start == 40e3
    assert observed("RTN U ohms 35.9k").low
    assert not observed("RTN U ohms 3.885k").low
    assert observed("RTN U diode 0.388").start == 0.0


def seen(value: float) -> Observed:
    return Observed(value, "ohms of x", 10.0, 0.5, 4000.0, None, 400.0)


def test_boards_on_the_range_below_are_events_and_resistors_are_left() -> None:
    jumps = np.array([390.0, 3000.0, 3500.0, 395.0, 3900.0])
    straight = np.array([395.0, 390.0, 402.0, 410.0, 398.0])
    alone = np.array([3400.0, 3000.0, 3500.0, 3450.0, 3900.0]), straight
    rows = np.array([[390.0], [395.0]])
    nominal, drawn, standing = on_its_range(rows, np.stack([jumps, straight]), [seen(3885.0)] * 2,
                                            lambda i: alone[i])
    assert drawn[0].tolist() == alone[0].tolist()  # what all would read there
    assert nominal[0].tolist() == [3400.0]
    assert math.isclose(standing, math.log(0.6))  # two of five do not stand there
    assert drawn[1].tolist() == straight.tolist()


def test_a_range_may_read_less_than_where_it_begins() -> None:
    """A small current stays below what a junction leaks: 300 ohm where the range below shows none."""
    boards = np.array([[390.0, 300.0, 350.0, 395.0, 380.0]])
    alone = np.array([200.0, 300.0, 350.0, 210.0, 380.0])
    for short in (False, True):  # with a zero left out it may have stood on the range below
        _, drawn, standing = on_its_range(boards[:, :1], boards, [seen(310.0)], lambda _: alone, short)
        assert drawn[0].tolist() == (boards[0] if short else alone).tolist()
        assert math.isclose(standing, 0.0 if short else math.log(0.6))


def test_boards_of_which_the_range_shows_nothing_are_events() -> None:
    boards = np.array([[9000.0, *[3000.0, 3500.0, 3900.0] * 5, 12000.0]])
    _, drawn, _ = on_its_range(boards[:, :1], boards, [seen(3600.0)], lambda _: boards[0])
    assert drawn.tolist() == [[3500.0, *[3000.0, 3500.0, 3900.0] * 5, np.inf]]
    near = np.array([[3900.0, 4100.0, 3800.0, 4000.0, 4200.0]])
    assert on_its_range(near[:, :1], near, [seen(3600.0)], lambda _: near[0])[1].tolist() == near.tolist()


def test_what_a_magnitude_moves_across_the_ranges_is_left() -> None:
    """Its rows stand now on one range, now on the other; drawn boards do both at each."""
    boards = np.array([[3200.0, 3000.0, 3500.0, 395.0, 3900.0]])
    rows = np.array([[200.0, 390.0, 3200.0]])
    nominal, drawn, _ = on_its_range(rows, boards, [seen(3885.0)], lambda _: boards[0])
    assert drawn.tolist() == boards.tolist()
    assert nominal.tolist() == [[200.0, 390.0, 3200.0]]


REVERSED = """
G RTN ohms 9.53k
G SW diode 0.508
SW G diode OL
G SW ohms 331.7k
RTN SW diode OL
RTN SW ohms 339.6k
RTN BUS diode OL
SW BUS diode 0.403
"""


def test_a_junction_at_the_end_of_its_spread_stands_on_a_range_where_few_boards_do() -> None:
    """Read by ngspice with Q1's gate and emitter swapped: of 64 drawn boards two stand on the range read."""
    found = verdict(board("dual-boost"), REVERSED)
    assert found.ruling.word == "failed"
    assert [f.cause.who for f in found.explanations[0].faults] == ["Q1"]
    assert not found.explanations[0].slips
