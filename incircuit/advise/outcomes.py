"""What every reading in place would show under every condition of the board."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import numpy.typing as npt

from incircuit.board.model import Board
from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.compare.screen import effect
from incircuit.errors import SolveError
from incircuit.meter.display import range_half_width
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change
from incircuit.predict.batch import Pair, drawn, pair_of
from incircuit.predict.measure import Ask, ranges_of

Progress = Callable[[int, int], None]
"""Told how much of how much is done."""

BATCH = 80
"""Conditions in one network."""
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
WIDER = 0.15
"""Few boards span less than 99 of 100: widened by this part of their width on either side."""
NEAR = 60
"""Pairs of pads above which only those that share a part are looked at."""


@dataclass(frozen=True, slots=True)
class Probe:
    """One reading in place: pads by net name, as the leads go."""

    red: str
    black: str
    mode: str

    @property
    def pair(self) -> tuple[str, str]:
        """The two pads, in order of their names."""
        return (self.red, self.black) if self.red <= self.black else (self.black, self.red)


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Limits of what is displayed, (probes, conditions); infinite is OL. Condition 0 is the board as it is.

    `nominal` is what the nominal board shows; `low` and `high` hold 99 of 100 boards and the meter's
    error. `complete` is False where it was stopped early.
    """

    probes: tuple[Probe, ...]
    nominal: Floats
    low: Floats
    high: Floats
    complete: bool = True

    def span(self, probe: int, condition: int) -> tuple[float, float]:
        """Low and high of a reading under a condition."""
        return float(self.low[probe, condition]), float(self.high[probe, condition])

    def told(self, probe: int, a: int, b: int) -> bool:
        """Whether a reading tells two conditions apart: their limits do not meet."""
        return bool(self.low[probe, a] > self.high[probe, b] or self.low[probe, b] > self.high[probe, a])

    def shown_by(self) -> npt.NDArray[np.bool_]:
        """(probes, conditions): whether a reading tells a condition from condition 0."""
        return np.asarray((self.low > self.high[:, :1]) | (self.high < self.low[:, :1]))


def pads_of(board: Board, elements_at: Sequence[str]) -> tuple[str, ...]:
    """Nets a probe can touch: not hidden, and with something on them, in the order of the board."""
    hidden = {net.name for net in board.nets if net.hidden}
    present = set(elements_at)
    return tuple(name for name in board.net_names() if name not in hidden and name in present)


def pairs_of(board: Board, pads: Sequence[str], most: int = NEAR) -> tuple[tuple[str, str], ...]:
    """Pairs of pads: those that share a part, and the others too where there are at most `most` in all."""
    wanted = set(pads)
    close: dict[tuple[str, str], None] = {}
    if len(wanted) * (len(wanted) - 1) // 2 > most:
        most = 0
    for part in board.parts:
        nets = sorted({net for _, net in part.pins if net in wanted})
        for pair in combinations(nets, 2):
            close[pair] = None
    if most:
        for a, b in combinations(pads, 2):
            close.setdefault((min(a, b), max(a, b)))
    return tuple(close)


def outcomes_of(circuit: Circuit, conditions: Sequence[Change], meter: Meter,
                pairs: Sequence[tuple[str, str]], modes: Sequence[str] = (), boards: int = BOARDS,
                progress: Progress | None = None) -> Outcomes:
    """All modes, both ways round, for every pair; conditions that are one circuit are solved once.

    Condition 0 must be the board as it is (`NO_CHANGE`). Boards are drawn for it and for conditions that
    read near it; one that reads far from it is given a `GUESSED` spread.
    """
    first: dict[tuple[object, ...], int] = {}
    stands = [first.setdefault(effect(c), len(first)) for c in conditions]
    unique = [conditions[stands.index(k)] for k in range(1, len(first))]
    asks = [Ask(mode, swap) for mode in (modes or default_modes(meter)) for swap in (False, True)]
    probes: list[Probe] = []
    rows: list[tuple[Floats, Floats, Floats]] = []
    complete = True
    try:
        for number, (red, black) in enumerate(pairs):
            if progress:
                progress(number, len(pairs))
            for ask, row in _one_pair(circuit, unique, red, black, meter, asks, boards):
                probes.append(Probe(black, red, ask.mode) if ask.swapped else Probe(red, black, ask.mode))
                rows.append(row)
    except KeyboardInterrupt:
        complete = False
        del rows[len(probes):]
    if not rows:
        empty = np.empty((0, len(conditions)))
        return Outcomes((), empty, empty, empty, complete)
    nominal, low, high = (np.stack([row[k] for row in rows])[:, stands] for k in range(3))
    return Outcomes(tuple(probes[:len(rows)]), nominal, low, high, complete)


def _one_pair(circuit: Circuit, unique: Sequence[Change], red: str, black: str, meter: Meter,
              asks: Sequence[Ask], boards: int) -> list[tuple[Ask, tuple[Floats, Floats, Floats]]]:
    """(ask, (nominal, low, high)) of a pair of pads, each over the conditions, some conditions at a time:
    a network in which every fault lies at once is dense."""
    pieces: list[tuple[Floats, ...]] = []
    sound: list[Floats] = []
    try:
        for first in range(0, max(1, len(unique)), BATCH):
            pair = pair_of(circuit, unique[first:first + BATCH], red, black, meter, asks)
            sound = sound or drawn(pair, [(a, 0) for a in range(len(asks))], boards)
            found = (pair.exact, *_limits_of(pair, sound, boards))
            pieces.append(found if not pieces else tuple(a[:, 1:] for a in found))
    except SolveError:
        return []  # nothing can be said about these pads
    nominal, low, high = (np.concatenate([p[k] for p in pieces], axis=1) for k in range(3))
    return [(ask, (nominal[a], low[a], high[a])) for a, ask in enumerate(asks)]


def _limits_of(pair: Pair, sound: Sequence[Floats], boards: int) -> tuple[Floats, Floats]:
    """Low and high of every (ask, condition), with the meter's error at either end. `sound` are readings of
    drawn boards as they are, for each ask."""
    exact = pair.exact
    todo = []
    for a, ask in enumerate(pair.asks):
        for c in sorted(pair.moved):
            one, other = float(exact[a, c]), float(exact[a, 0])
            if _apart(ask, one, other, SAME) and not _apart(ask, one, other, FAR):
                todo.append((a, c))
    known = dict(zip(todo, drawn(pair, todo, boards), strict=True)) | {(a, 0): s for a, s in enumerate(sound)}
    low, high = np.empty_like(exact), np.empty_like(exact)
    for a, ask in enumerate(pair.asks):
        end = ranges_of(pair.meter, ask.mode)[-1].full_scale
        for c in range(pair.conditions):
            if (a, c) in known:
                low[a, c], high[a, c] = _widened(known[a, c], ask, end)
            elif not _apart(ask, exact[a, c], exact[a, 0], SAME):
                low[a, c], high[a, c] = _widened(known[a, 0], ask, end)
            else:
                low[a, c], high[a, c] = _guessed(ask, float(exact[a, c]), end, (low[a, 0], high[a, 0]))
        low[a] -= _error(low[a], pair.meter, ask.mode)
        high[a] += _error(high[a], pair.meter, ask.mode)
    return low, high


def _apart(ask: Ask, one: float, other: float, by: tuple[float, float]) -> bool:
    """Whether two readings differ by more than `by`: (volts, factor of ohms less 1); NaN never does."""
    if np.isinf(one) or np.isinf(other):
        return one != other and not np.isnan(one + other)
    if ask.mode == "diode":
        return abs(one - other) > by[0]
    return max(one, other) > (1.0 + by[1]) * min(one, other) + by[1] * 0.1


def _widened(boards: Floats, ask: Ask, end: float) -> tuple[float, float]:
    """Limits of drawn boards, on a scale of ratios for ohms, overload where they reach the display's end;
    NaN, which nothing is told from, where some could not be proven."""
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
        factor = (high / low) ** WIDER
        low, high = low / factor, high * factor
    return low, high if len(finite) == len(boards) and high <= end else float("inf")


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


def default_modes(meter: Meter) -> tuple[str, ...]:
    """Modes worth proposing: continuity tells nothing that ohms does not."""
    kept = tuple(m for m in meter.modes if m != "continuity")
    return kept or meter.modes


def _error(values: Floats, meter: Meter, mode: str) -> Floats:
    """Half width of the meter's accuracy and rounding, 0 at overload."""
    scales = ranges_of(meter, mode)
    found = np.zeros(len(values))
    for k, value in enumerate(values.tolist()):
        if np.isfinite(value):
            scale = next((s for s in scales if value <= s.full_scale), scales[-1])
            found[k] = range_half_width(scale, abs(value)) + 0.5 * scale.resolution
    return found


def telling(outcomes: Outcomes, condition: int) -> Iterator[tuple[int, float]]:
    """(probe, margin) for the readings that show a condition, widest margin first.

    The margin is the gap between the two bands as a share of the whole span; OL against a number is 1.
    """
    found = []
    for k in range(len(outcomes.probes)):
        if outcomes.told(k, 0, condition):
            found.append((k, _margin(outcomes, k, condition)))
    yield from sorted(found, key=lambda f: (-f[1], f[0]))


def _margin(o: Outcomes, probe: int, condition: int) -> float:
    ends = (o.low[probe, 0], o.high[probe, 0], o.low[probe, condition], o.high[probe, condition])
    if np.isinf(ends).any():
        return 1.0
    gap = max(ends[2] - ends[1], ends[0] - ends[3])
    return float(gap / (max(ends) - min(ends)))
