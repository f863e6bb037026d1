"""The large run: ``python -m tests.compare.sweep [trials per circuit] [seed] [circuit …]``."""

from __future__ import annotations

import random
import sys
from collections import Counter, defaultdict

from incircuit.compare.compare import Comparison
from incircuit.meter.profile import load_meter
from tests.compare.circuits import SHIPPED, SMALL, board
from tests.compare.score import judged, level, table, trials


def run(names: list[str], count: int, seed: int, loud: bool = False) -> dict[str, Counter[str]]:
    """Counts of levels per circuit, per hidden word, per mode and in all."""
    meter = load_meter("handheld")
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for name in names:
        rng = random.Random(f"{name} {seed}")
        for trial in trials(name, board(name), meter, count, rng):
            found = judged(trial, meter)
            how = level(trial, found)
            word = trial.hidden.word if trial.hidden else "none"
            way = f"{trial.ask.mode}{' swapped' if trial.ask.swapped else ''}"
            shown = "in" if found.verdict.healthy_fits else "out of"
            band = f"{shown} healthy band, {'fault' if trial.hidden else 'none'}"
            for key in (name, f"hidden {word}", way, band, "all"):
                counts[key][how] += 1
            if loud and how in ("condemned", "cleared", "unlisted", "missed"):
                print(f"{how}: {trial}: {_told(found)}", flush=True)
    return dict(counts)


def _told(found: Comparison) -> str:
    """What was said instead."""
    v, band = found.verdict, found.prediction.band
    named = ", ".join(f"{c.part} {c.fault} {c.probability:.3f}" for c in v.candidates[:3])
    return (f"{v.word} {v.part} {v.fault}, healthy {band.low} to {band.high}: "
            f"{v.healthy_probability:.3f}, {named}")


if __name__ == "__main__":
    amount = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    start = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    wanted = sys.argv[3:] or [*SMALL, *SHIPPED]
    print(table(run(wanted, amount, start, loud=True).items()))
