"""A story told on a board with given faults: the readings come from ngspice, the words from the test."""

from __future__ import annotations

import random

from incircuit.board import Board, parse_board
from incircuit.circuit.build import build
from incircuit.judge.judge import Judgement, judge
from incircuit.meter.profile import load_meter
from incircuit.parts import defects_of
from incircuit.story import moments, parse_story
from incircuit.story.model import ReadingEntry
from tests.judge.bench import Bench, Hidden, bench, read

METER = load_meter("handheld")


def fault(board: Board, text: str, size: float | None = None) -> Hidden:
    """A fault as typed: ``Q1 short C-E``, ``R7 open``, or ``bridge A B``."""
    ref, _, name = text.partition(" ")
    if ref in ("bridge", "path"):
        a, b = name.split()
        return Hidden("", None, 0.05 if size is None else size, (a, b))
    own = build(board).of_part(ref)
    defect = next(d for d in defects_of(board.part(ref), own) if d.name == name)
    typical = defect.magnitude.typical if defect.magnitude else None
    return Hidden(ref, defect, typical if size is None else size)


def on_bench(board: Board, faults: tuple[Hidden, ...] = (), seed: int = 1) -> Bench:
    """A drawn board with these faults."""
    return bench(board, METER, faults, random.Random(seed))


def told(on: Bench, text: str, seed: int = 1) -> str:
    """The story with a reading for every ``?``."""
    lines: list[str] = []
    rng = random.Random(f"{seed} readings")
    for line in text.strip().splitlines():
        if line.endswith(" ?"):
            probe = parse_story("\n".join([*lines, f"{line[:-1]}OL"]) + "\n", board=on.board)
            moment = moments(probe, on.board)[0][-1]
            assert isinstance(moment.reading, ReadingEntry)
            r = moment.reading
            line = line[:-1] + read(on, moment.state, moment.fitted, r.red, r.black, r.mode, rng)
        lines.append(line.strip())
    return "\n".join(lines) + "\n"


def verdict(board: Board | str, text: str) -> Judgement:
    """The judgement on a story as written."""
    on = parse_board(board, "x.board") if isinstance(board, str) else board
    return judge(on, parse_story(text, board=on))


def words(found: Judgement) -> dict[str, str]:
    """Part to verdict."""
    return {p.part: p.word for p in found.ruling.parts}
