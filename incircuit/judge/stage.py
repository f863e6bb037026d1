"""Readings of many conditions on a scene, solved in one batch; equal circuits are solved once.

A condition that cannot move a reading of the scene (its change does not touch the meter's block) is
not solved at all: it reads as the board without it. One that stays inside the block is solved on the block
alone, once for all circuits that differ elsewhere: with a first fault out of reach, before a part was lifted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.compare.screen import effect
from incircuit.errors import SolveError
from incircuit.judge.causes import Cause, changes_on, with_fault
from incircuit.judge.memory import Key, Notes, Page, key_of
from incircuit.judge.moving import endless, shows
from incircuit.judge.observed import Observed
from incircuit.judge.reference import Good
from incircuit.judge.scenes import Scene, Taken, unit_of
from incircuit.judge.spread import names_of
from incircuit.parts.elements import Change
from incircuit.paths.blocks import branches, hangs_on
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


@dataclass(frozen=True, slots=True)
class Condition:
    """A change on a scene and the key of what it does: equal for equal circuits. `inside`: it joins nodes of
    what the meter sees and no others, so that nothing else of the board matters."""

    change: Change
    does: Key
    inside: bool


_AS_IT_IS = Condition(NO_CHANGE, key_of(effect(NO_CHANGE)), True)


@dataclass(frozen=True, slots=True)
class Ground:
    """What can matter between two pads of a circuit: its `reach`, and the circuit of that alone, with a key
    that circuits have in common which differ elsewhere only."""

    reach: Reach
    circuit: Circuit
    key: Key


@dataclass(frozen=True, slots=True)
class Stage:
    """The scenes of a story on the circuits that an earlier fault, if any, has left.

    `grounds` say what can matter to each scene; `pages` hold what was worked out on the whole circuit there,
    `inner` what was solved on the ground alone; `good` is what a known-good board reads.
    """

    scenes: tuple[Scene, ...]
    circuits: tuple[Circuit, ...]
    grounds: tuple[Ground, ...]
    pages: tuple[Page, ...]
    inner: tuple[Page, ...]
    notes: Notes
    good: Good | None = None

    @property
    def count(self) -> int:
        """Number of readings."""
        return sum(len(s.readings) for s in self.scenes)


def stage_of(scenes: Sequence[Scene], notes: Notes, circuits: Sequence[Circuit] | None = None,
             good: Good | None = None) -> Stage:
    """The scenes as they are, or on other circuits."""
    stands = tuple(circuits or (s.circuit for s in scenes))
    pages = tuple(_page(s, c, notes) for s, c in zip(scenes, stands, strict=True))
    grounds = tuple(_ground(s, c, p) for s, c, p in zip(scenes, stands, pages, strict=True))
    inner = tuple(notes.page(g.key) for g in grounds)
    return Stage(tuple(scenes), stands, grounds, pages, inner, notes, good)


def with_cause(stage: Stage, cause: Cause, size: float | None) -> list[Circuit]:
    """The circuits of a stage with a cause at one magnitude; equal ones are one object."""
    both = zip(stage.scenes, stage.circuits, strict=True)
    return [changed(stage.notes, scene, circuit, cause, size) for scene, circuit in both]


def on_circuits(stage: Stage, circuits: Sequence[Circuit]) -> Stage:
    """The scenes of a stage on other circuits."""
    return stage_of(stage.scenes, stage.notes, circuits, stage.good)


def _page(scene: Scene, circuit: Circuit, notes: Notes) -> Page:
    return notes.page(key_of(notes.key(circuit), scene.meter, scene.red, scene.black, scene.specimen,
                             _kind(scene)))


def _ground(scene: Scene, circuit: Circuit, page: Page) -> Ground:
    found: Ground = page.once("ground", lambda: _new_ground(scene, circuit))
    return found


def _new_ground(scene: Scene, circuit: Circuit) -> Ground:
    reach = _reach(scene, circuit)
    block = tuple(e for e in circuit.elements if e.name in reach.names)
    state = circuit.state
    key = key_of(block, state.celsius, state.power, scene.meter, scene.red, scene.black)
    return Ground(reach, Circuit(circuit.board, state, block), key)


def _kind(scene: Scene) -> tuple[bool, bool]:
    """Whether a scene's readings are those of a board at rest; whether coupled windings matter to them."""
    return scene.resting, _magnetic(scene)


def _magnetic(scene: Scene) -> bool:
    return any(t.ask.mode == "esr" for t in scene.readings)


def _reach(scene: Scene, circuit: Circuit) -> Reach:
    if scene.red == scene.black:
        return Reach(frozenset(), {})
    question = Question(circuit, scene.red, scene.black, scene.red, scene.black, None, ())
    if scene.resting:
        return reach_of(question)
    # everything can matter on a powered board
    block = circuit.elements if circuit.state.power else moving_block(question, _magnetic(scene))
    hook = hangs_on(circuit.elements, block, scene.red, scene.black)
    loose = {n: "" for e in circuit.elements for pair in branches(e) for n in pair if n not in hook}
    return Reach(frozenset(e.name for e in block), hook | loose)


def healthy_on(stage: Stage, boards: int, only: Sequence[int] | None = None) -> Floats:
    """True readings [V or ohm] of the stage without a (further) fault, (readings, boards + 1), board 0
    nominal, infinite on overload, readings in the order of the story; of `only` some scenes, or of all."""
    found = np.full((stage.count, boards + 1), np.nan)
    for k in range(len(stage.scenes)) if only is None else only:
        scene = stage.scenes[k]
        exact = solved(stage, k, [_AS_IT_IS], boards)
        for n, taken in enumerate(scene.readings):
            found[taken.number] = exact[n, 0]
    return found


def exact_on(stage: Stage, plans: Sequence[Plan], boards: int, healthy: Floats,
             moves: Sequence[frozenset[int]] | None = None,
             only: Sequence[int] | None = None) -> list[Floats]:
    """True readings of each plan, (readings, magnitudes, boards + 1); `healthy` where it moves nothing.

    `moves`, where known, are the readings each plan moves; `only` some scenes are looked at, or all. A
    condition that cannot be solved reads NaN.
    """
    found = [np.repeat(healthy[:, None, :boards + 1], len(sizes), axis=1) for _, sizes in plans]
    for k in range(len(stage.scenes)) if only is None else only:
        numbers = [t.number for t in stage.scenes[k].readings]
        at: dict[Key, int] = {}
        conditions: list[Condition] = []
        use: list[tuple[int, list[int]]] = []
        for p, (cause, sizes) in enumerate(plans):
            if not sizes or (moves and moves[p].isdisjoint(numbers)):
                continue
            row = []
            for condition in conditions_at(stage, k, cause, sizes):
                place = at.setdefault(condition.does, len(conditions))
                if place == len(conditions):
                    conditions.append(condition)
                row.append(place)
            if row:
                use.append((p, row))
        if conditions:
            exact = solved(stage, k, conditions, boards)
            for p, row in use:
                found[p][numbers] = exact[:, row]
    return found


def conditions_at(stage: Stage, k: int, cause: Cause, sizes: Sizes) -> tuple[Condition, ...]:
    """What a cause does on scene number `k` at each magnitude; nothing where it cannot move a reading."""
    def work_out() -> tuple[Condition, ...]:
        reach = stage.grounds[k].reach
        changes = changes_at(stage.notes, stage.scenes[k], stage.circuits[k], cause, sizes)
        if not any(reach.touched_by(c) for c, _ in changes):
            return ()
        return tuple(Condition(c, does, _inside(reach, c)) for c, does in changes)

    found: tuple[Condition, ...] = stage.pages[k].once((cause, sizes), work_out)
    return found


def _inside(reach: Reach, what: Change) -> bool:
    """Whether all that a change adds lies between nodes that the meter sees, or on new ones."""
    return all(reach.hook.get(n, n) == n for e in what.add for pair in branches(e) for n in pair)


def changes_at(notes: Notes, scene: Scene, circuit: Circuit, cause: Cause,
               sizes: Sizes) -> tuple[tuple[Change, Key], ...]:
    """What a cause does on a circuit at each magnitude; nothing where it is not there."""
    def work_out() -> tuple[tuple[Change, Key], ...]:
        return tuple((c, key_of(effect(c))) for c in changes_on(cause, scene, sizes, circuit) or ())

    found: tuple[tuple[Change, Key], ...] = _stand(notes, scene, circuit).once((cause, sizes), work_out)
    return found


def changed(notes: Notes, scene: Scene, circuit: Circuit, cause: Cause, size: float | None) -> Circuit:
    """The circuit with a cause at one magnitude: one object for each that was one before."""
    found: Circuit = _stand(notes, scene, circuit).once(
        ("with", cause, size), lambda: with_fault(scene, cause, size, circuit))
    return found


def _stand(notes: Notes, scene: Scene, circuit: Circuit) -> Page:
    """The page of a circuit, whatever is read there."""
    return notes.page((notes.key(circuit), scene.specimen))


def names_at(stage: Stage, plan: Plan | None) -> frozenset[str]:
    """Names of the parameters that spread on a stage, those of a plan's own elements included."""
    notes, names = stage.notes, set[str]()
    for circuit in {id(c): c for c in stage.circuits}.values():
        names |= notes.page(notes.key(circuit)).once("names", partial(names_of, circuit.elements))
    if plan:
        for scene, circuit in zip(stage.scenes, stage.circuits, strict=True):
            changes = changes_at(notes, scene, circuit, *plan)
            names |= names_of(e for c, _ in changes for e in c.add)
    return frozenset(names)


def solved(stage: Stage, k: int, conditions: Sequence[Condition], boards: int) -> Floats:
    """(readings of scene number `k`, conditions, boards + 1), as the display tells them."""
    readings = stage.scenes[k].readings
    asks = _asks(readings)
    found = rows_at(stage, k, asks, conditions, boards)
    return np.stack([_heard(found[asks.index(t.ask)], t.observed) for t in readings])


def _asks(readings: Sequence[Taken]) -> tuple[Ask, ...]:
    """What readings ask, each once, and what they would on their range alone: that costs no solving."""
    alone = (lone(t) for t in readings if t.observed.start)
    return tuple(dict.fromkeys([*(t.ask for t in readings), *alone]))


def lone(taken: Taken) -> Ask:
    """What a reading asks on its range alone, whether or not the one below fits."""
    return replace(taken.ask, ranges=taken.ask.ranges[-1:])


def on_range_alone(stage: Stage, number: int, plan: Plan | None, boards: int) -> Floats:
    """(boards + 1,) reading `number` [ohm] on the range its digits tell, with a plan's fault."""
    k, taken = next((k, t) for k, s in enumerate(stage.scenes) for t in s.readings if t.number == number)
    conditions = (conditions_at(stage, k, *plan) if plan else ()) or (_AS_IT_IS,)
    return np.asarray(rows_at(stage, k, (lone(taken),), conditions[:1], boards)[0, 0])


def rows_at(stage: Stage, k: int, asks: Sequence[Ask], conditions: Sequence[Condition],
            boards: int) -> Floats:
    """(asks, conditions, boards + 1) at scene number `k`; what its page holds is not solved again."""
    heads = [key_of(ask, boards) for ask in asks]
    held = [stage.inner[k] if c.inside else stage.pages[k] for c in conditions]
    rows = [[page.known((head, c.does)) for page, c in zip(held, conditions, strict=True)] for head in heads]
    lacking = [n for n in range(len(conditions)) if any(row[n] is None for row in rows)]
    wanted = [a for a, row in enumerate(rows) if any(row[n] is None for n in lacking)]
    for inside in (True, False):  # one that reaches beyond the block makes the network larger for all
        some = [n for n in lacking if conditions[n].inside == inside]
        circuit = stage.grounds[k].circuit if inside else stage.circuits[k]
        step = max(2, _COLUMNS // ((boards + 1) * max(1, len(wanted))))
        for first in range(0, len(some), step):
            part = some[first:first + step]
            exact = read_at(stage.scenes[k], circuit, [asks[a] for a in wanted],
                            [conditions[n].change for n in part], boards)
            stage.notes.solved()
            for a, block in zip(wanted, exact, strict=True):
                for n, row in zip(part, block, strict=True):
                    rows[a][n] = held[n].now[heads[a], conditions[n].does] = row
    return np.array(rows)


def prepare(stage: Stage, plans: Sequence[Plan], boards: int, only: Sequence[int] | None = None) -> None:
    """Solve in one batch a scene what `exact_on` on nominal boards and `healthy_on` on `boards` want."""
    for k in range(len(stage.scenes)) if only is None else only:
        scene = stage.scenes[k]
        if not scene.resting:
            continue
        page = stage.inner[k]
        asks = _asks(scene.readings)
        heads = [(key_of(ask, 0), key_of(ask, boards)) for ask in asks]
        some = {c.does: c for plan in plans for c in conditions_at(stage, k, *plan) if c.inside}
        wanted = [a for a, head in enumerate(heads) if page.known((head[1], _AS_IT_IS.does)) is None]
        lacking = [c for c in some.values()
                   if any(page.known((heads[a][0], c.does)) is None for a in wanted)]
        if not wanted or not lacking or len(lacking) * len(wanted) > _COLUMNS:
            continue
        found = _read_both(scene, stage.grounds[k].circuit, [asks[a] for a in wanted],
                           [c.change for c in lacking], boards)
        if found is None:
            continue
        stage.notes.solved()
        for a, nominal, healthy in zip(wanted, *found, strict=True):
            page.now[heads[a][1], _AS_IT_IS.does] = healthy
            for c, row in zip(lacking, nominal, strict=True):
                page.now[heads[a][0], c.does] = row


def _read_both(scene: Scene, circuit: Circuit, asks: Sequence[Ask], changes: Sequence[Change],
               boards: int) -> tuple[Floats, list[Floats]] | None:
    """Nominal readings under the changes, (asks, changes, 1), and those of drawn boards as they are,
    (boards + 1,) each ask; None where nothing can be proven."""
    try:
        pair = pair_of(circuit, changes, scene.red, scene.black, scene.meter, asks)
        healthy = drawn(pair, [(a, 0) for a in range(len(asks))], boards, math.inf)
    except SolveError:
        return None
    return np.asarray(pair.exact[:, 1:, None]), healthy


def condition_of(stage: Stage, k: int, change: Change) -> Condition:
    """A change on scene number `k`."""
    return Condition(change, key_of(effect(change)), _inside(stage.grounds[k].reach, change))


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
        meter = replace(scene.plain, esr=scene.meter.esr)
        found = read_timed(circuit, changes, scene.red, scene.black, meter, asks, boards)[:, 1:]
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
    if seen.mode.startswith("farads") and seen.value is not None:
        return endless(exact, seen)
    return np.where(exact >= seen.end, np.inf, exact) if seen.value is None or seen.mode == "beep" else exact
