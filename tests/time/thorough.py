"""Every capacitor fault, and all readings about it in every mode, by ngspice, judged:
``python -m tests.time.thorough [share] [seed] [circuit …]``.

For each fault (or a `share` of them) one board drawn at random. Farads, esr, ohms and diode test across the
capacitor and across what lies beside it, and displays not left to settle. Prints every verdict that is not
right.
"""

from __future__ import annotations

import math
import random
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace

from incircuit.board import Board
from incircuit.board.model import Part
from incircuit.board.state import HEALTHY, State
from incircuit.errors import EngineError
from incircuit.judge.judge import judge
from incircuit.meter.display import range_half_width
from incircuit.meter.profile import Range, load_meter
from incircuit.parts.elements import Capacitance
from incircuit.paths.blocks import meters_block
from incircuit.story import parse_story
from tests.judge.bench import Bench, Hidden, _typed, bench
from tests.judge.bench import read as read_at_rest
from tests.judge.score import Calibration, level, table, visible
from tests.judge.stories import Asked, Trial, every_fault, sized
from tests.judge.sweep import told
from tests.time.decided import CONTACT, Table, elements_of, exact_on, rivals
from tests.time.displays import motion, scales_of, sound, watch
from tests.time.hidden import SHIPPED, SMALL, circuit

LEAST = 9e-9
"""Smaller capacitors are not asked about [F]: most meters are blind to them in place."""
MOST = 14
UPDATES = 16
Counts = dict[str, Counter[str]]

NEW = {
    "link-bank": """
C1 capacitor BUS MID 470u 250V electrolytic
C2 capacitor MID RTN 470u 250V electrolytic
C3 capacitor BUS MID 470u 250V electrolytic
C4 capacitor MID RTN 470u 250V electrolytic
R1 resistor BUS MID 100k 5%
R2 resistor MID RTN 100k 5%
R3 resistor BUS RTN 220k 5%
C5 capacitor BUS RTN 1u 630V film
D1 diode A=RTN K=BUS fast
alike C1 C2 C3 C4
""",
    "output": """
T1 transformer P1=BUS P2=SW S1=SEC S2=GND dcr.P=1.5 dcr.S=0.02
D1 diode A=SEC K=OUT schottky
R1 resistor SEC SN 22R 5%
C1 capacitor SN OUT 2n2 ceramic
C2 capacitor OUT GND 1000u 25V electrolytic
C3 capacitor OUT GND 1000u 25V electrolytic
C4 capacitor OUT GND 100n ceramic
R2 resistor OUT GND 470R 5%
R3 resistor BUS RTN 470k 5%
C5 capacitor BUS RTN 47u 400V electrolytic
alike C2 C3
""",
    "x-capacitor": """
F1 fuse L LF 4A
C1 capacitor LF N 470n 275V film
R1 resistor LF XM 330k 5%
R2 resistor XM N 330k 5%
RT1 thermistor LF LN 10R ntc 20%
BR1 bridge AC1=LN AC2=N +=BUS -=RTN
C2 capacitor BUS RTN 150u 400V electrolytic
C3 capacitor BUS RTN 100n 630V film
R3 resistor BUS RTN 150k 5%
C4 capacitor N RTN 10n ceramic
""",
}
SMALL |= NEW


def plan_of(board: Board, part: Part, rng: random.Random) -> list[Asked]:
    """The capacitor in every mode, what lies beside it in some."""
    hidden = {net.name for net in board.nets if net.hidden}
    a, b = (net for _, net in part.pins)
    near = [p for p in board.parts if p.ref != part.ref and len(p.pins) == 2
            and {n for _, n in p.pins} & {a, b} and {n for _, n in p.pins} != {a, b}]
    near.sort(key=lambda p: p.kind != "capacitor")
    places = [(a, b), *((p.pins[0][1], p.pins[1][1]) for p in near[:3])]
    found: list[Asked] = []
    for k, (x, y) in enumerate(places):
        if {x, y} & hidden:
            continue
        found += [(x, y, "farads"), (x, y, "esr")] if k < 3 else []
        found += [(y, x, "farads"), (y, x, "esr")] if k == 0 else []  # one number alone may be a wrong pad's
        found += [(x, y, "diode"), (y, x, "diode"), (x, y, "ohms")] if k == 0 else [(x, y, "ohms")]
    timed = [(x, y, mode) for x, y in (places[0], places[0][::-1]) for mode in (
        "ohms first", "ohms after", "diode first", "diode moves", "ohms moves", "continuity")]
    if {a, b} & hidden:
        return [*dict.fromkeys(found)][:MOST]
    again = [(a, b, "farads"), (a, b, "esr"), (b, a, "ohms")]  # a number that surprises is read again
    return [*dict.fromkeys(found)][:MOST] + again + rng.sample(timed, 2)


def line(on: Bench, asked: Asked, rng: random.Random, state: State = HEALTHY) -> str:
    """One reading as it is typed, in a state of the board."""
    red, black, mode = asked
    if mode in ("diode", "ohms"):
        return f"{red} {black} {mode} {read_at_rest(on, state, frozenset(), *asked, rng)}"
    if mode in ("farads", "esr"):
        scales, error = getattr(on.meter, mode).ranges, rng.uniform(-1.0, 1.0)
        contact = rng.uniform(0.0, CONTACT) if mode == "esr" else 0.0
        at = 0
        while at < len(scales):
            value, at = exact_on(on, asked, at, state)
            if math.isinf(value):
                break
            value, scale = value + contact, scales[at]
            steps = round((value + error * range_half_width(scale, value)) / scale.resolution)
            if steps * scale.resolution <= scale.full_scale * (1.0 + 1e-9):
                return f"{red} {black} {mode} {_written(max(steps, 0), scale, mode)}"
            at += 1
        return f"{red} {black} {mode} OL"
    return _moving(on, red, black, mode, rng)


def _written(steps: int, scale: Range, mode: str) -> str:
    """With all its zeros, as the display has them."""
    sizes = ((1e-3, "m"), (1e-6, "u"), (1e-9, "n"))
    unit, letter = (1.0, "") if mode == "esr" else next(s for s in sizes if scale.full_scale >= 3.9 * s[0])
    places = max(0, round(-math.log10(scale.resolution / unit)))
    return f"{steps * scale.resolution / unit:.{places}f}{letter}"


def _moving(on: Bench, red: str, black: str, asked: str, rng: random.Random) -> str:
    mode, _, how = asked.partition(" ")
    error = on.errors[mode]
    elements = list(meters_block(elements_of(on), red, black, moving=True))
    if not any(isinstance(e, Capacitance) for e in elements):
        return line(on, (red, black, mode if mode != "continuity" else "ohms"), rng)
    shown = watch(elements, red, black, on.meter, mode, on.leads, UPDATES, on.celsius)
    if mode == "continuity":
        word = sound(shown.beep)
        return f"{red} {black} continuity {word}" if word else line(on, (red, black, "ohms"), rng)
    word = motion(shown, UPDATES) if how == "moves" else ""
    if word:
        return f"{red} {black} {mode} {word}"
    at = rng.randrange(0, 3) if how != "after" else 15
    when = "first" if how != "after" else "after 5s"
    value, scale = shown.values[at], scales_of(on.meter, mode)[shown.ranges[at]]
    if math.isinf(value):
        return f"{red} {black} {mode} OL {when}"
    steps = round((value + error * range_half_width(scale, abs(value))) / scale.resolution)
    if steps * scale.resolution > scale.full_scale:
        return f"{red} {black} {mode} OL {when}"
    size = steps * scale.resolution
    text = f"{size:.3f}" if mode == "diode" else _typed(max(size, 0.0), scale)
    return f"{red} {black} {mode} {text} {when}"


def faults_of(board: Board) -> list[Hidden]:
    """Every fault of every capacitor that is not tiny."""
    return [f for f in every_fault(board) if board.part(f.part).kind == "capacitor"
            and (board.part(f.part).value or 0.0) >= LEAST]


def run(names: Sequence[str], share: float, seed: int, odds: Calibration, loud: bool = False) -> Counts:
    """Counts of levels by circuit, by fault, of the faults that show and of those readings decide."""
    meter, counts = load_meter("handheld"), defaultdict[str, Counter[str]](Counter)
    for name in names:
        on, rng = circuit(name), random.Random(f"{name} {seed} capacitors, all readings")
        known = Table(on, meter)
        for fault in faults_of(on):
            if rng.random() < share:
                _one(name, known, sized(fault, rng), rng, counts, odds, loud)
        _one(name, known, None, rng, counts, odds, loud)
    return dict(counts)


def _one(name: str, known: Table, fault: Hidden | None, rng: random.Random, counts: Counts, odds: Calibration,
         loud: bool) -> None:
    on, meter = known.board, known.meter
    part = on.part(fault.part) if fault else rng.choice([on.part(f.part) for f in faults_of(on)])
    made, later = bench(on, meter, (fault,) if fault else (), rng), rng.random()
    plan = plan_of(on, part, rng)
    try:
        text, sound_ = ("\n".join([f"meter {meter.name}", *(line(b, a, rolls) for a in plan)]) + "\n"
                        for b in (made, replace(made, faults=())) for rolls in [random.Random(later)])
    except EngineError:
        counts["lost"].update(["all"])
        return
    if len(text.splitlines()) != len(sound_.splitlines()):
        return
    trial = Trial(name, on, (fault,) if fault else (), text, sound_)
    start = time.process_time()
    found = judge(on, parse_story(text, board=on))
    spent = time.process_time() - start
    how, shows = level(trial, found), bool(fault) and visible(trial, found)
    others = ([] if how & {"right"} else rivals(known, made, [a for a in plan if " " not in a[2]
              and a[2] != "continuity"])) if shows else []
    sure = shows and not others
    rows = [name, f"hidden {fault.word if fault else 'nothing'}", "all",
            *(["shows in place"] if shows else []), *(["readings decide"] if sure else [])]
    for row in rows:
        counts[row].update([*how, "all"])
        counts[row]["milliseconds"] += round(1000.0 * spent)
    for p in found.ruling.parts:
        odds.add(p.probability, bool(fault) and p.part == fault.part if fault else False)
    if loud and how - {"right", "as healthy"}:
        said = "decided by readings" if sure else f"not decided: {', '.join(others[:6])}"
        print(f"{' '.join(sorted(how))} ({said}) {spent:.1f} s: {trial}: {told(found)}", flush=True)
        for one, there in zip(found.lines, sound_.splitlines()[1:], strict=True):
            mark = "  " if one.in_band else "* "
            print(f"    {mark}{one.moment.reading.line}  (sound {' '.join(there.split()[3:])})", flush=True)


if __name__ == "__main__":
    part_ = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    start_ = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    odds_ = Calibration()
    found_ = run(sys.argv[3:] or [*SMALL, *SHIPPED], part_, start_, odds_, loud=True)
    print(table(found_.items()))
    print(odds_.table())
    print(f"{found_['all']['milliseconds'] / max(1, found_['all']['all']):.0f} ms a story")
