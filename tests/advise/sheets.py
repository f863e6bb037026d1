"""Every fault a worksheet lists, on a drawn board read by ngspice: `python -m tests.advise.sheets [name …]`.

Names are those of `tests.compare.circuits` or board files; default: all shipped boards. Printed is every
fault that none of the sheet's readings shows, and how many of how many were found.
"""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from dataclasses import replace

from incircuit.advise.costs import load_costs
from incircuit.advise.worksheet import Worksheet, worksheet
from incircuit.board import Board, read_board
from incircuit.board.state import HEALTHY
from incircuit.circuit.build import build
from incircuit.errors import EngineError
from incircuit.meter.profile import load_meter
from incircuit.meter.typed import parse_shown
from tests.advise.follow import hidden
from tests.compare.circuits import SHIPPED
from tests.compare.circuits import board as circuit_named
from tests.judge.bench import Bench, bench, read

METER, COSTS = load_meter("handheld"), load_costs()


def off(sheet: Worksheet, on: Bench, rng: random.Random, enough: int = 0) -> list[int]:
    """Numbers of the steps whose reading lies outside the band; with `enough` no more than so many."""
    found: list[int] = []
    for n, step in enumerate(sheet.steps):
        p = step.probe
        shown = parse_shown(read(on, HEALTHY, frozenset(), p.red, p.black, p.mode, rng), p.mode).value
        value = float("inf") if shown is None else shown
        if not step.low <= value <= step.high:
            found.append(n)
            if len(found) == enough:
                break
    return found


def listed(sheet: Worksheet) -> list[tuple[str, str]]:
    """All faults its steps are said to show."""
    return sorted({f for s in sheet.steps for h in s.hints for f in h.faults})


def missed(board: Board, sheet: Worksheet, faults: list[tuple[str, str]],
           rng: random.Random) -> Iterator[tuple[str, bool]]:
    """(fault, whether no step shows it), a drawn board for each; without those that ngspice cannot solve."""
    for part, fault in faults:
        on = bench(board, METER, [hidden(board, f"{part} {fault}")], rng)
        steps = [n for n, s in enumerate(sheet.steps) for h in s.hints if (part, fault) in h.faults]
        order = [*dict.fromkeys(steps), *(n for n in range(len(sheet.steps)) if n not in steps)]
        try:
            yield f"{part} {fault}", not off(_first(sheet, order), on, rng, enough=1)
        except EngineError:
            continue


def _first(sheet: Worksheet, order: list[int]) -> Worksheet:
    """The same list in another order: those that should show a fault first."""
    return replace(sheet, steps=tuple(sheet.steps[n] for n in order))


def main(names: list[str]) -> None:
    """Print what is missed, sheet by sheet."""
    for name in names:
        board = read_board(name) if name.endswith(".board") else circuit_named(name)
        sheet = worksheet(build(board), METER, COSTS)
        found = []
        for fault, lost in missed(board, sheet, listed(sheet), random.Random(name)):
            found.append(lost)
            if lost:
                print(f"  {name}: {fault} missed", flush=True)
        print(f"{name}: {len(sheet.steps)} readings, gap {sheet.gap}, {sheet.shown} listed, "
              f"{len(found)} read, {sum(found)} missed", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:] or list(SHIPPED))
