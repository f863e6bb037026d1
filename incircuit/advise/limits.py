"""What a reading between two pads may show under every condition: nominal, spread, the meter's error."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.compare.screen import effect
from incircuit.meter.display import range_half_width
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change, Resistance
from incircuit.predict.batch import NEIGHBOUR, Pair, drawn, pair_of
from incircuit.predict.measure import Ask, ranges_of

BATCH = 80
"""Conditions in one network: one in which every fault lies at once is dense."""
BOARDS = 24
"""Drawn boards per condition."""
SAME = (1e-3, 3e-3)
"""Readings closer than this [V, relative ohms] are one reading: no meter here tells them apart …"""
FAR = (0.35, 2.0)
"""… and beyond this [V, relative ohms] no spread of parts makes one out of the other."""
GUESSED_VOLTS = (0.06, 0.1)
"""Spread of a reading far from healthy: [V] and a part of it; of ohms as a part, where junctions leak too."""
GUESSED_OHMS = 0.15
GUESSED_LEAKAGE = 2.0
LEAKAGE_FROM = 1e5
JUNCTIONS_FROM = 2e3
WITHIN = 5.0
"""Ohms above the first and within this factor of a sound board's are drawn: junctions may read anything …"""
A_RANGE = 12.0
"""… and so much above: on the range below, ten times the current makes a tenth of the ohms of a junction."""
WIDER = 0.15
"""Few boards span less than 99 of 100: widened by this part of their width on either side, twice where
junctions make ohms range over more than `RANGING` times."""
RANGING = 1.4
EVENLY, FROM = 0.25, 10.0
"""Readings that range over more than so many times lie evenly where their median is this part of half their
width or less from the middle."""
MANY = 64
"""Boards drawn of a sound board whose reading ranges so …"""
LOWER = 30.0
"""… on all ranges of the meter within this factor."""
CAREFUL = 1.6
"""A reading near healthy spreads as the sound board's; boards are drawn where up to so many times that spread
would decide whether the two are told apart."""

Limits = tuple[Floats, Floats, Floats]
"""Nominal reading, low and high [V or ohm, infinite OL], (asks, conditions), the board as it is first."""


def limits_between(circuit: Circuit, changes: Sequence[Change], red: str, black: str, meter: Meter,
                   asks: Sequence[Ask], sure: bool = True, lanes_moved: Sequence[Sequence[int]] = (),
                   boards: int = BOARDS) -> Limits:
    """Limits of all readings between two pads; changes that are one circuit are solved once.

    Boards are drawn for the board as it is and for changes that read near it; with `sure` False only where
    they decide whether the two are told apart: a reading that no change moves is then nominal, with the
    meter's error. `lanes_moved` as in `pair_of`. Raises SolveError.
    """
    first: dict[tuple[object, ...], int] = {}
    stands = [first.setdefault(effect(c), len(first)) for c in changes]
    which = [stands.index(k) for k in range(len(first))]
    unique, lanes = [changes[n] for n in which], [lanes_moved[n] for n in which] if lanes_moved else []
    pairs = [pair_of(circuit, unique[start:start + BATCH], red, black, meter, asks,
                     lanes[start:start + BATCH]) for start in range(0, max(1, len(unique)), BATCH)]
    needed = range(len(asks)) if sure else [a for a in range(len(asks)) if any(_moving(p, a) for p in pairs)]
    sound = _sound(pairs[0], needed, boards)
    pieces: list[Limits] = []
    for pair in pairs:
        found = (pair.exact, *_limits_of(pair, sound, boards, sure))
        pieces.append(found if not pieces else (found[0][:, 1:], found[1][:, 1:], found[2][:, 1:]))
    column = [0, *(k + 1 for k in stands)]
    nominal, low, high = (np.concatenate([p[k] for p in pieces], axis=1)[:, column] for k in range(3))
    return nominal, low, high


def _moving(pair: Pair, a: int) -> bool:
    """Whether any change moves a reading, on the nominal board, by more than passes for the same."""
    return bool(apart(pair.asks[a], pair.exact[a], float(pair.exact[a, 0]), SAME).any())


def _sound(pair: Pair, needed: Sequence[int], boards: int) -> list[Floats]:
    """Readings of drawn boards as they are, for each ask, those not `needed` nominal; more boards where
    junctions make them range widely, or may let a lower range of the meter fit, on which less current leaves
    less voltage."""
    found = [pair.exact[a, :1] for a in range(len(pair.asks))]
    for a, some in zip(needed, drawn(pair, [(a, 0) for a in needed], boards), strict=True):
        found[a] = some
    wide = [a for a in needed if pair.asks[a].mode != "diode" and _ranging(found[a])]
    for a, many in zip(wide, drawn(pair, [(a, 0) for a in wide], MANY, LOWER), strict=True):
        found[a] = many
    return found


def _ranging(ohms: Floats) -> bool:
    low, high = float(ohms.min()), float(ohms.max())  # NaN compares as False
    return low > JUNCTIONS_FROM / 10.0 and high > RANGING * low


def _limits_of(pair: Pair, sound: Sequence[Floats], boards: int, sure: bool) -> tuple[Floats, Floats]:
    """Low and high of every (ask, condition), with the meter's error at either end. `sound` are readings of
    drawn boards as they are, for each ask."""
    exact = pair.exact
    low, high = np.empty_like(exact), np.empty_like(exact)
    near, far = np.zeros(exact.shape, dtype=bool), np.zeros(exact.shape, dtype=bool)
    for a, ask in enumerate(pair.asks):
        end = ranges_of(pair.meter, ask.mode)[-1].full_scale
        low[a], high[a] = widened(sound[a], ask, end)
        other = apart(ask, exact[a], exact[a, 0], SAME)
        near[a] = other & ~apart(ask, exact[a], exact[a, 0], FAR)
        far[a] = other & ~near[a]
        for c in np.flatnonzero(far[a]).tolist():
            low[a, c], high[a, c] = _guessed(ask, float(exact[a, c]), end, (low[a, 0], high[a, 0]))
        for c in np.flatnonzero(near[a]).tolist():
            low[a, c], high[a, c] = _like_sound(ask, exact[a, c], exact[a, 0], (low[a, 0], high[a, 0]), end)
    todo = [(int(a), int(c)) for a, c in zip(*np.nonzero(near), strict=True)
            if sure or _undecided(pair, int(a), int(c), low, high)]
    todo += [(int(a), int(c)) for a, c in zip(*np.nonzero(far), strict=True)
             if pair.asks[a].mode != "diode" and np.isfinite(exact[a, c])
             and (_close(exact[a, c], low[a, 0], high[a, 0])
                  or _at_the_end(pair, pair.asks[a].mode, exact[a, c])
                  or _own_spread(pair.variants.changes[c]) > GUESSED_OHMS)]
    for (a, c), values in zip(todo, _boards(pair, todo, boards), strict=True):
        end = ranges_of(pair.meter, pair.asks[a].mode)[-1].full_scale
        low[a, c], high[a, c] = widened(values, pair.asks[a], end)
    for a, ask in enumerate(pair.asks):
        low[a] -= meter_error(low[a], pair.meter, ask.mode)
        high[a] += meter_error(high[a], pair.meter, ask.mode)
    return low, high


def _boards(pair: Pair, todo: Sequence[tuple[int, int]], boards: int) -> list[Floats]:
    """What drawn boards read, where junctions make ohms on all ranges on which some board may be read."""
    ranging = {key for key in todo if pair.asks[key[0]].mode != "diode" and pair.exact[key] > JUNCTIONS_FROM}
    found: dict[tuple[int, int], Floats] = {}
    for some, factor in (([key for key in todo if key not in ranging], NEIGHBOUR), (sorted(ranging), LOWER)):
        found |= zip(some, drawn(pair, some, boards, factor), strict=True)
    return [found[key] for key in todo]


def _close(exact: float, low: float, high: float) -> bool:
    """Whether ohms far from the nominal sound board's are near to what some sound boards read. Junctions make
    the spread there: a resistance alone reads within its tolerance."""
    return bool(np.isfinite(exact) and exact > JUNCTIONS_FROM
                and low / WITHIN < exact < (high * A_RANGE if np.isfinite(high) else np.inf))


def _at_the_end(pair: Pair, mode: str, exact: float) -> bool:
    """Whether some boards may be read on the next range, where less current makes more ohms of a junction."""
    return exact > JUNCTIONS_FROM and any(r.full_scale / (1.0 + GUESSED_OHMS) < exact <= r.full_scale
                                          for r in ranges_of(pair.meter, mode)[:-1])


def _undecided(pair: Pair, a: int, c: int, low: Floats, high: Floats) -> bool:
    """Whether the spread decides: told apart by the meter's error alone, and not by a generous spread."""
    mode, exact = pair.asks[a].mode, pair.exact[a]
    ends = np.array([exact[c], low[a, 0], high[a, 0], low[a, c], high[a, c]])
    if np.isnan(ends).any():
        return True
    error = meter_error(ends, pair.meter, mode)
    alone = (exact[c] - error[0] > high[a, 0] + error[2]) or (exact[c] + error[0] < low[a, 0] - error[1])
    spread = (low[a, c] - error[3] > high[a, 0] + error[2]) or (high[a, c] + error[4] < low[a, 0] - error[1])
    return bool(alone and not spread)


def apart(ask: Ask, some: Floats, other: float, by: tuple[float, float]) -> npt.NDArray[np.bool_]:
    """Whether readings differ from another by more than `by`: (volts, factor of ohms less 1); NaN never."""
    known = ~np.isnan(some + other) | (np.isinf(some) != np.isinf(other))
    with np.errstate(invalid="ignore"):
        if ask.mode == "diode":
            far = np.abs(some - other) > by[0]
        else:
            far = np.maximum(some, other) > (1.0 + by[1]) * np.minimum(some, other) + by[1] * 0.1
    over = np.isinf(some) | np.isinf(other)
    return np.asarray(np.where(over, np.isinf(some) != np.isinf(other), far) & known & ~np.isnan(some))


def widened(boards: Floats, ask: Ask, end: float) -> tuple[float, float]:
    """Limits of drawn boards, on a scale of ratios for ohms unless they lie evenly on that of ohms (a wiper),
    overload where they reach the display's end; NaN, which nothing is told from, where some could not be
    proven."""
    if np.isnan(boards).any():
        return float("nan"), float("nan")
    finite = boards[np.isfinite(boards)]
    if not len(finite):
        return float("inf"), float("inf")
    low, high = float(finite.min()), float(finite.max())
    if ask.mode == "diode":
        more = WIDER * (high - low)
        low, high = low - more, high + more
    elif low > 0.0:
        factor = (high / low) ** (2.0 * WIDER if high > RANGING * low else WIDER)
        middle = float(np.median(finite))
        evenly = abs(middle - 0.5 * (low + high)) < 0.5 * (high - low) * EVENLY
        if high > FROM * low and evenly:
            high += 2.0 * WIDER * (high - low)
            low /= factor
        else:
            low, high = low / factor, high * factor
    return low, high if len(finite) == len(boards) and high <= end else float("inf")


def _own_spread(what: Change) -> float:
    """The widest spread, relative, of what a change adds: a bad contact may be anything."""
    return max((e.spread.own for e in what.add if isinstance(e, Resistance)), default=0.0)


def _guessed(ask: Ask, exact: float, end: float, sound: tuple[float, float]) -> tuple[float, float]:
    """Limits of a reading far from that of the sound board: a spread as wide as that board's, or wider."""
    if not np.isfinite(exact):
        return exact, exact
    if ask.mode == "diode":
        half = GUESSED_VOLTS[0] + GUESSED_VOLTS[1] * exact
        return max(0.0, exact - half), exact + half if exact + half < end else float("inf")
    factor = 1.0 + (GUESSED_OHMS if exact < LEAKAGE_FROM else GUESSED_LEAKAGE)
    if 0.0 < sound[0] <= sound[1] < LEAKAGE_FROM:
        factor = max(factor, float(np.sqrt(sound[1] / sound[0])))
    low, high = exact / factor, exact * factor
    return low, high if high <= end else float("inf")


def _like_sound(ask: Ask, exact: float, healthy: float, sound: tuple[float, float],
                end: float) -> tuple[float, float]:
    """Limits of a reading near the sound board's: that board's spread, `CAREFUL` times."""
    if not np.isfinite(sum(sound)):
        return _guessed(ask, float(exact), end, sound)
    if ask.mode == "diode":
        low, high = (exact + CAREFUL * (side - healthy) for side in sound)
    else:
        ratios = (max(side, 1e-9) / max(healthy, 1e-9) for side in sound)
        low, high = (exact * ratio**CAREFUL for ratio in ratios)
    return float(low), float(high) if high <= end else float("inf")


def meter_error(values: Floats, meter: Meter, mode: str) -> Floats:
    """Half width of the meter's accuracy and rounding, 0 at overload."""
    scales = ranges_of(meter, mode)
    found = np.zeros(len(values))
    for k, value in enumerate(values.tolist()):
        if np.isfinite(value):
            scale = next((s for s in scales if value <= s.full_scale), scales[-1])
            found[k] = range_half_width(scale, abs(value)) + 0.5 * scale.resolution
    return found
