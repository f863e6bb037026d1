"""A technician who follows the advice, or another order, on a bench with a hidden fault read by ngspice."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from incircuit.advise.costs import load_costs
from incircuit.advise.following import advise, reached
from incircuit.advise.outcomes import Probe, default_modes
from incircuit.advise.pairs import pairs_of
from incircuit.advise.suspects import state_now, suspects_of
from incircuit.advise.worksheet import seconds, worksheet
from incircuit.board import Board
from incircuit.circuit.build import build
from incircuit.judge.judge import judge
from incircuit.parts import defects_of
from incircuit.story import Story, story_of_text
from tests.judge.bench import Bench, Hidden
from tests.time.thorough import line

MOST = 14
"""Readings after which a technician gives up."""
COSTS = load_costs()


@dataclass(frozen=True)
class Way:
    """How it went: seconds spent, readings, leads lifted, and the parts condemned (None: no verdict)."""

    seconds: float
    readings: int
    lifts: int
    condemned: frozenset[str] | None


def hidden(board: Board, text: str) -> Hidden:
    """A fault by its name, such as ``Q1 short C-E``, at its typical size."""
    ref, _, fault = text.partition(" ")
    part = board.part(ref)
    defect = next(d for d in defects_of(part, build(board).of_part(ref)) if d.name == fault)
    return Hidden(ref, defect, defect.magnitude.typical if defect.magnitude else None)


def follow_advice(on: Bench, rng: random.Random) -> Way:
    """What `next` says first, until it says stop."""
    lines, spent, lifts = [f"meter {on.meter.name}"], 0.0, 0
    for count in range(MOST + 1):
        told = advise(on.board, _story(lines, on.board), on.meter, COSTS)
        if told.stop:
            return Way(spent, count, lifts, told.replace)
        if told.lift:
            lines += told.lift.statements
            lifts += 1
            spent += told.lift.seconds
            probe = told.lift.probe
        elif told.acts:
            spent += told.acts[0].seconds
            probe = told.acts[0].probe
        else:
            break
        lines.append(_taken(on, lines, probe, rng))
    return Way(spent, MOST, lifts, None)


def follow_order(on: Bench, order: Sequence[Probe], rng: random.Random) -> Way:
    """A fixed order of readings, until the verdict stands."""
    lines, spent, before = [f"meter {on.meter.name}"], 0.0, None
    for count, probe in enumerate(order[:MOST], start=1):
        spent += seconds(COSTS, before, probe)
        before = probe
        lines.append(_taken(on, lines, probe, rng))
        story = _story(lines, on.board)
        judged = judge(on.board, story)
        circuit = build(on.board, state_now(on.board, story))
        verdict = reached(judged, suspects_of(circuit, judged))
        if verdict is not None:
            return Way(spent, count, 0, verdict.replace)
    return Way(spent, min(len(order), MOST), 0, None)


def worksheet_order(on: Bench) -> list[Probe]:
    """The readings of the worksheet, then all others as they come."""
    first = [s.probe for s in worksheet(build(on.board), on.meter, COSTS).steps]
    return first + [p for p in every_probe(on) if p not in first]


def random_order(on: Bench, rng: random.Random) -> list[Probe]:
    """All readings in any order."""
    return rng.sample(every_probe(on), len(every_probe(on)))


def every_probe(on: Bench) -> list[Probe]:
    """Every reading that `next` chooses from on a small board."""
    return [Probe(*pair[::way], mode) for pair in pairs_of(build(on.board))
            for mode in default_modes(on.meter) for way in (1, -1)]


def _story(lines: Sequence[str], board: Board) -> Story:
    return story_of_text("\n".join(lines) + "\n", "bench.readings", board)


def _taken(on: Bench, lines: Sequence[str], probe: Probe, rng: random.Random) -> str:
    story = _story(lines, on.board)
    red, black = (pad.replace(" ", ".") for pad in (probe.red, probe.black))
    return line(on, (red, black, probe.mode), rng, state_now(on.board, story))
