"""Two hidden faults at once: ``python -m tests.judge.pairs [boards per circuit] [seed] [circuit …]``.

Every reading about both parts, up to 60, read by ngspice. Prints what was not told and the table; `decided`:
by ngspice no single fault, nor another one beside either of the two, reads alike. A fault that would not show
beside the other cannot be named; then its part must not be cleared.
"""

from __future__ import annotations

import random
import sys
from collections import Counter, defaultdict
from dataclasses import replace

from incircuit.board import Board
from incircuit.judge.judge import Judgement, judge
from incircuit.meter.profile import Meter, load_meter
from incircuit.story import parse_story
from tests.judge.bench import Bench, Hidden, bench
from tests.judge.consistent import contradictions
from tests.judge.decided import Table, both_decided, table_of
from tests.judge.neighbourhoods import board, named
from tests.judge.score import level
from tests.judge.stories import Asked, Trial, all_about, every_fault, sized, taken_alike
from tests.judge.sweep import told

MOST = 60
SAID = ("both", "group", "among", "one, other open", "one, other cleared", "other", "of")
Counts = dict[str, Counter[str]]


def run(names: list[str], count: int, seed: int, loud: bool = False) -> Counts:
    """What was said of two hidden faults, by circuit, in all, and of those that readings decide."""
    meter = load_meter("handheld")
    counts: Counts = defaultdict(Counter)
    for name in names:
        on, rng = board(name), random.Random(f"{name} {seed} pairs")
        known = table_of(on, meter)
        for _ in range(count):
            _one(name, on, meter, rng, known, counts, loud)
    return dict(counts)


def _two(on: Board, rng: random.Random) -> tuple[Hidden, Hidden]:
    first, second = rng.sample(sorted({f.part for f in every_fault(on)}), 2)
    return tuple(sized(rng.choice([f for f in every_fault(on) if f.part == ref]), rng)  # type: ignore[return-value]
                 for ref in (first, second))


def _one(name: str, on: Board, meter: Meter, rng: random.Random, known: Table, counts: Counts,
         loud: bool) -> None:
    faults = _two(on, rng)
    plan = list(dict.fromkeys(a for f in faults for a in all_about(on, f.part, MOST // 2)))
    made, later = bench(on, meter, faults, rng), rng.random()
    head = [f"meter {meter.name}"]
    benches = (made, replace(made, faults=()), *(replace(made, faults=(f,)) for f in faults))
    every = taken_alike(benches, head, plan, later)
    both, *less = ("\n".join([*head, *lines]) + "\n" for lines in every)
    plan = [tuple(line.split()[:3]) for line in every[0]]  # type: ignore[misc]
    if not all(Trial(name, on, faults, both, other).shows for other in less):
        return  # one of them does not show beside the other
    found = judge(on, parse_story(both, board=on))
    assert not contradictions(found), (faults, contradictions(found), both)
    said = _said(Trial(name, on, faults, both, less[0]), found)
    sure = said == "both" or _sure(known, made, plan)
    for row in (name, "all", *(["decided"] if sure else [])):
        counts[row].update([said, "of"])
    if loud and said != "both":
        print(f"{said}{' (decided)' if sure else ''}: {name} {' + '.join(map(str, faults))}: {told(found)}",
              flush=True)


def _sure(known: Table, made: Bench, plan: list[Asked]) -> bool:
    return both_decided(known, made, plan)


def _said(trial: Trial, found: Judgement) -> str:
    how = level(trial, found)
    if how & {"right", "group", "undecided"}:
        return "both" if "right" in how else "group" if "group" in how else "among"
    parts = {p.part: p.word for p in found.ruling.parts}
    named_ = {f.cause.part for f in found.ruling.lead.faults} if found.ruling.lead else set()
    hidden = {f.part for f in trial.faults}
    if len(named_ & hidden) == 1 and len(named_) == 1:
        (other,) = hidden - named_
        return "one, other cleared" if parts[other] == "healthy" else "one, other open"
    return "other"


def table(counts: Counts) -> str:
    """One line a row."""
    lines = [f"{'':28}" + "".join(f"{word:>20}" for word in SAID)]
    lines += [f"{row:28}" + "".join(f"{c[word]:20}" for word in SAID) for row, c in counts.items()]
    return "\n".join(lines)


if __name__ == "__main__":
    found_ = run(named(sys.argv[3:]), int(sys.argv[1]) if len(sys.argv) > 1 else 10,
                 int(sys.argv[2]) if len(sys.argv) > 2 else 1, loud=True)
    print(table(found_))
