"""How often what is stated at 90 % is so.

``python -m tests.judge.calibrate [stories per circuit] [seed] [even|priors] [circuit …]``: stories of
`tests.judge.stories`, read by ngspice, judged after every reading as `record` does: in the middle of a story
odds are neither nothing nor all. In a story each part counts once in a bin, when it first comes there; so
does each explanation.
"""

from __future__ import annotations

import random
import sys
from itertools import pairwise

from incircuit.judge.judge import Judgement, judge_again
from incircuit.judge.memory import Memory
from incircuit.meter.profile import load_meter
from incircuit.story import parse_story
from tests.judge.neighbourhoods import board, named
from tests.judge.score import BINS, Calibration, same_faults
from tests.judge.stories import Trial, trials


def run(names: list[str], count: int, seed: int, even: bool) -> tuple[Calibration, Calibration]:
    """Odds of parts and of explanations, after every reading."""
    parts, explained = Calibration(), Calibration()
    meter = load_meter("handheld")
    for name in names:
        rng = random.Random(f"{name} {seed} calibrate")
        for trial in trials(name, board(name), meter, count, rng, even):
            _one(trial, parts, explained)
    return parts, explained


def _one(trial: Trial, parts: Calibration, explained: Calibration) -> None:
    memory, lines = Memory(), trial.text.splitlines()
    counted: set[tuple[object, ...]] = set()
    for end in range(2, len(lines) + 1):
        text = "\n".join(lines[:end]) + "\n"
        found, memory = judge_again(trial.board, parse_story(text, board=trial.board), memory)
        _count(trial, found, parts, explained, counted)


def _count(trial: Trial, found: Judgement, parts: Calibration, explained: Calibration,
           counted: set[tuple[object, ...]]) -> None:
    guilty = {f.part for f in trial.faults}
    said: list[tuple[tuple[str | tuple[str, str], ...], float, bool, Calibration]]
    said = [(("part", p.part), p.probability, p.part in guilty, parts) for p in found.ruling.parts]
    said += [(("all", *((f.cause.who, f.cause.fault) for f in e.faults), *map(str, e.slips)), e.probability,
              same_faults(e, trial), explained) for e in found.explanations if e.fits]
    for who, probability, so, odds in said:
        bin_ = next((low for low, high in pairwise(BINS) if low <= probability < high), 0.0)
        key = (who, bin_)
        if key not in counted:
            counted.add(key)
            odds.add(probability, so)


if __name__ == "__main__":
    stories = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    start = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    of_parts, of_all = run(named(sys.argv[4:] or ["small", "more"]), stories, start,
                           (sys.argv[3:4] or ["even"])[0] == "even")
    print("odds of parts", of_parts.table(), "odds of explanations", of_all.table(), sep="\n")
