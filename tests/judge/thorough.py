"""Every fault, and all readings about it: ``python -m tests.judge.thorough [share] [seed] [circuit …]``.

For each fault (or a `share` of them) one board, and every reading between the nets of the part and of the
parts beside it, up to 60. Prints every verdict that is not right, with the readings off, and the table.
`readings decide`: by ngspice no other fault reads alike (`tests.judge.decided`).
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter, defaultdict
from dataclasses import replace

from incircuit.board import Board
from incircuit.judge.judge import judge
from incircuit.meter.profile import Meter, load_meter
from incircuit.story import parse_story
from tests.judge.bench import Hidden, bench
from tests.judge.consistent import contradictions
from tests.judge.decided import Table, decided, table_of
from tests.judge.neighbourhoods import board, named
from tests.judge.score import Calibration, level, table, visible
from tests.judge.stories import Trial, all_about, every_fault, sized, taken_alike
from tests.judge.sweep import told

MOST = 60
Counts = dict[str, Counter[str]]


def run(names: list[str], share: float, seed: int, odds: Calibration, loud: bool = False) -> Counts:
    """Counts of levels by circuit, by fault, of the single faults that show and of those readings decide."""
    meter = load_meter("handheld")
    counts: Counts = defaultdict(Counter)
    for name in names:
        on, rng = board(name), random.Random(f"{name} {seed} thorough")
        known = table_of(on, meter)
        for fault in every_fault(on):
            if rng.random() < share:
                _one(name, on, meter, sized(fault, rng), rng, known, counts, odds, loud)
    return dict(counts)


def _one(name: str, on: Board, meter: Meter, fault: Hidden, rng: random.Random, known: Table, counts: Counts,
         odds: Calibration, loud: bool) -> None:
    plan = all_about(on, fault.part, MOST)
    made, later = bench(on, meter, (fault,), rng), rng.random()
    head = [f"meter {meter.name}"]
    both = taken_alike((made, replace(made, faults=())), head, plan, later)
    counts["readings ngspice did not find"]["all"] += len(plan) - len(both[0])
    text, sound = ("\n".join([*head, *lines]) + "\n" for lines in both)
    plan = [tuple(line.split()[:3]) for line in both[0]]  # type: ignore[misc]
    trial = Trial(name, on, (fault,), text, sound)
    start = time.perf_counter()
    found = judge(on, parse_story(text, board=on))
    how = level(trial, found)
    assert not contradictions(found), (str(trial), contradictions(found), text)
    shows = visible(trial, found)
    # readings that are right anyway need not be asked whether they decide
    sure = shows and (bool(how & {"right"}) or decided(known, made, plan))
    rows = [name, f"hidden {fault.word}", "all", *(["shows in place"] if shows else []),
            *(["readings decide"] if sure else [])]
    for row in rows:
        counts[row].update([*how, "all"])
        counts[row]["milliseconds"] += round(1000.0 * (time.perf_counter() - start))
    for p in found.ruling.parts:
        odds.add(p.probability, p.part == fault.part)
    if loud:
        print(f"{trial}: {' '.join(sorted(how))}", file=sys.stderr, flush=True)
    if loud and how - {"right", "group", "as healthy"}:
        said = "decided by readings" if sure else "not decided"
        print(f"{' '.join(sorted(how))} ({said}): {trial}: {told(found)}", flush=True)
        for line, there in zip(found.lines, sound.splitlines()[1:], strict=True):
            if not line.in_band:
                print(f"    {line.moment.reading.line}  (sound {there.split()[-1]})", flush=True)


if __name__ == "__main__":
    part_ = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    start_ = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    odds_ = Calibration()
    found_ = run(named(sys.argv[3:]), part_, start_, odds_, loud=True)
    print(table(found_.items()))
    print(odds_.table())
    print(f"{found_['all']['milliseconds'] / found_['all']['all']:.0f} ms a story")
