"""The whole story judged: what fits, what it means for every part, what would explain the rest."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.board.model import Board
from incircuit.circuit.elimination import Floats
from incircuit.errors import StoryError
from incircuit.judge.causes import Cause, causes_of, total_weight
from incircuit.judge.explanation import HEALTHY, Explanation
from incircuit.judge.explanations import explanations
from incircuit.judge.joint import FAR
from incircuit.judge.memory import Memory, Notes, Page, Progress
from incircuit.judge.observed import WORD, Observed
from incircuit.judge.path import Path, unlisted
from incircuit.judge.reference import Beside, beside_good, good_of
from incircuit.judge.ruling import HARD, PartRuling, Ruling, rule
from incircuit.judge.scenes import Scene, Taken, contact_in, range_of, scenes_of, unit_of
from incircuit.judge.search import BOARDS, Weighed, weigh_all
from incircuit.judge.stage import Stage, healthy_on, on_circuits, stage_of, with_cause
from incircuit.meter.display import range_half_width
from incircuit.meter.profile import Meter, Range, load_meter
from incircuit.parts.elements import Capacitance
from incircuit.paths.shares import current_paths, part_shares
from incircuit.predict.explanation import operating_point
from incircuit.predict.measure import Ask, ranges_of
from incircuit.predict.prediction import Band
from incircuit.predict.question import Question
from incircuit.predict.reach import SETTLED, moving_block
from incircuit.story.bench import Moment, located, moments
from incircuit.story.model import Story

HEALTHY_BOARDS = 512
LONG = 3.0
"""[s] Whoever types a number has seen it stand for so long (assumption)."""


@dataclass(frozen=True, slots=True)
class Line:
    """One reading as judged: the healthy band, whether it lies there, whether the leading explanation allows
    it and whether that `moved` it nearer, and who carries the current on the healthy board. `stirs` are
    capacitors that keep a healthy display moving for `seconds`, where a reading outside the band does not say
    when it was taken."""

    moment: Moment
    healthy: Band
    in_band: bool
    fits: bool
    moved: bool
    carried_by: tuple[tuple[str, float], ...]
    stirs: tuple[str, ...] = ()
    seconds: float = 0.0

    @property
    def mark(self) -> str:
        """What to make of it, in two words."""
        if self.in_band:
            return "as healthy"
        return "off, open" if not self.fits else "off, explained" if self.moved else "at the edge"


@dataclass(frozen=True, slots=True)
class Judgement:
    """Everything `judge` shows. `silent` are faults (part, fault) that no reading so far depends on,
    `beside` what a known-good board read where it was read alike."""

    board: Board
    meter: str
    ruling: Ruling
    explanations: tuple[Explanation, ...]
    lines: tuple[Line, ...]
    silent: tuple[tuple[str, str], ...]
    unlisted: Path | None
    beside: tuple[Beside, ...] = ()


def judge(board: Board, story: Story, meter: str = "", reference: Story | None = None,
          progress: Progress | None = None) -> Judgement:
    """Judge a story read with the meter it names, or with `meter` where it names none.

    `reference` are readings of a known-good board of the same batch: they narrow what the parts may be.
    `progress` is told how much of how much is done. Raises StoryError where a line cannot be used, a mode
    that its meter lacks included; MeterError where there is no such meter.
    """
    return judge_again(board, story, Memory(), meter, reference, progress)[0]


def judge_again(board: Board, story: Story, memory: Memory, meter: str = "", reference: Story | None = None,
                progress: Progress | None = None) -> tuple[Judgement, Memory]:
    """Judge like `judge`, solving only what `memory` does not hold; and the memory for the next time.

    Start with ``Memory()``. The memory fits any story: lines may have been added, taken back or changed,
    the board edited; what no longer applies is forgotten. Errors leave the memory handed in as it was.
    """
    notes = Notes(memory, progress=progress)
    return _judged(board, story, meter, reference, notes), notes.kept()


def glance(board: Board, story: Story, memory: Memory, meter: str = "") -> tuple[Moment, Band, bool] | None:
    """The last reading, its healthy band and whether it lies there, as a judgement will say it, ahead of one.

    Solves only what `memory` does not hold. None where nothing was read. Raises as `judge`.
    """
    notes, default = Notes(memory), load_meter(meter or "handheld")
    scenes = _scenes(board, story, {"": default, meter or "handheld": default}, notes.page(("board", board)))
    every = [(t.number, scene, t) for scene in scenes for t in scene.readings]
    if not every:
        return None
    _, scene, last = max(every, key=lambda each: each[0])
    stage = stage_of(_all_ranges([replace(scene, readings=(replace(last, number=0),))]), notes)
    here, taken = stage.scenes[0], stage.scenes[0].readings[0]
    band = _band(healthy_on(stage, HEALTHY_BOARDS)[0], taken, here.meter)
    return last.moment, band, _holds(band, taken, here.plain)


def _judged(board: Board, story: Story, meter: str, reference: Story | None, notes: Notes) -> Judgement:
    default = load_meter(meter or "handheld")
    meters = {"": default, meter or "handheld": default}
    desk = notes.page(("board", board))
    scenes = _scenes(board, story, meters, desk)
    seen = in_order(scenes)
    replaced = {ref: count for s in scenes for ref, count in s.specimen}
    causes: tuple[Cause, ...] = desk.once(("causes", *sorted(replaced.items())),
                                          lambda: causes_of(board, replaced))
    if not seen:
        return _nothing_read(board, default.name, causes)
    good = _scenes(board, reference, meters, desk) if reference else ()
    known = good_of(in_order(good), healthy_on(stage_of(good, notes), BOARDS)) if good else None
    stage = stage_of(scenes, notes, good=known)
    found, weighed = explanations(stage, seen, causes)
    lead = next((e for e in found if e.fits), None)
    context = _beside(stage, seen, lead, weighed)
    lines = _lines(scenes, found, weighed[0], notes)
    ruling = rule(scenes, causes, found, context, weighed, _odd(scenes, lines),
                  all(line.in_band for line in lines), _unsure(lines), notes)
    path = unlisted(scenes, seen, weighed[0].fit.misses, notes) if ruling.word == "unlisted" else None
    return Judgement(board, scenes[0].meter.name, ruling, found, lines, _silent(weighed, context), path,
                     beside_good(scenes, good))


def _scenes(board: Board, story: Story, meters: dict[str, Meter], desk: Page) -> tuple[Scene, ...]:
    """The scenes of a story; `meters` by name, those it names are added. Raises StoryError."""
    def named(name: str) -> Meter:
        if name not in meters:
            meters[name] = load_meter(name)
        return meters[name]

    taken, problems = moments(story, board)
    lacking = [located(story, m.reading, lacks) for m in taken if (lacks := _lacks(m, named(m.meter)))]
    every = sorted({*story.problems, *problems, *lacking}, key=lambda p: (p.line, p.column))
    if every:
        raise StoryError(tuple(every))
    return scenes_of(board, taken, named, desk)


def _lacks(moment: Moment, meter: Meter) -> tuple[int, str, str] | None:
    mode = moment.reading.mode
    if mode not in meter.all_modes:
        return 2, f"meter {meter.name} has no {mode} mode", f"it has {', '.join(meter.all_modes) or 'none'}"
    return None


def _silent(weighed: Sequence[Weighed], context: Sequence[Weighed]) -> tuple[tuple[str, str], ...]:
    """Faults that no reading depends on: beside the leading explanation where that was looked at."""
    beside = {id(w.cause): w.silent for w in context[1:]}
    dark = (w.cause for w in weighed[1:] if w.cause and beside.get(id(w.cause), w.silent))
    newest = {w.cause.part: w.cause.specimen for w in weighed[1:] if w.cause}
    return tuple((c.part, c.fault) for c in dark if c.part and c.specimen == newest[c.part])


def in_order(scenes: Sequence[Scene]) -> tuple[Observed, ...]:
    """What was read, in the order of the story."""
    taken = sorted((t for s in scenes for t in s.readings), key=lambda t: t.number)
    return tuple(t.observed for t in taken)


def _beside(stage: Stage, seen: Sequence[Observed], lead: Explanation | None,
            weighed: tuple[Weighed, ...]) -> tuple[Weighed, ...]:
    """Every open and short beside the faults of the leading explanation, and what no reading depends on."""
    if lead is None or lead.silent or not lead.faults:
        return weighed
    guilty = {f.cause.who for f in lead.faults}
    beside = stage
    for fault in lead.faults:
        beside = on_circuits(beside, with_cause(beside, fault.cause, fault.rounded))
    # what moves no reading by itself has not shown beside the lead either, as far as anybody can claim
    others = [w.cause for w in weighed[1:] if w.cause and w.cause.part and not w.silent
              and w.cause.who not in guilty and w.cause.defect.word in HARD]
    return weigh_all(beside, seen, others)


def _nothing_read(board: Board, meter: str, causes: Sequence[Cause]) -> Judgement:
    total = total_weight(causes)
    share = (1.0 - HEALTHY) / total
    parts = tuple(
        PartRuling(ref, "undecided", share * sum(c.weight for c in causes if c.part == ref), ())
        for ref in dict.fromkeys(c.part for c in causes if c.part)
    )
    silent = tuple((c.part, c.fault) for c in causes if c.part)
    return Judgement(board, meter, Ruling("undecided", None, (), parts), (), (), silent, None)


def _lines(scenes: Sequence[Scene], found: Sequence[Explanation], at_rest: Weighed,
           notes: Notes) -> tuple[Line, ...]:
    stage = stage_of(_all_ranges(scenes), notes)
    healthy = healthy_on(stage, HEALTHY_BOARDS)
    best = next((e for e in found if e.fits), found[0])
    lines: dict[int, Line] = {}
    for scene, page in zip(stage.scenes, stage.pages, strict=True):
        shares = _shares(scene, page)
        for t in scene.readings:
            band = _band(healthy[t.number], t, scene.meter)
            inside = _holds(band, t, scene.plain)
            miss = best.fit.misses[t.number]
            moved = miss < 0.999 * at_rest.fit.misses[t.number]
            unsaid = not inside and t.ask.settled and not t.moment.reading.when
            stirs = _stirs(scene, t, band) if unsaid else ((), 0.0)
            lines[t.number] = Line(t.moment, band, inside, miss <= FAR, moved, shares[t.number], *stirs)
    return tuple(lines[n] for n in sorted(lines))


def _stirs(scene: Scene, t: Taken, band: Band) -> tuple[tuple[str, ...], float]:
    """The capacitors that keep the display of a healthy board moving for `LONG` or more, and for how long at
    most [s]: alone at the pads."""
    question = Question(scene.circuit, scene.red, scene.black, scene.red, scene.black, None, ())
    farads: dict[str, float] = {}
    for e in moving_block(question):
        if isinstance(e, Capacitance):
            farads[e.part] = farads.get(e.part, 0.0) + e.farads
    source = ranges_of(scene.plain, t.ask.mode)[-1].source
    per_farad = source.open_circuit / min(source.current, source.open_circuit / source.resistance)
    if band.value is not None and t.ask.mode != "diode":
        per_farad = SETTLED * band.value
    seconds = per_farad * sum(farads.values())
    if seconds < LONG:
        return (), 0.0
    return tuple(ref for ref, f in farads.items() if f >= 0.1 * max(farads.values())), seconds


def _all_ranges(scenes: Sequence[Scene]) -> list[Scene]:
    """The scenes as the meter finds its range by itself."""
    return [replace(s, meter=s.plain, readings=tuple(
        replace(t, ask=replace(t.ask, ranges=() if t.ask.settled else t.ask.ranges),
                observed=t.observed.display or t.observed) for t in s.readings))
        for s in scenes]


def _band(exact: Floats, t: Taken, meter: Meter) -> Band:
    """99 of 100 healthy boards, widened by the meter's accuracy there and by rounding."""
    seen = t.observed
    exact = exact / unit_of(meter, t.ask)
    low = float(np.quantile(exact, 0.005, method="lower"))
    high = float(np.quantile(exact, 0.995, method="higher"))

    def end(value: float, side: float) -> float | None:
        if np.isinf(value):
            return None
        # at this end, not at the reading: two digits are 200 % of a short and nothing of a junction
        scale = range_of(meter, t.ask.mode, value)
        if t.ask.mode == "farads" and t.ask.ranges:  # its digits tell the range it stood on
            scale = max(scale, ranges_of(meter, "farads")[t.ask.ranges[0]], key=_full_scale)
        error = range_half_width(scale, value) + 0.5 * scale.resolution + contact_in(t.ask.mode)
        if seen.mode in ("beep", WORD):
            error = seen.rounding
        least = 0.0 if t.ask.mode in ("farads", "esr") else -math.inf
        return max(least, float(f"{value + side * error:.6g}"))

    over = bool(np.isinf(exact[0]))
    return Band(None if over else float(exact[0]), end(low, -1.0), end(high, 1.0), over)


def _full_scale(scale: Range) -> float:
    return scale.full_scale


def _holds(band: Band, t: Taken, meter: Meter) -> bool:
    if t.observed.value is None:
        return band.high is None
    value = t.observed.value / unit_of(meter, t.ask)
    return band.low is not None and band.low <= value and (band.high is None or value <= band.high)


def _shares(scene: Scene, page: Page) -> dict[int, tuple[tuple[str, float], ...]]:
    """Who carries the current of each reading on the healthy board."""
    question = Question(scene.circuit, scene.red, scene.black, scene.red, scene.black, None, ())
    if not scene.resting:
        charging = _charging(question)
        return {t.number: () if t.ask.mode == "volts" else charging for t in scene.readings}

    def carried(ask: Ask) -> Callable[[], tuple[tuple[str, float], ...]]:
        return lambda: part_shares(current_paths(operating_point(question, scene.meter, ask)[1]))

    return {t.number: page.once(("shares", t.ask), carried(t.ask)) for t in scene.readings}


def _charging(question: Question) -> tuple[tuple[str, float], ...]:
    """The capacitors between the pads by their share of the capacitance; all in reach if none is there."""
    pads = {question.red_node, question.black_node}
    reached = [e for e in moving_block(question) if isinstance(e, Capacitance)]
    there = [e for e in reached if {e.a, e.b} == pads] or reached
    total = sum(e.farads for e in there) or 1.0
    return tuple((e.part, e.farads / total) for e in sorted(there, key=lambda e: -e.farads))


def _unsure(lines: Sequence[Line]) -> frozenset[str]:
    """Parts that carry the current of readings outside the healthy band which the leading explanation
    does not bring nearer."""
    return frozenset(part for line in lines if not (line.in_band or line.moved)
                     for part, share in line.carried_by if share >= 0.05)


def _odd(scenes: Sequence[Scene], lines: Sequence[Line]) -> frozenset[str]:
    """Parts between whose pins a reading was carried by others: alone they would read otherwise."""
    found = set()
    for scene in scenes:
        for t in scene.readings:
            carriers = {part for part, share in lines[t.number].carried_by if share >= 0.5}
            for part in scene.circuit.board.parts:
                nets = {net for _, net in part.pins}
                if {scene.red, scene.black} <= nets and carriers and part.ref not in carriers:
                    found.add(part.ref)
    return frozenset(found)
