"""Readings of many conditions on a scene, solved in one batch; equal circuits are solved once.

A condition that cannot move a reading of the scene (its change does not touch the meter's block) is
not solved at all: it reads as the board without it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.compare.screen import effect
from incircuit.errors import SolveError
from incircuit.judge.causes import Cause, changes_on
from incircuit.judge.joint import Observed
from incircuit.judge.memory import Notes, Page
from incircuit.judge.moving import shows
from incircuit.judge.reference import Good
from incircuit.judge.scenes import Scene, unit_of
from incircuit.judge.spread import axes_of
from incircuit.parts.elements import Change
from incircuit.paths.blocks import hangs_on
from incircuit.predict.batch import drawn, pair_of
from incircuit.predict.charging import read_timed
from incircuit.predict.measure import Ask
from incircuit.predict.question import Question
from incircuit.predict.reach import Reach, moving_block, reach_of
from incircuit.predict.variants import NO_CHANGE

_COLUMNS = 16_000
"""Boards solved in one batch: bounds the memory."""

Sizes = tuple[float | None, ...]
Plan = tuple[Cause, Sizes]
"""A cause and the magnitudes to look at."""
Effect = tuple[object, ...]
"""What a change does to a circuit: equal for equal circuits."""
_UNCHANGED = effect(NO_CHANGE)


@dataclass(frozen=True, slots=True)
class Stage:
    """The scenes of a story on the circuits that an earlier fault, if any, has left.

    `reach` says what can matter to each scene, `pages` hold what was solved there, `good` what a
    known-good board reads; `changes` remembers what causes do on a circuit.
    """

    scenes: tuple[Scene, ...]
    circuits: tuple[Circuit, ...]
    reach: tuple[Reach, ...]
    pages: tuple[Page, ...]
    notes: Notes
    good: Good | None = None
    changes: dict[tuple[int, int, Sizes], tuple[tuple[Change, Effect], ...]] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """Number of readings."""
        return sum(len(s.readings) for s in self.scenes)


def stage_of(scenes: Sequence[Scene], notes: Notes, circuits: Sequence[Circuit] | None = None,
             good: Good | None = None) -> Stage:
    """The scenes as they are, or on other circuits."""
    stands = tuple(circuits or (s.circuit for s in scenes))
    pages = tuple(_page(s, c, notes) for s, c in zip(scenes, stands, strict=True))
    reach = tuple(_reach(s, c, p) for s, c, p in zip(scenes, stands, pages, strict=True))
    return Stage(tuple(scenes), stands, reach, pages, notes, good)


def on_circuits(stage: Stage, circuits: Sequence[Circuit]) -> Stage:
    """The stage on changed circuits, one object for each that was one before."""
    same: dict[int, Circuit] = {}
    return stage_of(stage.scenes, stage.notes, [same.setdefault(id(old), new) for old, new in
                                                zip(stage.circuits, circuits, strict=True)], stage.good)


def _page(scene: Scene, circuit: Circuit, notes: Notes) -> Page:
    return notes.page((circuit.elements, circuit.state, scene.meter, scene.red, scene.black))


def _reach(scene: Scene, circuit: Circuit, page: Page) -> Reach:
    if scene.red == scene.black:
        return Reach(frozenset(), {})
    question = Question(circuit, scene.red, scene.black, scene.red, scene.black, None, ())
    if not scene.resting:
        return _moving_reach(scene, circuit, question)
    found: Reach = page.once(("reach",), lambda: reach_of(question))
    return found


def _moving_reach(scene: Scene, circuit: Circuit, question: Question) -> Reach:
    """What can matter where capacitors do; everything on a powered board."""
    magnetic = any(t.ask.mode == "esr" for t in scene.readings)
    block = circuit.elements if circuit.state.power else moving_block(question, magnetic)
    hook = hangs_on(circuit.elements, block, scene.red, scene.black)
    return Reach(frozenset(e.name for e in block), hook)


def healthy_on(stage: Stage, boards: int) -> Floats:
    """True readings [V or ohm] of the stage without a (further) fault, (readings, boards + 1), board 0
    nominal, infinite on overload, readings in the order of the story."""
    found = np.empty((stage.count, boards + 1))
    for k, scene in enumerate(stage.scenes):
        exact = solved(stage, k, [(NO_CHANGE, _UNCHANGED)], boards)
        for n, taken in enumerate(scene.readings):
            found[taken.number] = exact[n, 0]
    return found


def exact_on(stage: Stage, plans: Sequence[Plan], boards: int, healthy: Floats,
             moves: Sequence[frozenset[int]] | None = None) -> list[Floats]:
    """True readings of each plan, (readings, magnitudes, boards + 1); `healthy` where it moves nothing.

    `moves`, where known, are the readings each plan moves. A condition that cannot be solved reads NaN.
    """
    found = [np.repeat(healthy[:, None, :boards + 1], len(sizes), axis=1) for _, sizes in plans]
    for k, scene in enumerate(stage.scenes):
        conditions: dict[Effect, Change] = {}
        use: list[tuple[int, list[Effect]]] = []
        for p, (cause, sizes) in enumerate(plans):
            if not sizes or (moves and not any(t.number in moves[p] for t in scene.readings)):
                continue
            changes = changes_at(stage, k, cause, sizes)
            if not any(stage.reach[k].touched_by(c) for c, _ in changes):
                continue
            for change, does in changes:
                conditions.setdefault(does, change)
            use.append((p, [does for _, does in changes]))
        if not conditions:
            continue
        exact = solved(stage, k, [(c, e) for e, c in conditions.items()], boards)
        at = {does: n for n, does in enumerate(conditions)}
        for n, taken in enumerate(scene.readings):
            for p, row in use:
                found[p][taken.number] = exact[n, [at[does] for does in row]]
    return found


def changes_at(stage: Stage, scene: int, cause: Cause, sizes: Sizes) -> tuple[tuple[Change, Effect], ...]:
    """What a cause does on a scene at each magnitude, remembered for all scenes of one circuit; nothing
    where it does nothing there."""
    circuit = stage.circuits[scene]
    key = (id(circuit), id(cause), sizes)
    if key not in stage.changes:
        found = changes_on(cause, stage.scenes[scene], sizes, circuit) or ()
        stage.changes[key] = tuple((c, effect(c)) for c in found)
    return stage.changes[key]


def axes_at(stage: Stage, plan: Plan | None, boards: int) -> Floats:
    """(parameters, boards) what every parameter was on the drawn boards, the plan's own elements included."""
    elements = {e.name: e for c in stage.circuits for e in c.elements}
    for k in range(len(stage.scenes) if plan else 0):
        assert plan is not None
        elements |= {e.name: e for c, _ in changes_at(stage, k, *plan) for e in c.add}
    return axes_of(elements.values(), boards)


def solved(stage: Stage, k: int, conditions: Sequence[tuple[Change, Effect]], boards: int) -> Floats:
    """(readings of scene number `k`, conditions, boards + 1), as the display tells them."""
    readings = stage.scenes[k].readings
    asks = tuple(dict.fromkeys(t.ask for t in readings))
    found = dict(zip(asks, rows_at(stage, k, asks, conditions, boards), strict=True))
    return np.stack([_heard(found[t.ask], t.observed) for t in readings])


def rows_at(stage: Stage, k: int, asks: Sequence[Ask], conditions: Sequence[tuple[Change, Effect]],
            boards: int) -> Floats:
    """(asks, conditions, boards + 1) at scene number `k`; what its page holds is not solved again."""
    scene, page = stage.scenes[k], stage.pages[k]
    lacking = [n for n, (_, does) in enumerate(conditions)
               if any(page.known((a, boards, does)) is None for a in asks)]
    wanted = tuple(a for a in asks if any(page.known((a, boards, conditions[n][1])) is None for n in lacking))
    holds = [stage.reach[k].holds(conditions[n][0]) for n in lacking]
    for inside in (True, False):  # one that reaches beyond the block makes the network larger for all
        some = [n for n, held in zip(lacking, holds, strict=True) if held == inside]
        step = max(2, _COLUMNS // ((boards + 1) * max(1, len(wanted))))
        for first in range(0, len(some), step):
            rows = [conditions[n] for n in some[first:first + step]]
            exact = read_at(scene, stage.circuits[k], wanted, [c for c, _ in rows], boards)
            stage.notes.solved()
            for a, ask in enumerate(wanted):
                for row, (_, does) in enumerate(rows):
                    page.now[ask, boards, does] = exact[a, row]
    return np.stack([np.stack([page.now[ask, boards, does] for _, does in conditions]) for ask in asks])


def read_at(scene: Scene, circuit: Circuit, asks: Sequence[Ask], changes: Sequence[Change],
            boards: int) -> Floats:
    """(asks, changes, boards + 1) true readings; NaN where nothing could be proven."""
    if not scene.resting:
        return _read_moving(scene, circuit, asks, changes, boards)
    try:
        pair = pair_of(circuit, changes, scene.red, scene.black, scene.meter, asks)
    except SolveError:
        return np.full((len(asks), len(changes), boards + 1), np.nan)
    if not boards:
        return np.asarray(pair.exact[:, 1:, None])
    todo = [(a, 1 + c) for a in range(len(asks)) for c in range(len(changes))]
    return np.stack(drawn(pair, todo, boards, math.inf)).reshape(len(asks), len(changes), boards + 1)


def _read_moving(scene: Scene, circuit: Circuit, asks: Sequence[Ask], changes: Sequence[Change],
                 boards: int) -> Floats:
    """The same where capacitors charge, are tested, or the board is powered."""
    unit = np.array([unit_of(scene.plain, ask) for ask in asks])[:, None, None]
    try:
        found = read_timed(circuit, changes, scene.red, scene.black, scene.plain, asks, boards)[:, 1:]
    except SolveError:
        return np.full((len(asks), len(changes), boards + 1), np.nan)
    return np.asarray(found * unit)


def _heard(exact: Floats, seen: Observed) -> Floats:
    """Where the display showed OL, or the beeper was heard, everything from its end on is one event.

    The end of a number's range is no event: how far a board lies beyond it says how far it is off. A display
    that was moving is an event of its own.
    """
    if seen.display is not None:
        return shows(exact, seen.display)
    return np.where(exact >= seen.end, np.inf, exact) if seen.value is None or seen.mode == "beep" else exact
