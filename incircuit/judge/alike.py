"""Faults that no reading in place can tell apart: every pair of pads near them is tried, on paper.

Some are one circuit by another name (`incircuit.compare.twins`); others differ by less than parts and meters
do: a leak on this side or on that of ten ohms.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.judge.causes import changes_on
from incircuit.judge.explanation import Explanation
from incircuit.judge.memory import Notes
from incircuit.judge.observed import scaled
from incircuit.judge.scenes import Scene, contact_in, range_of, unit_of
from incircuit.judge.stage import Stage, condition_of, rows_at, stage_of
from incircuit.meter.display import range_half_width
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change, nodes_of, stores
from incircuit.predict.measure import Ask

PAIRS = 60
"""Pairs of pads tried, the nearest first."""
CHARGING_PAIRS = 6
"""So many in farads and esr, which cost more: across the parts in question."""
BOARDS = 16
TOLD = 2.5
"""Two readings are told apart from this many standard deviations on …"""
NEAR_END = 0.8
"""… and overload from a number below this part of the range's end."""


def alike_in_place(scenes: Sequence[Scene], lead: Explanation, others: Sequence[Explanation],
                   notes: Notes) -> tuple[Explanation, ...]:
    """The others that no reading in place tells from the lead, on the board as it first was."""
    base = where(scenes, lead)
    changes = [_change(e, base) for e in (lead, *others)]
    left = [k for k in range(1, len(changes)) if changes[k] is not None]
    if changes[0] is None:
        return ()
    asks = _asks(base.plain)
    for red, black in _pads(base, (lead, *others)):
        if not left:
            break
        scene = replace(base, meter=base.plain, red=red, black=black, readings=())
        some = [c for k in (0, *left) if (c := changes[k]) is not None]
        stage = stage_of([scene], notes)
        if any(stage.grounds[0].reach.touched_by(c) for c in some):
            told = _told(stage, asks, some)
            left = [k for k, apart in zip(left, told, strict=True) if not apart]
    for ask in _charging(base.plain):
        for red, black in _pads(base, (lead, *others), CHARGING_PAIRS):
            some = [c for k in (0, *left) if (c := changes[k]) is not None]
            if not left or not any(_alternates(c, base) for c in some):
                break
            taken = replace(base.readings[0], ask=ask)
            stage = stage_of([replace(base, red=red, black=black, readings=(taken,))], notes)
            told = _told(stage, (ask,), some)
            left = [k for k, apart in zip(left, told, strict=True) if not apart]
    return tuple(others[k - 1] for k in left)


def _charging(meter: Meter) -> tuple[Ask, ...]:
    """Modes in which capacitors and windings show themselves, the cheap one first."""
    return tuple(Ask(mode) for mode in ("esr", "farads") if mode in meter.all_modes)


def _alternates(change: Change, base: Scene) -> bool:
    """Whether a change is about a capacitance or a winding."""
    gone = [e for e in base.circuit.elements if e.name in change.remove]
    return any(stores(e) for e in (*gone, *change.add))


def where(scenes: Sequence[Scene], lead: Explanation | None) -> Scene:
    """The first scene on which the lead's faults are on the board."""
    faults = lead.faults if lead else ()
    return next((s for s in scenes if all(changes_on(f.cause, s, (f.size,)) for f in faults)), scenes[0])


def _change(e: Explanation, base: Scene) -> Change | None:
    """What an explanation does to the board; None where it does nothing there."""
    found = [changes_on(f.cause, base, (f.size,)) for f in e.faults]
    if not all(found):
        return None
    each = [c[0] for c in found if c]
    return Change(frozenset().union(*(c.remove for c in each)), tuple(a for c in each for a in c.add))


def _asks(meter: Meter) -> tuple[Ask, ...]:
    return tuple(Ask(mode, swapped) for mode in ("ohms", "diode") if mode in meter.modes
                 for swapped in (False, True))


def _pads(base: Scene, some: Sequence[Explanation], most: int = PAIRS) -> Iterator[tuple[str, str]]:
    """Pairs of nets that a probe can touch, those at the parts in question first."""
    board = base.circuit.board
    hidden = {net.name for net in board.nets if net.hidden}
    nets = sorted({n for e in base.circuit.elements for n in nodes_of(e)} & set(board.net_names()) - hidden)
    here = {net for e in some for f in e.faults
            for net in (f.cause.between if not f.cause.part else
                        [n for _, n in board.part(f.cause.part).pins])}
    every = sorted(combinations(nets, 2), key=lambda p: (-len(here & set(p)), p))
    return iter(every[:most])


def _told(stage: Stage, asks: Sequence[Ask], changes: Sequence[Change]) -> list[bool]:
    """For each change but the first, whether some reading tells it from the first."""
    meter = stage.scenes[0].plain
    conditions = [condition_of(stage, 0, c) for c in changes]
    nominal = rows_at(stage, 0, asks, conditions, 0)[:, :, 0]
    apart = np.zeros(len(changes), dtype=bool)
    spread: dict[int, float] = {}
    for a, ask in enumerate(asks):
        for k in range(1, len(changes)):
            if apart[k]:
                continue
            off, error = _difference(meter, ask, float(nominal[a, 0]), float(nominal[a, k]))
            if off > TOLD * error:
                if a not in spread:
                    spread[a] = _spread(rows_at(stage, 0, (ask,), conditions[:1], BOARDS)[0, 0], ask.mode)
                apart[k] = off > TOLD * math.hypot(error, spread[a])
    return [bool(x) for x in apart[1:]]


def _difference(meter: Meter, ask: Ask, one: float, other: float) -> tuple[float, float]:
    """How far two readings [V or ohm] lie apart on their scale, and the meter's deviation there."""
    if math.isnan(one) or math.isnan(other) or one == other:
        return 0.0, 1.0
    low, unit = min(one, other), unit_of(meter, ask)
    scale = range_of(meter, ask.mode, low / unit)
    if math.isinf(one) or math.isinf(other):
        end = range_of(meter, ask.mode, math.inf).full_scale * unit
        return (math.inf if low < NEAR_END * end else 0.0), 1.0
    rounding = 0.5 * scale.resolution + contact_in(ask.mode)
    error = unit * math.hypot(range_half_width(scale, low / unit), rounding) / math.sqrt(3.0)
    slope = 1.0 if ask.mode == "diode" else 1.0 / math.hypot(1.0, low)
    ends = scaled(np.array([one, other]), ask.mode)
    return float(abs(ends[1] - ends[0])), error * slope


def _spread(boards: Floats, mode: str) -> float:
    """Standard deviation of drawn boards on their scale."""
    finite = scaled(boards[np.isfinite(boards)], mode)
    return float(finite.std()) if len(finite) > 1 else 0.0
