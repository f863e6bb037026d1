"""Which faults, at which magnitudes, could have given a reading: a cheap look before the full one.

First every fault is solved at its most severe magnitudes on the nominal board: one that changes
nothing there changes nothing at a milder one, and the reading is blind to it. The others are solved
on a few drawn boards at some magnitudes; only where those come near the reading is it worth drawing
many boards at every magnitude.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.compare.likelihood import Seen
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change, Resistance
from incircuit.parts.structure import node_fields
from incircuit.predict.faulty import Case, cases_of, measure_cases
from incircuit.predict.measure import Ask, ranges_of
from incircuit.predict.question import Question

GRID = 41
"""Magnitudes per fault of unknown size, evenly spaced in the logarithm."""
STRIDE = 5
"""Of the grid, every so manieth magnitude is looked at first."""
FEW = 6
"""Drawn boards of the first look."""
NOTHING = 0.05
"""A fault that moves the nominal reading by less than this part of what healthy boards and meters
differ by (standard deviation) moves nothing."""
FLAT = 0.5
"""Magnitudes whose nominal readings differ by less than this part of the spread read alike."""
REACH = 0.7
"""Few boards span less than many: widened by this part of their width on either side."""
_HIGHEST = 1e15
_COLUMNS = 12_000
"""Boards solved in one batch: bounds the memory."""

Group = tuple[Case, ...]
"""One fault at all its magnitudes, in rising order."""


@dataclass(frozen=True, slots=True)
class Look:
    """What the first look found, by number of the fault.

    `blind`: faults that change nothing. Of each other fault: `rows`, the magnitudes worth more boards;
    `like`, further ones, each with the row of `rows` that reads like it; `quiet`, those at which it
    reads like a healthy board; `rough`, its nominal readings [V or ohm] at all magnitudes,
    interpolated: enough to tell what is far from the reading, infinite on overload.
    """

    blind: frozenset[int]
    rows: dict[int, tuple[int, ...]]
    like: dict[int, dict[int, int]]
    quiet: dict[int, tuple[int, ...]]
    rough: dict[int, Floats]


def groups_of(question: Question, parts: Sequence[str]) -> tuple[Group, ...]:
    """Every single fault of some parts at all its magnitudes."""
    cases = [c for ref in parts for c in cases_of(question.circuit, ref, GRID)]
    return tuple(tuple(g) for _, g in groupby(cases, key=lambda c: (c.part.ref, c.name)))


def continuous(group: Group) -> bool:
    """Whether the magnitude may also lie between those of the group."""
    size = group[0].defect.magnitude
    return len(group) > 1 and size is not None and not size.choices


def effect(change: Change) -> tuple[object, ...]:
    """What a change does to the circuit, whichever part it is in: equal effects are one circuit.

    Removed elements count by name, added ones by kind, nodes and parameters.
    """
    added = []
    for e in change.add:
        if isinstance(e, Resistance):
            added.append(("Resistance", *sorted((e.a, e.b)), repr((e.ohms, e.spread, e.ntc_beta, e.tempco))))
        else:
            added.append((type(e).__name__, *node_fields(e).values(), repr(e)))
    return (tuple(sorted(change.remove)), *sorted(added))


def ranges_for(meter: Meter, mode: str, value: float | None) -> tuple[int, ...]:
    """The range a value [V or ohm] is read on and those below that must not have fitted.

    What does not fit the next lower range fits none below it, as voltage rises with current: except
    a range that allows more voltage at its end, or whose source is a voltage behind a resistance.
    """
    scales = ranges_of(meter, mode)
    last = len(scales) - 1
    on = last if value is None else next((k for k, r in enumerate(scales) if value <= r.full_scale), last)
    if not on:
        return (0,)
    ends = [r.full_scale * r.source.current for r in scales]
    lower = [k for k in range(on - 1) if not ends[k] <= ends[on - 1] < float("inf")]
    return (*lower, on - 1, on)


def exact_readings(question: Question, meter: Meter, ask: Ask, cases: Sequence[Case],
                   boards: int) -> tuple[Floats, Floats]:
    """True and displayed readings [V or ohm] of the healthy board (row 0) and of each case.

    (1 + cases, boards + 1) each, column 0 the nominal board; infinite on overload.
    """
    step = max(1, _COLUMNS // (boards + 1))
    exact: list[Floats] = []
    shown: list[Floats] = []
    for first in range(0, max(1, len(cases)), step):
        some = cases[first:first + step]
        bench = measure_cases(question.circuit, some, question.red_node, question.black_node, meter, [ask],
                              boards)
        shows = bench.shows[ask]
        cut = slice(0 if not first else 1, None)
        exact.append(shows.exact.reshape(len(some) + 1, boards + 1)[cut])
        shown.append(shows.value.reshape(len(some) + 1, boards + 1)[cut])
    return np.concatenate(exact), np.concatenate(shown)


def look(question: Question, meter: Meter, ask: Ask, seen: Seen, groups: Sequence[Group],
         healthy: Floats) -> Look:
    """Find the faults a reading is blind to, and the magnitudes of the others that come near it.

    `healthy` are true readings [V or ohm] of healthy boards, the nominal one first.
    """
    narrowed = Ask(ask.mode, ask.swapped, ranges_for(meter, ask.mode, seen.value))
    severe = [(k, case) for k, group in enumerate(groups) for case in _most_severe(group)]
    exact, _ = exact_readings(question, meter, narrowed, [case for _, case in severe], 0)
    nominal, least = float(exact[0, 0]), _least_change(healthy, seen)
    same = _alike(exact[1:, 0], nominal, least)
    active = sorted({k for (k, _), alike in zip(severe, same, strict=True) if not alike})
    picked = [(k, row) for k in active for row in _coarse(groups[k])]
    near, _ = exact_readings(question, meter, narrowed, [groups[k][row] for k, row in picked], FEW)
    low, high = _reach(near[1:], seen)
    found = Look(frozenset(range(len(groups))) - frozenset(active), {}, {}, {}, {})
    for k in active:
        own = [i for i, (other, _) in enumerate(picked) if other == k]
        looked = [picked[i][1] for i in own]
        rough = _between(near[1:][own, 0], looked, len(groups[k]))
        quiet = set(np.flatnonzero(_alike(rough, nominal, least)).tolist())
        worth = _worth(groups[k], looked, low[own], high[own], seen)
        found.rough[k], found.quiet[k] = rough, tuple(sorted(quiet))
        flat = _flat(near[1:][own], looked, seen) if continuous(groups[k]) else {}
        found.like[k] = {row: flat[row] for row in worth if row in flat and row not in quiet}
        needed = {flat.get(row, row) for row in worth if row not in quiet}
        found.rows[k] = tuple(sorted(needed))
    return found


def _flat(exact: Floats, rows: Sequence[int], seen: Seen) -> dict[int, int]:
    """Rows that read nearly like one of those looked at, each with that one."""
    found: dict[int, int] = {}
    stands = list(rows)
    spread = [float(np.hypot(row[np.isfinite(row)].std(), seen.sigma)) if np.isfinite(row).any() else 0.0
              for row in exact]
    for k in range(1, len(rows)):
        before = rows.index(stands[k - 1])
        both = bool(np.isfinite(exact[[k, before]]).all())
        if both and abs(float(exact[k, 0] - exact[before, 0])) < FLAT * max(spread[k], spread[before]):
            stands[k] = stands[k - 1]
            found |= dict.fromkeys(range(rows[k - 1] + 1, rows[k] + 1), stands[k])
    return found


def _least_change(healthy: Floats, seen: Seen) -> float:
    """The least change of the nominal reading that can matter [V or ohm]."""
    finite = healthy[np.isfinite(healthy)]
    spread = float(finite.std()) if len(finite) else 0.0
    return NOTHING * float(np.hypot(spread, seen.sigma)) + 1e-9


def _between(nominal: Floats, rows: Sequence[int], count: int) -> Floats:
    """Readings at all rows from those at some, straight between them, overload between two of it."""
    high = np.minimum(nominal, _HIGHEST)
    full = np.interp(np.arange(count), np.asarray(rows), high)
    return np.where(full >= 0.5 * _HIGHEST, np.inf, full)


def _most_severe(group: Group) -> tuple[Case, ...]:
    """The magnitudes farthest from healthy: the least ohms of a leak, both ends of a drift."""
    size = group[0].defect.magnitude
    if len(group) == 1:
        return group
    return (group[0],) if size is not None and size.unit == "Ω" else (group[0], group[-1])


def _alike(exact: Floats, healthy: float, least: float) -> Floats:
    if np.isinf(healthy):
        return np.isinf(exact)
    return np.asarray(np.abs(exact - healthy) <= least)


def _coarse(group: Group) -> tuple[int, ...]:
    if not continuous(group):
        return tuple(range(len(group)))
    return tuple(range(0, len(group), STRIDE))


def _reach(exact: Floats, seen: Seen) -> tuple[Floats, Floats]:
    """Generous limits of each row: its few boards, widened, with the meter's error."""
    finite = np.isfinite(exact)
    low = np.where(finite, exact, np.inf).min(axis=1)
    high = np.where(finite, exact, -np.inf).max(axis=1)
    width = REACH * np.where(high >= low, high - low, 0.0) + 2.0 * (seen.error + seen.rounding)
    over = ~finite.all(axis=1)
    low = np.where(np.isfinite(low), low - width, 0.8 * seen.full_scale)
    return np.asarray(low), np.asarray(np.where(over, np.inf, high + width))


def _worth(group: Group, rows: Sequence[int], low: Floats, high: Floats, seen: Seen) -> tuple[int, ...]:
    """Rows in or next to an interval of magnitudes in which the reading may lie."""
    at = seen.full_scale if seen.value is None else seen.value
    if seen.beeps is not None:
        at = seen.beeps_below
    if not continuous(group):
        return tuple(row for row, a, b in zip(rows, low, high, strict=True) if a <= at <= b)
    low, high = low.copy(), high.copy()
    for end, inner in ((0, 1), (-1, -2)):  # the magnitudes go on for half a step beyond the outer rows
        low[end] -= max(float(low[inner] - low[end]), 0.0) / STRIDE
        high[end] += max(float(high[end] - high[inner]), 0.0) / STRIDE if np.isfinite(high[end]) else 0.0
    found: set[int] = set()
    for k in range(len(rows) - 1):
        if min(low[k], low[k + 1]) <= at <= max(high[k], high[k + 1]):
            found.update(range(rows[k], rows[k + 1] + 1))
    return tuple(sorted(found))
