"""Readings of one pair of pads under many changes of the board, solved together and only where they move."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Before, Guess
from incircuit.circuit.solve import guess_of, solve
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values
from incircuit.errors import SolveError
from incircuit.meter.profile import Meter, Range
from incircuit.parts.elements import Capacitance, Change, Element
from incircuit.paths.blocks import meters_block
from incircuit.predict.measure import LEAD_SPREAD, Ask, Lane, asked_ranges, lanes_of, noise
from incircuit.predict.still import still_of
from incircuit.predict.variants import NO_CHANGE, Variants, compile_variants, values_of

NEIGHBOUR = 3.0
"""Drawn boards read within this factor of the nominal one, as far as the choice of ranges goes."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two pads and all conditions between them as one compiled network; condition 0 is the board as it is.

    `exact` [V or ohm] are the nominal boards' readings, (asks, conditions), infinite on overload and NaN
    where nothing could be proven; `moved` the conditions of which anything had to be solved. `guess` is
    where the nominal boards rest, column = lane·conditions + condition.
    """

    variants: Variants
    meter: Meter
    celsius: float
    asks: tuple[Ask, ...]
    lanes: tuple[Lane, ...]
    use: dict[Ask, tuple[int, ...]]
    exact: Floats
    moved: frozenset[int]
    guess: Guess

    @property
    def conditions(self) -> int:
        """How many conditions there are, the board as it is included."""
        return len(self.variants.changes)


@dataclass(frozen=True, slots=True)
class _Points:
    """Terminal volts and amps of operating points, (points,), and where they rest."""

    volts: Floats
    amps: Floats
    guess: Guess


def pair_of(circuit: Circuit, changes: Sequence[Change], red: str, black: str, meter: Meter,
            asks: Sequence[Ask], lanes_moved: Sequence[Sequence[int]] = ()) -> Pair:
    """All changes measured on the nominal board. Raises SolveError where the board as it is cannot be.

    `lanes_moved`: for each change the lanes it may move, where that is known already.
    """
    variants = _compiled(circuit, changes, red, black)
    lanes, use = lanes_of(meter, asks)
    count = len(variants.changes)
    values = values_of(variants, 0, circuit.state.celsius)
    leads = np.full(len(lanes), meter.lead_resistance)
    healthy = solve(variants.network, values.take(slice(0, 1)), _drive(lanes, np.arange(len(lanes)), leads))
    still = still_of(healthy, meter, asks, lanes, use)
    moves = np.zeros((len(lanes), count), dtype=bool)
    for c in range(1, count):
        moved_by = still.moving(variants.changes[c])
        moves[[n for n in moved_by if not lanes_moved or n in lanes_moved[c - 1]], c] = True
    guess = Guess(*(np.repeat(a, count, axis=1) for a in guess_of(healthy).arrays()))
    sign = np.array([n.sign for n in lanes], dtype=np.float64)[:, None]
    # what is not solved fits no range
    volts = np.where(moves, sign * np.inf, healthy.pad_voltage[:, None])
    amps = np.where(moves, 0.0, healthy.current[:, None])
    stage = _Stage(variants, values, meter, tuple(asks), lanes, use, guess, volts, amps)
    first = np.zeros_like(moves)
    at = {ask: _on(stage, ask, stage.read(ask)[0]) for ask in asks}
    for ask in asks:
        first[_first_lanes(stage, ask, at[ask])] = True
    stage.solve(first & moves)
    rest = np.zeros_like(moves)
    for ask in asks:
        for n, fitting in _further(stage, ask, at[ask]):
            rest[n] |= fitting
    stage.solve(rest & moves & ~first)
    exact = np.stack([stage.read(ask) for ask in asks])
    moved = frozenset(np.flatnonzero(moves.any(axis=0)).tolist())
    return Pair(variants, meter, circuit.state.celsius, tuple(asks), lanes, use, exact, moved, guess)


@dataclass(frozen=True, slots=True)
class _Stage:
    """Nominal boards while they are solved; the arrays (lanes, conditions) fill up."""

    variants: Variants
    values: Values
    meter: Meter
    asks: tuple[Ask, ...]
    lanes: tuple[Lane, ...]
    use: dict[Ask, tuple[int, ...]]
    guess: Guess
    volts: Floats
    amps: Floats

    def solve(self, wanted: npt.NDArray[np.bool_]) -> None:
        """Solve some lanes of some conditions, (lanes, conditions) boolean."""
        at = np.flatnonzero(wanted)
        if not len(at):
            return
        count = wanted.shape[1]
        leads = np.full(len(at), self.meter.lead_resistance)
        new = _points(self.variants.network, self.values.take(at % count),
                      _drive(self.lanes, at // count, leads), self.guess.take(at))
        self.volts.flat[at], self.amps.flat[at] = new.volts, new.amps
        for array, found in zip(self.guess.arrays(), new.guess.arrays(), strict=True):
            array[:, at] = found

    def read(self, ask: Ask, only: Sequence[int] = ()) -> Floats:
        """What has been solved of one ask, on some or all of its ranges."""
        leads = np.full(self.volts.shape, self.meter.lead_resistance)
        rows = zip(self.use[ask], asked_ranges(self.meter, ask), strict=True)
        chosen = {n: scale for k, (n, scale) in enumerate(rows) if not only or k in only}
        return _read(ask, chosen, *_terminal(self.lanes, self.volts, self.amps, leads))


def _on(stage: _Stage, ask: Ask, exact: float) -> int:
    """Number of the range a reading stands on."""
    scales = asked_ranges(stage.meter, ask)
    return next((k for k, (_, r) in enumerate(scales) if exact <= r.full_scale), len(scales) - 1)


def _falling(stage: _Stage, ask: Ask) -> bool:
    """Whether what does not fit a range fits none below it: voltage rises with current, so it does not
    unless a lower range allows more voltage at its end."""
    ends = [r.full_scale * r.source.current for _, r in asked_ranges(stage.meter, ask)]
    return all(a <= b * (1.0 + 1e-9) < float("inf") for a, b in pairwise(ends))


def _first_lanes(stage: _Stage, ask: Ask, on: int) -> list[int]:
    """The lanes of the range the board as it is reads on and of the one below."""
    lanes = stage.use[ask]
    return list(lanes[max(0, on - 1):on + 1] if _falling(stage, ask) else lanes)


def _further(stage: _Stage, ask: Ask, on: int) -> Iterator[tuple[int, Floats]]:
    """(lane, conditions) where the first two ranges have not settled it."""
    lanes = stage.use[ask]
    if len(lanes) < 2 or not _falling(stage, ask):
        return
    above = np.isinf(stage.read(ask, (on,)))
    below = np.isfinite(stage.read(ask, (on - 1,))) if on else np.zeros_like(above)
    for k, n in enumerate(lanes):
        if k < on - 1 or k > on:
            yield n, below if k < on else above


def drawn(pair: Pair, todo: Sequence[tuple[int, int]], boards: int,
          neighbour: float = NEIGHBOUR) -> list[Floats]:
    """True readings [V or ohm] of some (ask, condition) on the nominal and `boards` drawn boards.

    The same boards serve every condition, so that conditions differ by the fault alone. Only ranges within
    a factor of `neighbour` of the nominal reading are tried.
    """
    if not todo:
        return []
    near = {(a, c): _near(pair, pair.asks[a], float(pair.exact[a, c]), neighbour) for a, c in todo}
    points = sorted({(n, c) for key, scales in near.items() for n in scales for c in (key[1],)})
    conditions = sorted({c for _, c in points})
    width, lane = boards + 1, np.array([n for n, _ in points])
    some = replace(pair.variants, changes=tuple(pair.variants.changes[c] for c in conditions))
    column = np.array([conditions.index(c) * width for _, c in points])[:, None] + np.arange(width)
    one = pair.meter.lead_resistance * (1.0 + LEAD_SPREAD * noise(boards).leads)
    leads = np.tile(one, len(points))
    values = values_of(some, boards, pair.celsius).take(column.ravel())
    nominal = values.take(width * np.arange(len(points)))
    rest = pair.guess.take(np.array([n * pair.conditions + c for n, c in points]))
    found = _points(pair.variants.network, values, _drive(pair.lanes, np.repeat(lane, width), leads), rest,
                    Before(nominal.nvt, nominal.is_, np.repeat(np.arange(len(points)), width)))
    shape = (len(points), width)
    terminal = _terminal([pair.lanes[n] for n in lane], found.volts.reshape(shape),
                         found.amps.reshape(shape), leads.reshape(shape))
    row = {key: k for k, key in enumerate(points)}
    return [_read(pair.asks[a], {row[n, c]: scale for n, scale in near[a, c].items()}, *terminal)
            for a, c in todo]


def _compiled(circuit: Circuit, changes: Sequence[Change], red: str, black: str) -> Variants:
    direct: list[Element] = [e for e in circuit.elements if not isinstance(e, Capacitance)]
    added = {e.name: e for c in changes for e in c.add if not isinstance(e, Capacitance)}
    names = frozenset(e.name for e in meters_block([*direct, *added.values()], red, black))
    cut = [Change(c.remove & names, tuple(e for e in c.add if e.name in names)) for c in changes]
    return compile_variants([e for e in direct if e.name in names], [NO_CHANGE, *cut], red, black)


def _near(pair: Pair, ask: Ask, exact: float, neighbour: float) -> dict[int, tuple[int, Range]]:
    """The lanes, with their ranges, that boards like the nominal one may be read on."""
    scales = list(zip(pair.use[ask], asked_ranges(pair.meter, ask), strict=True))
    on = next((k for k, (_, (_, r)) in enumerate(scales) if exact <= r.full_scale), len(scales) - 1)
    low = high = on
    while low > 0 and exact < neighbour * scales[low - 1][1][1].full_scale:
        low -= 1
    while high < len(scales) - 1 and exact * neighbour > scales[high][1][1].full_scale:
        high += 1
    return dict(scales[low:high + 1])


def _points(network: Network, values: Values, drive: Drive, start: Guess,
            before: Before | None = None) -> _Points:
    """Operating points; where some cannot be proven, the halves, down to the ones that cannot (NaN)."""
    count = len(drive.sign)
    try:
        solution = solve(network, values, drive, start, before=before)
        return _Points(solution.pad_voltage, solution.current, guess_of(solution))
    except SolveError:
        if before:
            return _points(network, values, drive, before.carry(start, values, slice(None)))
        if count == 1:
            return _Points(np.full(1, np.nan), np.full(1, np.nan), start)
    halves = [_points(network, values.take(s), drive.take(s), start.take(s))
              for s in (slice(0, count // 2), slice(count // 2, count))]
    arrays = zip(*(h.guess.arrays() for h in halves), strict=True)
    return _Points(np.concatenate([h.volts for h in halves]), np.concatenate([h.amps for h in halves]),
                   Guess(*(np.concatenate(pair, axis=1) for pair in arrays)))


def _drive(lanes: Sequence[Lane], which: Ints, leads: Floats) -> Drive:
    def each(numbers: list[float]) -> Floats:
        return np.array(numbers, dtype=np.float64)[which]

    return Drive(each([n.source.current for n in lanes]), each([n.source.open_circuit for n in lanes]),
                 each([n.source.resistance for n in lanes]) + leads, each([float(n.sign) for n in lanes]))


def _terminal(lanes: Sequence[Lane], volts: Floats, amps: Floats, leads: Floats) -> tuple[Floats, Floats]:
    """Volts and amps at the meter's terminals in the direction of its source, from those at the pads."""
    sign = np.array([n.sign for n in lanes], dtype=np.float64)[:, None]
    return sign * volts + sign * amps * leads, sign * amps


def _read(ask: Ask, rows: dict[int, tuple[int, Range]], volts: Floats, amps: Floats) -> Floats:
    """The reading before the meter's own error: the lowest range that fits, infinite where none does."""
    listed = list(rows.items())
    found = np.full(volts.shape[1], np.inf)
    for at, (_, scale) in reversed(listed):
        v, i = volts[at], amps[at]
        half = 0.5 * scale.resolution  # the display is rounded before it is compared with its end
        if ask.mode == "diode":
            found = np.where(v < scale.full_scale - half, v, found)
        else:
            ohms = np.where(i > 0.0, v / np.where(i > 0.0, i, 1.0), np.inf)
            found = np.where(ohms <= scale.full_scale + half, np.maximum(ohms, 0.0), found)
        found = np.where(np.isnan(v), np.nan, found)
    return found
