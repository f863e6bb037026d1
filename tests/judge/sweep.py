"""The large run: ``python -m tests.judge.sweep [stories per circuit] [seed] [even|priors] [circuit …]``.

Circuits by name, or `small`, `more`, `shipped`.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter, defaultdict

from incircuit.judge.judge import Judgement, judge
from incircuit.judge.words import explanation_words
from incircuit.meter.profile import load_meter
from incircuit.story import parse_story
from tests.judge.consistent import contradictions
from tests.judge.neighbourhoods import board, named
from tests.judge.score import Calibration, level, same_faults, table, visible
from tests.judge.stories import Trial, trials

WRONG = {"missed", "condemned", "cleared", "unlisted"}


def run(names: list[str], count: int, seed: int, even: bool = True,
        loud: bool = False, listed: Calibration | None = None) -> tuple[dict[str, Counter[str]], Calibration]:
    """Counts of levels per circuit, per hidden word and in all; calibration of the odds of parts, and in
    `listed` that of the explanations."""
    meter = load_meter("handheld")
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    odds = Calibration()
    for name in names:
        rng = random.Random(f"{name} {seed} stories")
        for trial in trials(name, board(name), meter, count, rng, even):
            start = time.perf_counter()
            found = judge(trial.board, parse_story(trial.text, board=trial.board))
            spent = time.perf_counter() - start
            how = level(trial, found)
            assert not contradictions(found), (str(trial), contradictions(found), trial.text)
            for key in _rows(trial, found):
                counts[key].update([*how, "all"])
                counts[key]["milliseconds"] += round(1000.0 * spent)
            guilty = {f.part for f in trial.faults}
            for p in found.ruling.parts:
                odds.add(p.probability, p.part in guilty)
            for e in found.explanations:
                if listed is not None and e.fits:
                    listed.add(e.probability, same_faults(e, trial))
            if loud and how & WRONG:
                print(f"{' '.join(sorted(how))}: {trial}: {told(found)}\n{trial.text}", flush=True)
    return dict(counts), odds


def _rows(trial: Trial, found: Judgement) -> list[str]:
    words = sorted({f.word for f in trial.faults})
    kind = f"hidden {words[0]}" if len(trial.faults) == 1 else "hidden pair" if words else "hidden nothing"
    shown = "in" if not visible(trial, found) else "out of"
    single = ["single fault that shows"] if len(trial.faults) == 1 and visible(trial, found) else []
    return [trial.name, kind, *single, f"{shown} healthy band, {'fault' if words else 'none'}", "all"]


def told(found: Judgement) -> str:
    """What was said instead."""
    best = "; ".join(f"{explanation_words(e)} {e.probability:.3f}" for e in found.explanations[:4]
                     if e.fits)
    if not best:
        best = "; ".join(f"{explanation_words(e)} {[round(m, 1) for m in e.fit.misses]}"
                         for e in found.explanations[:3])
    failed = [p.part for p in found.ruling.parts if p.word == "failed"]
    healthy = [p.part for p in found.ruling.parts if p.word == "healthy"]
    return f"{found.ruling.word} failed {failed} healthy {healthy}: {best}"


if __name__ == "__main__":
    amount = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    start_ = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    alike = (sys.argv[3] if len(sys.argv) > 3 else "even") == "even"
    wanted = named(sys.argv[4:])
    explained = Calibration()
    found_, calibration = run(wanted, amount, start_, alike, loud=True, listed=explained)
    print(table(found_.items()))
    print("odds of parts", calibration.table(), "odds of explanations", explained.table(), sep="\n")
    print(f"{found_['all']['milliseconds'] / found_['all']['all']:.0f} ms a story")
