"""Farads and esr as the next reading: in place where they tell, after a lead is lifted where they do not.

Readings are those of ngspice on drawn boards.
"""

from __future__ import annotations

import random
from dataclasses import replace

from incircuit.advise.charging import charging_outcomes
from incircuit.advise.costs import load_costs
from incircuit.advise.following import Advice, advise
from incircuit.advise.suspects import Suspect, change_on
from incircuit.board import Board, parse_board
from incircuit.circuit.build import build
from incircuit.meter.profile import Meter, load_meter
from incircuit.parts.elements import Change
from incircuit.story import story_of_text
from tests.advise.follow import follow_advice, hidden
from tests.judge.bench import bench
from tests.time.decided import exact

METER = load_meter("handheld")
BOARD = parse_board("""board "a link behind a diode"
C1 capacitor BUS RTN 330u 400V electrolytic
C2 capacitor BUS RTN 100n film
R1 resistor BUS RTN 150k 5%
D1 diode A=SW K=BUS fast
C3 capacitor SW RTN 47u 50V electrolytic
R2 resistor SW RTN 10k 5%
""")
TWO = parse_board("""board "two side by side"
C1 capacitor BUS RTN 330u 400V electrolytic
C2 capacitor BUS RTN 330u 400V electrolytic
R1 resistor BUS RTN 150k 5%
""")
READ = "BUS RTN ohms 149k\nSW BUS diode 0.45\nSW RTN ohms 10.0k\n"
FAULTS = ("", "C1 open", "C1 dried", "C1 leaky", "C3 open", "C3 dried", "C3 high-esr")


def _advice(board: Board, story: str, meter: Meter = METER) -> Advice:
    return advise(board, story_of_text(story, "bench.readings", board), meter, load_costs())


def test_what_no_settled_reading_tells_is_read_in_farads() -> None:
    told = _advice(BOARD, READ)
    first = told.acts[0]
    assert (first.probe.mode, set(first.probe.pair)) == ("farads", {"BUS", "RTN"})
    gone = next(o for o in first.outcomes if o.high < 1e-6)  # the film capacitor alone
    assert {name for k in gone.conditions for name in told.suspects[k].faults} == {
        ("C1", "open"), ("C1", "missing")}


def test_a_meter_without_farads_and_esr_is_not_asked_for_them() -> None:
    told = _advice(BOARD, READ, replace(METER, farads=None, esr=None))
    assert not {act.probe.mode for act in told.acts} & {"farads", "esr"}


def test_side_by_side_one_lead_is_lifted_and_farads_are_read() -> None:
    told = _advice(TWO, "BUS RTN ohms 149k\nBUS RTN farads 335u\nRTN BUS farads 336u\nBUS RTN esr 0.12\n")
    assert told.lift is not None
    assert (len(told.lift.leads), told.lift.probe.mode) == (1, "farads")
    assert told.lift.leads[0][0] in ("C1", "C2")


def test_following_it_ends_with_the_right_one_of_two() -> None:
    on = bench(TWO, METER, [hidden(TWO, "C2 open")], random.Random(4))
    way = follow_advice(on, random.Random(1))
    assert way.condemned == {"C2"}
    assert way.lifts == 1


def test_limits_hold_what_drawn_boards_read() -> None:
    """20 boards of every condition, read by ngspice: 97 of 100 of them inside."""
    circuit = build(BOARD)
    changes = [_change(text) for text in FAULTS[1:]]
    told = charging_outcomes(circuit, changes, [1.0] * len(changes), METER)
    assert {p.mode for p in told.probes} == {"farads", "esr"}
    inside, rng = [], random.Random(3)
    for k, text in enumerate(FAULTS):
        for _ in range(20):
            on = bench(BOARD, METER, [hidden(BOARD, text)] if text else [], rng)
            for n, probe in enumerate(told.probes):
                value = exact(on, (probe.red, probe.black, probe.mode))
                low, high = told.span(n, k)
                inside.append(low <= value <= high)
    assert sum(inside) >= 0.97 * len(inside)


def _change(text: str) -> Change:
    ref, _, fault = text.partition(" ")
    size = hidden(BOARD, text).size
    found = change_on(build(BOARD), Suspect(((ref, fault),), frozenset({ref}), 1.0, Change(), (size,)))
    assert found is not None
    return found
