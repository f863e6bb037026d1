"""Readings of many conditions on a scene, solved in one batch; equal circuits are solved once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.compare.screen import effect
from incircuit.judge.causes import Cause, changes_on
from incircuit.judge.joint import Observed
from incircuit.judge.scenes import Scene
from incircuit.parts.elements import Change
from incircuit.paths.blocks import meters_block
from incircuit.predict.measure import Noise, measure, noise
from incircuit.predict.variants import NO_CHANGE, compile_variants, values_of

_COLUMNS = 16_000
"""Boards solved in one batch: bounds the memory."""

Plan = tuple[Cause, tuple[float | None, ...]]
"""A cause and the magnitudes to look at."""


def exact_of(scenes: Sequence[Scene], plans: Sequence[Plan], boards: int,
             circuits: Sequence[Circuit] | None = None) -> tuple[Floats, list[Floats]]:
    """True readings [V or ohm] of the healthy board and of each plan.

    Healthy (readings, 1, boards + 1); each plan (readings, magnitudes, boards + 1), board 0 nominal,
    infinite on overload, readings in the order of the story. `circuits` stand for the scenes' own.
    """
    total = sum(len(s.readings) for s in scenes)
    healthy = np.empty((total, 1, boards + 1))
    found = [np.empty((total, len(sizes), boards + 1)) for _, sizes in plans]
    for k, scene in enumerate(scenes):
        circuit = circuits[k] if circuits else scene.circuit
        conditions: list[Change] = [NO_CHANGE]
        known: dict[tuple[object, ...], int] = {effect(NO_CHANGE): 0}
        use: list[list[int]] = []
        for cause, sizes in plans:
            changes = changes_on(cause, scene, sizes, circuit)
            row = []
            for change in changes or (NO_CHANGE,) * len(sizes):
                at = known.setdefault(effect(change), len(conditions))
                if at == len(conditions):
                    conditions.append(change)
                row.append(at)
            use.append(row)
        exact = _on_scene(scene, circuit, conditions, boards)
        for n, taken in enumerate(scene.readings):
            healthy[taken.number, 0] = exact[n, 0]
            for array, row in zip(found, use, strict=True):
                array[taken.number] = exact[n, row]
    return healthy, found


def _on_scene(scene: Scene, circuit: Circuit, conditions: Sequence[Change],
              boards: int) -> Floats:
    """(readings of the scene, conditions, boards + 1)."""
    asks = tuple(dict.fromkeys(t.ask for t in scene.readings))
    step = max(2, _COLUMNS // ((boards + 1) * len(asks)))
    pieces = []
    for first in range(0, len(conditions), step):
        some = list(conditions[first:first + step])
        block = meters_block([*circuit.elements, *(e for c in some for e in c.add)], scene.red, scene.black)
        names = frozenset(e.name for e in block)
        own = [e for e in circuit.elements if e.name in names]
        cut = [Change(c.remove & names, tuple(e for e in c.add if e.name in names)) for c in some]
        variants = compile_variants(own, cut, scene.red, scene.black)
        one = noise(boards)
        errors = Noise(np.tile(one.leads, len(some)), np.zeros(len(some) * (boards + 1)))
        values = values_of(variants, boards, circuit.state.celsius)
        shows = measure(variants.network, values, scene.meter, asks, errors).shows
        shape = (len(some), boards + 1)
        pieces.append(np.stack([
            _heard(shows[t.ask].exact.reshape(shape), t.observed) for t in scene.readings
        ]))
    return np.concatenate(pieces, axis=1)


def _heard(exact: Floats, seen: Observed) -> Floats:
    """For a beep, everything from the threshold on is one event: silence."""
    return np.where(exact >= seen.end, np.inf, exact) if seen.mode == "beep" else exact
