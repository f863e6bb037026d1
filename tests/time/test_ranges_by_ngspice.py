"""Displays of an autoranging ohmmeter while it charges, range by range, against ngspice with the switch
turned by hand."""

from __future__ import annotations

import math

import pytest

from incircuit.board import make_state, parse_board
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from incircuit.predict.course import course_of
from incircuit.predict.measure import Ask
from incircuit.predict.question import ask_about
from tests.time.displays import motion, sound, watch

pytestmark = pytest.mark.usefixtures("ngspice")
METER = load_meter("handheld")
UPDATES = 18
CIRCUITS = {
    "bled link": "C1 capacitor A G 470u 400V electrolytic\nR1 resistor A G 150k\n",
    "hunting": "C1 capacitor A G 10u\nR1 resistor A G 22k\n",
    "behind a resistor": "C1 capacitor A M 1u film\nR1 resistor M G 10k\nR2 resistor A G 100k\n",
    "beside a junction": "C1 capacitor A G 47u\nR1 resistor A G 4k7\nD1 diode A=A K=G signal\n",
}


@pytest.mark.parametrize("name", CIRCUITS)
@pytest.mark.parametrize("mode", ["ohms", "diode"])
def test_every_display_on_the_way(name: str, mode: str) -> None:
    """The same ranges at the same updates; 3 % of the display and a few ohms, for one that has just been
    switched hangs on microseconds."""
    board = parse_board(CIRCUITS[name], "x.board")
    seen = course_of(ask_about(board, make_state(board), "A", "G"), METER, Ask(mode))
    there = watch(build(board).elements, "A", "G", METER, mode, METER.lead_resistance, UPDATES)
    shown = list(zip(seen.times, seen.values, seen.ranges, strict=True))[:UPDATES]
    for k, (_, value, at) in enumerate(shown):
        if shown[k][0] * METER.updates_per_second > k + 0.5:
            break  # thinned out from here on
        assert at == there.ranges[k], (k, value, there.values[k])
        here = math.inf if value is None else value
        assert here == pytest.approx(there.values[k], rel=0.03, abs=5.0 if mode == "ohms" else 0.01), k


def test_words_for_what_a_display_does() -> None:
    link = build(parse_board(CIRCUITS["bled link"], "x.board")).elements
    assert motion(watch(link, "A", "G", METER, "diode", 0.2, 6), 6) == "climbs"
    small = build(parse_board("C1 capacitor A G 1u film\n", "x.board")).elements
    assert motion(watch(small, "A", "G", METER, "diode", 0.2, 6), 6) == ""
    assert sound(watch(link, "A", "G", METER, "continuity", 0.2, 6).beep) == "chirp"
