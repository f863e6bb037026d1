"""Hide a fault, read it, compare, and say how right the verdict was."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from incircuit.board import HEALTHY, Board
from incircuit.circuit.build import apply, build
from incircuit.compare.compare import Comparison, compare
from incircuit.errors import EngineError
from incircuit.meter.profile import Meter
from incircuit.meter.typed import Typed
from incircuit.parts import change, defects_of
from incircuit.parts.defects import Defect
from incircuit.predict.measure import Ask
from incircuit.predict.question import Question, ask_about, pins_at
from tests.compare.bench import Read, drawn, read

WORDS = ("open", "short", "leaky", "drifted")
"""The faults that are hidden."""
MODES = (("diode", False), ("diode", True), ("ohms", False), ("ohms", True))
LEVELS = ("right", "group", "undecided", "same as healthy", "unseen", "condemned", "cleared", "unlisted",
          "missed")


@dataclass(frozen=True)
class Trial:
    """A reading on a board with a hidden fault (None: none)."""

    name: str
    question: Question
    ask: Ask
    hidden: Defect | None
    magnitude: float | None
    read: Read

    def __str__(self) -> str:
        fault = f"{self.hidden.part} {self.hidden.name} {self.magnitude or ''}" if self.hidden else "healthy"
        part = self.question.part.ref if self.question.part else "-"
        way = f"{self.ask.mode}{' swapped' if self.ask.swapped else ''}"
        return (f"{self.name} {self.question.red} {self.question.black} {way} part {part} hidden {fault} "
                f"reads {self.read.value}")


def trials(name: str, board: Board, meter: Meter, count: int, rng: random.Random) -> Iterator[Trial]:
    """`count` readings between random pads of a board: a fifth on healthy boards, the others with a fault."""
    nets = sorted({net for part in board.parts for _, net in part.pins}
                  - {net.name for net in board.nets if net.hidden})
    made = lost = 0
    while made < count:
        part = rng.choice([p for p in board.parts if len({net for _, net in p.pins}) > 1])
        ends = sorted({net for _, net in part.pins} & set(nets))
        red, black = rng.sample(ends if len(ends) > 1 and rng.random() < 0.8 else nets, 2)
        question = ask_about(board, HEALTHY, red, black)
        mode, swapped = rng.choice(MODES)
        fault = _fault(question, rng) if rng.random() < 0.8 else None
        elements = build(board).elements
        magnitude = None
        if fault is not None:
            size = fault.magnitude
            if size is not None:
                magnitude = size.low * (size.high / size.low) ** rng.random()
            guilty = board.part(fault.part)
            own = tuple(e for e in elements if e.part == fault.part)
            elements = apply(elements, change(guilty, own, fault, magnitude))
        made += 1
        try:
            shown = read(drawn(elements, rng), red, black, meter, mode, swapped, rng)
        except EngineError:  # ngspice found no operating point: nothing to compare with
            lost += 1
            assert lost <= 1 + 0.05 * count, "ngspice finds no operating points"
            continue
        yield Trial(name, question, Ask(mode, swapped), fault, magnitude, shown)


def _fault(question: Question, rng: random.Random) -> Defect | None:
    """A fault of the part in question half of the time, else of any part that stands near."""
    board = question.circuit.board
    nodes = {question.red_node, question.black_node}
    near = [p for p in board.parts if nodes & {net for _, net in p.pins}] or list(board.parts)
    guilty = question.part if question.part and rng.random() < 0.5 else rng.choice(near)
    own = question.circuit.of_part(guilty.ref)
    listed = [d for d in defects_of(guilty, own) if d.word in WORDS]
    return rng.choice(listed) if own and listed else None


def judged(trial: Trial, meter: Meter) -> Comparison:
    """What compare says to a trial."""
    typed = Typed(trial.read.value, trial.read.value is None)
    return compare(trial.question, meter, trial.ask, typed, trial.read.resolution)


def level(trial: Trial, found: Comparison) -> str:
    """How right a verdict is, one of `LEVELS`.

    right: the faulty part is named, or a healthy board called healthy; group: it is one of those named;
    undecided: left open, the faulty part among those that fit, or healthy at its edge; same as healthy:
    the reading lies in the healthy band, nothing said against or for the faulty part; unseen: called
    healthy as read, with a fault that these pins do not show; cleared: called healthy with an open or
    short between the probed pins; condemned: a healthy part named failed; missed: anything else.
    """
    verdict, fault = found.verdict, trial.hidden
    named = {verdict.part, *verdict.twins} if verdict.word == "failed" else set()
    if fault is None:
        if verdict.word == "failed":
            return "condemned"
        if verdict.healthy_fits:
            return "right"
        return "undecided" if verdict.healthy_probability > 0.01 else "missed"
    known = fault.part in {c.part for c in verdict.candidates}
    asked = trial.question.part.ref if trial.question.part else None
    if verdict.word == "failed":
        if fault.part not in named:
            return "condemned"
        return "right" if fault.part == verdict.part else "group"
    if verdict.word == "unlisted":
        return "unlisted"
    if verdict.healthy_fits:
        if verdict.word != "healthy" or fault.part != asked:
            in_reach = fault.part in found.explanation.can_matter
            return "same as healthy" if known or not in_reach else "missed"
        return "cleared" if fault.word in ("open", "short") and _between(trial, fault) else "unseen"
    if verdict.word == "explained":
        return "missed" if fault.part == asked or not known else "group"
    return "undecided" if known or verdict.healthy_probability > 0.5 else "missed"


def _between(trial: Trial, fault: Defect) -> bool:
    q, state = trial.question, trial.question.circuit.state
    assert q.part is not None
    red, black = (set(pins_at(q.part, state, node)) for node in (q.red_node, q.black_node))
    if not fault.pins:
        return True
    if len(fault.pins) == 1:
        return fault.pins[0] in red | black
    return bool(red & set(fault.pins)) and bool(black & set(fault.pins))


def table(counts: Iterable[tuple[str, Counter[str]]]) -> str:
    """Counts as a table, one line a row."""
    head = "".join(f"{word:>17}" for word in LEVELS)
    lines = [f"{'':32}{head}{'of':>8}"]
    lines += [f"{name:32}" + "".join(f"{c[word]:17}" for word in LEVELS) + f"{c.total():8}"
              for name, c in counts]
    return "\n".join(lines)
