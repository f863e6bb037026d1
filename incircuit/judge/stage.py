"""Readings of many conditions on a scene, solved in one batch; equal circuits are solved once.

A condition that cannot move a reading of the scene (its change does not touch the meter's block) is
not solved at all: it reads as the board without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.compare.screen import effect
from incircuit.errors import SolveError
from incircuit.judge.causes import Cause, changes_on
from incircuit.judge.joint import Observed
from incircuit.judge.reference import Good
from incircuit.judge.scenes import Scene
from incircuit.parts.elements import Capacitance, Change, Element
from incircuit.paths.blocks import meters_block
from incircuit.predict.measure import Noise, measure, noise
from incircuit.predict.question import Question
from incircuit.predict.reach import Reach, reach_of
from incircuit.predict.variants import NO_CHANGE, compile_variants, values_of

_COLUMNS = 16_000
"""Boards solved in one batch: bounds the memory."""

Sizes = tuple[float | None, ...]
Plan = tuple[Cause, Sizes]
"""A cause and the magnitudes to look at."""


@dataclass(frozen=True, slots=True)
class Stage:
    """The scenes of a story on the circuits that an earlier fault, if any, has left.

    `reach` says what can matter to each scene, `good` what a known-good board reads; `changes` remembers
    what causes do on a circuit.
    """

    scenes: tuple[Scene, ...]
    circuits: tuple[Circuit, ...]
    reach: tuple[Reach, ...]
    good: Good | None = None
    changes: dict[tuple[int, int, Sizes], tuple[Change, ...] | None] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """Number of readings."""
        return sum(len(s.readings) for s in self.scenes)


def stage_of(scenes: Sequence[Scene], circuits: Sequence[Circuit] | None = None,
             good: Good | None = None) -> Stage:
    """The scenes as they are, or on other circuits."""
    stands = tuple(circuits or (s.circuit for s in scenes))
    reach = tuple(
        reach_of(Question(c, s.red, s.black, s.red, s.black, None, ())) if s.red != s.black else
        Reach(frozenset(), {}) for s, c in zip(scenes, stands, strict=True)
    )
    return Stage(tuple(scenes), stands, reach, good)


def healthy_on(stage: Stage, boards: int) -> Floats:
    """True readings [V or ohm] of the stage without a (further) fault, (readings, boards + 1), board 0
    nominal, infinite on overload, readings in the order of the story."""
    found = np.empty((stage.count, boards + 1))
    for k, scene in enumerate(stage.scenes):
        exact = solved(scene, stage.circuits[k], (NO_CHANGE,), boards)
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
        conditions: list[Change] = []
        known: dict[tuple[object, ...], int] = {}
        use: list[tuple[int, list[int]]] = []
        for p, (cause, sizes) in enumerate(plans):
            if not sizes or (moves and not any(t.number in moves[p] for t in scene.readings)):
                continue
            changes = changes_at(stage, k, cause, sizes)
            if not changes or not any(stage.reach[k].touched_by(c) for c in changes):
                continue
            row = []
            for change in changes:
                at = known.setdefault(effect(change), len(conditions))
                if at == len(conditions):
                    conditions.append(change)
                row.append(at)
            use.append((p, row))
        if not conditions:
            continue
        exact = solved(scene, stage.circuits[k], conditions, boards, stage.reach[k])
        for n, taken in enumerate(scene.readings):
            for p, row in use:
                found[p][taken.number] = exact[n, row]
    return found


def changes_at(stage: Stage, scene: int, cause: Cause, sizes: Sizes) -> tuple[Change, ...] | None:
    """What a cause does on a scene, remembered for all scenes of one circuit."""
    circuit = stage.circuits[scene]
    key = (id(circuit), id(cause), sizes)
    if key not in stage.changes:
        stage.changes[key] = changes_on(cause, stage.scenes[scene], sizes, circuit)
    return stage.changes[key]


def solved(scene: Scene, circuit: Circuit, conditions: Sequence[Change], boards: int,
           reach: Reach | None = None) -> Floats:
    """(readings of the scene, conditions, boards + 1)."""
    inside = [k for k, c in enumerate(conditions) if reach is None or reach.holds(c)]
    outside = [k for k in range(len(conditions)) if k not in set(inside)]
    found = np.empty((len(scene.readings), len(conditions), boards + 1))
    for some in (inside, outside):
        asks = len({t.ask for t in scene.readings})
        step = max(2, _COLUMNS // ((boards + 1) * asks))
        for first in range(0, len(some), step):
            rows = some[first:first + step]
            # the board as it is comes first: the search for the others starts there
            batch = _batch(scene, circuit, [NO_CHANGE, *(conditions[k] for k in rows)], boards)
            found[:, rows] = batch[:, 1:]
    return found


def _batch(scene: Scene, circuit: Circuit, conditions: Sequence[Change], boards: int) -> Floats:
    """One batch; where it cannot be solved, its halves, down to the condition that cannot."""
    try:
        return _solve(scene, circuit, conditions, boards)
    except SolveError:
        if len(conditions) == 1:
            return np.full((len(scene.readings), 1, boards + 1), np.nan)
        half = len(conditions) // 2
        parts = [_batch(scene, circuit, some, boards) for some in (conditions[:half], conditions[half:])]
        return np.concatenate(parts, axis=1)


def _solve(scene: Scene, circuit: Circuit, conditions: Sequence[Change], boards: int) -> Floats:
    asks = tuple(dict.fromkeys(t.ask for t in scene.readings))
    direct: list[Element] = [e for e in circuit.elements if not isinstance(e, Capacitance)]
    added = {e.name: e for c in conditions for e in c.add if not isinstance(e, Capacitance)}
    block = meters_block([*direct, *added.values()], scene.red, scene.black)
    names = frozenset(e.name for e in block)
    own = [e for e in direct if e.name in names]
    cut = [Change(c.remove & names, tuple(e for e in c.add if e.name in names)) for c in conditions]
    variants = compile_variants(own, cut, scene.red, scene.black)
    one = noise(boards)
    errors = Noise(np.tile(one.leads, len(cut)), np.zeros(len(cut) * (boards + 1)))
    values = values_of(variants, boards, circuit.state.celsius)
    shows = measure(variants.network, values, scene.meter, asks, errors).shows
    shape = (len(cut), boards + 1)
    return np.stack([_heard(shows[t.ask].exact.reshape(shape), t.observed) for t in scene.readings])


def _heard(exact: Floats, seen: Observed) -> Floats:
    """Where the display showed OL, or the beeper was heard, everything from its end on is one event.

    The end of a number's range is no event: how far a board lies beyond it says how far it is off.
    """
    return np.where(exact >= seen.end, np.inf, exact) if seen.value is None or seen.mode == "beep" else exact
