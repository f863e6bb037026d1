"""Faulty capacitors hidden on drawn boards, read with ngspice in the modes for capacitors, and judged.

The large run: ``python -m tests.time.hidden [stories per circuit] [seed]``.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from incircuit.board import Board, make_state, parse_board
from incircuit.circuit.build import build
from incircuit.judge.judge import judge
from incircuit.judge.words import explanation_words
from incircuit.meter.display import range_half_width
from incircuit.meter.profile import Meter, Range, load_meter
from incircuit.parts import defects_of
from incircuit.parts.elements import Capacitance, Element
from incircuit.paths.blocks import meters_block
from incircuit.story import parse_story
from tests.compare.circuits import board
from tests.judge.bench import Bench, Hidden, _drawn, _faulty, bench
from tests.judge.score import level
from tests.judge.stories import Trial
from tests.time.spice import impedance, transient

SMALL = {
    "link": """
C1 capacitor BUS RTN 330u 400V electrolytic
R1 resistor BUS RTN 150k 5%
C2 capacitor BUS RTN 100n film
""",
    "output-filter": """
D1 dual-diode A1=SW A2=SW K=A common-cathode schottky
C1 capacitor A G 1000u 25V electrolytic
L1 inductor A B 4u7 power dcr=20m
C2 capacitor B G 470u 25V electrolytic
R1 resistor B G 1k 5%
""",
    "timing": """
R1 resistor V T 100k 1%
C1 capacitor T G 1u 25V film
R2 resistor V G 4k7 5%
C2 capacitor V G 47u 25V electrolytic
""",
}
SHIPPED = ("pump-drive/auxiliary-supply",)


def circuit(name: str) -> Board:
    """A circuit by name."""
    return parse_board(f'board "{name}"\n{SMALL[name]}', name) if name in SMALL else board(name)


def _with_capacitors(elements: Sequence[Element], seed: str) -> list[Element]:
    """Every part somewhere within its limits, capacitances and their series resistance too."""
    def off(spread_own: float, spread_shared: float, group: str, key: str) -> float:
        def uniform(k: str) -> float:
            return random.Random(f"{seed} {k}").uniform(-1.0, 1.0)

        own = spread_own * uniform(key)
        return own + (spread_shared * uniform(f"group {group}") if spread_shared else 0.0)

    found: list[Element] = []
    for e in _drawn(elements, seed, frozenset()):
        if isinstance(e, Capacitance):
            c, r = e.spread, e.esr_spread
            e = replace(e, farads=e.farads * (1.0 + off(c.own, c.shared, c.group, e.name.split(" (")[0])),
                        esr=e.esr * (1.0 + off(r.own, r.shared, r.group, f"{e.name.split(' (')[0]} esr")))
        found.append(e)
    return found


def read(on: Bench, red: str, black: str, mode: str, rng: random.Random) -> str:
    """What the display shows, as it is typed."""
    state = make_state(on.board)
    whole = _with_capacitors(_faulty(on, state, frozenset()), on.seed)
    elements = meters_block(whole, red, black, moving=True)
    scales: tuple[Range, ...] = getattr(on.meter, mode).ranges
    if not elements:
        return "OL" if mode == "esr" else "0n"
    error = rng.uniform(-1.0, 1.0)
    if mode == "esr":
        assert on.meter.esr is not None
        exact = abs(impedance(elements, red, black, on.meter.esr.hertz, on.celsius))
        return _shown(scales, error, lambda _: exact, "")
    return _shown(scales, error, lambda scale: timed(on.meter, elements, red, black, scale, on.celsius),
                  "F")


def timed(meter: Meter, elements: Sequence[Element], red: str, black: str, scale: Range,
          celsius: float = 25.0) -> float:
    """Capacitance on one range by ngspice's transient."""
    mode = meter.farads
    assert mode is not None
    last = mode.patience(scale)  # what charges at once is timed as finely as what takes its time
    times = np.unique(np.concatenate([np.geomspace(1e-7, last, 500), np.linspace(0.0, last, 500)[1:]]))
    pad = transient(elements, red, black, scale.source, 0.2, 1, times, celsius)
    if pad[-1] < mode.high:
        return np.inf
    began, ended = (float(np.interp(v, np.maximum.accumulate(pad), times)) for v in (mode.low, mode.high))
    return scale.source.current * (ended - began) / (mode.high - mode.low)


def _shown(scales: Sequence[Range], error: float, exact: object, unit: str) -> str:
    assert callable(exact)
    for scale in scales:
        value = float(exact(scale))
        if not np.isfinite(value):
            continue
        steps = round((value + error * range_half_width(scale, value)) / scale.resolution)
        if steps * scale.resolution <= scale.full_scale * (1.0 + 1e-9):
            return f"{max(steps, 0) * scale.resolution:.6g}{unit}"
    return "OL"


def trials(name: str, count: int, rng: random.Random, meter: Meter) -> list[Trial]:
    """Stories: farads and esr on the suspect and on its neighbours, in a third of them on sound boards."""
    on_board = circuit(name)
    suspects = [p for p in on_board.parts if p.kind == "capacitor" and (p.value or 0.0) >= 1e-7]
    stage = build(on_board)
    made = []
    for _ in range(count):
        part = rng.choice(suspects)
        defects = [d for d in defects_of(part, stage.of_part(part.ref)) if d.word in
                   ("open", "short", "drifted", "dried", "high-esr", "missing", "wrong-value")]
        defect = rng.choice(defects)
        size = None
        if defect.magnitude is not None:
            nodes = defect.magnitude.nodes(200)
            size = rng.choices([v for v, _ in nodes], [w for _, w in nodes])[0]
        faults = () if rng.random() < 0.25 else (Hidden(part.ref, defect, size),)
        bad = bench(on_board, meter, faults, rng)
        others = [p for p in suspects if p.ref != part.ref]
        asked = [part, *rng.sample(others, min(1, len(others)))]
        plan = [(*(net for _, net in p.pins), mode) for p in asked for mode in ("farads", "esr")]
        later = rng.random()
        text, sound = (f"meter {meter.name}\n" + "".join(
            f"{a} {b} {mode} {read(which, a, b, mode, rolls)}\n" for a, b, mode in plan)
            for which in (bad, replace(bad, faults=())) for rolls in [random.Random(later)])
        made.append(Trial(name, on_board, faults, text, sound))
    return made


def run(names: Sequence[str], count: int, seed: int, loud: bool = False) -> dict[str, Counter[str]]:
    """Counts of levels (see `tests.judge.score`) per circuit and in all."""
    meter = load_meter("handheld")
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for name in names:
        for trial in trials(name, count, random.Random(f"{name} {seed} capacitors"), meter):
            start = time.perf_counter()
            found = judge(trial.board, parse_story(trial.text, board=trial.board))
            spent = time.perf_counter() - start
            how = level(trial, found)
            keys = [name, "all", *(["single fault that shows"] if trial.faults and trial.shows and any(
                not line.in_band for line in found.lines) else [])]
            for key in keys:
                counts[key].update([*how, "all"])
            if loud:
                best = "; ".join(explanation_words(e) for e in found.explanations[:3] if e.fits)
                said = f"{' '.join(sorted(how))} {spent:.1f} s: {trial}: {found.ruling.word}: {best}"
                print(f"{said}\n{trial.text}", flush=True)
    return dict(counts)


if __name__ == "__main__":
    from tests.judge.score import table

    amount = int(sys.argv[1]) if len(sys.argv) > 1 else 10
    print(table(run([*SMALL, *SHIPPED], amount, int(sys.argv[2]) if len(sys.argv) > 2 else 1, True).items()))
