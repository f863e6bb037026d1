"""Following the advice against the best possible plan, the worksheet and chance, read by ngspice.

`python -m tests.advise.measure [circuit …]`: one bench for every fault of every circuit.

A lift is needless where the best plan tells the fault in place (see `best`). Costs are compared on those
benches: only there do all four ways end with the same verdict.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from incircuit.errors import EngineError
from incircuit.meter.profile import load_meter
from tests.advise.best import Plan, plan_for
from tests.advise.follow import COSTS, Way, follow_advice, follow_order, hidden, random_order, worksheet_order
from tests.compare.circuits import board
from tests.judge.bench import bench

CIRCUITS = ("led", "divider", "clamp", "switch-transistor", "gate-drive", "half-bridge", "relay")
METER = load_meter("handheld")


@dataclass(frozen=True)
class Row:
    """One bench: how following the advice went, seconds of the best plan and whether it tells the fault in
    place, and how two fixed orders went."""

    circuit: str
    part: str
    fault: str
    advice: Way
    best: float
    in_place: bool
    worksheet: Way | None = None
    chance: Way | None = None

    @property
    def right(self) -> bool:
        """Whether the advice ends with the faulty part as the only one to replace."""
        return self.advice.condemned == {self.part}

    @property
    def needless(self) -> bool:
        """Whether a lead was lifted although readings in place tell."""
        return self.in_place and self.advice.lifts > 0


def rows_of(circuit: str, faults: Sequence[tuple[str, str]] = (), orders: bool = True) -> Iterator[Row]:
    """A bench for each fault of a circuit (default: all)."""
    on_board = board(circuit)
    plan = plan_for(on_board, METER, COSTS)
    for part, fault in faults or [s.faults[0] for s in plan.suspects if s.faults]:
        try:
            yield _row(circuit, plan, part, fault, orders)
        except EngineError:
            continue  # ngspice finds no operating point there


def _row(circuit: str, plan: Plan, part: str, fault: str, orders: bool) -> Row:
    seed = f"{circuit} {part} {fault}"
    on = bench(board(circuit), METER, [hidden(board(circuit), f"{part} {fault}")], random.Random(seed))
    advice = follow_advice(on, random.Random(1))
    best, told = plan.for_fault(part, fault), plan.tells(part, fault)
    if not orders or not told:
        return Row(circuit, part, fault, advice, best, told)
    fixed, drawn = worksheet_order(on), random_order(on, random.Random(seed))
    return Row(circuit, part, fault, advice, best, told, follow_order(on, fixed, random.Random(1)),
               follow_order(on, drawn, random.Random(1)))


def table(rows: Sequence[Row]) -> str:
    """Seconds to the verdict, fault by fault, and what they come to."""
    lines = [f"{'seconds to the verdict':34}{'best plan':>10}{'next':>6}{'worksheet':>11}{'random':>8}"]
    told = [r for r in rows if r.in_place]
    for r in told:
        others = [f"{w.seconds:.0f}" if w and w.condemned == {r.part} else "-"
                  for w in (r.worksheet, r.chance)]
        note = "" if r.right else "  not condemned" if not r.advice.condemned else "  wrong part"
        lines.append(f"{r.circuit + ': ' + r.part + ' ' + r.fault:34}{r.best:10.0f}{r.advice.seconds:6.0f}"
                     f"{others[0]:>11}{others[1]:>8}{note}")
    return "\n".join([*lines, *_summary(rows, told)])


def _summary(rows: Sequence[Row], told: Sequence[Row]) -> Iterator[str]:
    both = [r for r in told if r.worksheet and r.chance]
    if told:
        yield (f"next against the best plan: {ratio(told):.2f} times over {len(told)} benches, "
               f"right on {sum(r.right for r in told)}")
    for name, ways in (("worksheet", [r.worksheet for r in both]), ("random", [r.chance for r in both])):
        best = sum(r.best for r in both) or 1.0
        yield f"{name} against the best plan: {sum(w.seconds for w in ways if w) / best:.2f} times"
    yield f"needless lifts: {sum(r.needless for r in rows)} of {len(rows)} benches"


def ratio(rows: Sequence[Row]) -> float:
    """Seconds of following the advice over those of the best plan, all benches together."""
    return sum(r.advice.seconds for r in rows) / sum(r.best for r in rows)


if __name__ == "__main__":
    found = [row for name in sys.argv[1:] or CIRCUITS for row in rows_of(name)]
    print(table(found))
