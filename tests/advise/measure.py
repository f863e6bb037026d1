"""Following the advice against the best possible plan, the worksheet and chance, read by ngspice.

`python -m tests.advise.measure [alone] [circuit|board file …]`: one bench for every fault of every circuit,
fault by fault on standard error as they are done. `alone`: without the other orders, which take the longest.

A lift is needless where the best plan tells the fault in place (see `best`). Costs are compared on those
benches: only there do all four ways end with the same verdict.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from incircuit.board import Board, read_board
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
    on_board = _named(circuit)
    plan = plan_for(on_board, METER, COSTS)
    for part, fault in faults or [s.faults[0] for s in plan.suspects if s.faults]:
        try:
            yield _row(circuit, on_board, plan, part, fault, orders)
        except EngineError:
            continue  # ngspice finds no operating point there


def _named(circuit: str) -> Board:
    return read_board(circuit) if circuit.endswith(".board") else board(circuit)


def _row(circuit: str, on_board: Board, plan: Plan, part: str, fault: str, orders: bool) -> Row:
    seed = f"{circuit} {part} {fault}"
    on = bench(on_board, METER, [hidden(on_board, f"{part} {fault}")], random.Random(seed))
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


def _told(row: Row) -> Row:
    way = row.advice
    ended = "no verdict" if way.condemned is None else " ".join(sorted(way.condemned)) or "healthy"
    print(f"{row.circuit}: {row.part} {row.fault}: {way.seconds:.0f} s, {way.readings} readings, "
          f"{way.lifts} lifts: {ended}; best {row.best:.0f} s{'' if row.in_place else ', not told in place'}",
          file=sys.stderr, flush=True)
    return row


if __name__ == "__main__":
    words = sys.argv[1:]
    fixed = "alone" not in words
    for name in [w for w in words if w != "alone"] or CIRCUITS:
        print(table([_told(row) for row in rows_of(name, orders=fixed)]), flush=True)
