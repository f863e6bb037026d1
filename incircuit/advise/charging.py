"""What farads and esr show across capacitors and windings in question, under every condition of the board.

No settled reading tells a capacitor that has dried out from a sound one. These readings take a run of the
meter in time for every board, so few pads are read, and boards are drawn for the likeliest conditions alone:
the others spread as the sound board does.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

import numpy as np

from incircuit.advise.limits import GUESSED_OHMS, Limits, meter_error, widened
from incircuit.advise.outcomes import Outcomes, table_of
from incircuit.advise.pairs import pads_now
from incircuit.advise.patches import Pads, Patch
from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.compare.screen import effect
from incircuit.errors import SolveError
from incircuit.judge.scenes import contact_in
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change, stores
from incircuit.paths.blocks import meters_block
from incircuit.predict.charging import read_timed
from incircuit.predict.measure import Ask, ranges_of

MODES = ("farads", "esr")
PLACES = 3
"""Pairs of pads read, those across the likeliest suspects."""
DRAWN = 6
"""Conditions for which boards are drawn …"""
BOARDS = 24
"""… and how many."""


def charging_outcomes(circuit: Circuit, changes: Sequence[Change], weights: Sequence[float],
                      meter: Meter) -> Outcomes:
    """Farads and esr, where the meter has them, on the board as it is (condition 0) and under each change.

    `weights` say how likely each change is. Farads [F] are read the way round in which the sound board
    charges, esr in ohm.
    """
    asks = tuple(Ask(mode) for mode in MODES if mode in meter.all_modes)
    patches = []
    for pair in _across(circuit, changes, weights)[:PLACES] if asks else ():
        with suppress(SolveError):
            patches.append(_patch(circuit, changes, weights, pair, meter, asks))
    return table_of(patches, asks, len(changes) + 1)


def joined(one: Outcomes, other: Outcomes) -> Outcomes:
    """Readings of two tables under the same conditions."""
    nominal, low, high = (np.concatenate(both) for both in (
        (one.nominal, other.nominal), (one.low, other.low), (one.high, other.high)))
    return Outcomes((*one.probes, *other.probes), nominal, low, high, one.complete and other.complete)


def _across(circuit: Circuit, changes: Sequence[Change], weights: Sequence[float]) -> list[Pads]:
    """Pads across the capacitances and windings that changes are about, the likeliest first."""
    pads, by_name = pads_now(circuit), {e.name: e for e in circuit.elements}
    found: dict[Pads, float] = {}
    for what, weight in zip(changes, weights, strict=True):
        touched = (*(by_name[n] for n in what.remove if n in by_name), *what.add)
        pairs = {(e.a, e.b) for e in touched if stores(e) and e.a != e.b and {e.a, e.b} <= pads}
        for a, b in sorted(pairs):
            pair = (b, a) if (b, a) in found else (a, b)
            found[pair] = found.get(pair, 0.0) + weight
    return sorted(found, key=lambda p: (-found[p], p))


def _patch(circuit: Circuit, changes: Sequence[Change], weights: Sequence[float], pair: Pads, meter: Meter,
           asks: Sequence[Ask]) -> Patch:
    """The readings between two pads, as `patches.patch_of` has them. Raises SolveError."""
    every = (*circuit.elements, *(e for c in changes for e in c.add))
    block = {e.name for e in meters_block(every, *pair, moving=True, magnetic=True)}
    stand = replace(circuit, elements=tuple(e for e in circuit.elements if e.name in block))
    here = [Change(c.remove & block, tuple(e for e in c.add if e.name in block)) for c in changes]
    moves = [k for k, c in enumerate(here) if c.remove or c.add]
    keys = {k: effect(here[k]) for k in moves}
    first = {keys[k]: here[k] for k in reversed(moves)}
    ranked = list(dict.fromkeys(keys[k] for k in sorted(moves, key=lambda k: -weights[k])))
    some = [first[key] for key in ranked]
    pair = _way_round(stand, pair, meter, asks)
    drawn = read_timed(stand, some[:DRAWN], *pair, meter, asks, BOARDS)
    others = read_timed(stand, some[DRAWN:], *pair, meter, asks, 0)[:, 1:]
    limits = _limits(drawn, others, meter, asks)
    column = [0, *(1 + ranked.index(keys[k]) for k in moves)]
    nominal, low, high = (table[:, column] for table in limits)
    return Patch(pair, tuple(moves), (nominal, low, high))


def _way_round(stand: Circuit, pair: Pads, meter: Meter, asks: Sequence[Ask]) -> Pads:
    """Red and black so that the sound board charges: one way a junction beside may hold the voltage down."""
    if "farads" not in [ask.mode for ask in asks]:
        return pair
    ways = [Ask("farads"), Ask("farads", True)]
    one, other = read_timed(stand, (), *pair, meter, ways, 0)[:, 0, 0]
    return pair[::-1] if not one <= other else pair


def _limits(drawn: Floats, others: Floats, meter: Meter, asks: Sequence[Ask]) -> Limits:
    """Limits from readings of drawn boards, (asks, 1 + conditions, boards + 1), and nominal ones of further
    conditions, (asks, conditions, 1), which spread as the sound boards do."""
    nominal = np.concatenate([drawn[:, :, 0], others[:, :, 0]], axis=1)
    low, high = np.empty_like(nominal), np.empty_like(nominal)
    for a, ask in enumerate(asks):
        end = ranges_of(meter, ask.mode)[-1].full_scale
        rows = [*drawn[a], *(_like_sound(float(x), drawn[a, 0]) for x in others[a, :, 0])]
        low[a], high[a] = np.transpose([widened(row, ask, end) for row in rows])
        low[a] -= meter_error(low[a], meter, ask.mode)
        high[a] += meter_error(high[a], meter, ask.mode) + contact_in(ask.mode)
    return nominal, low, high


def _like_sound(exact: float, sound: Floats) -> Floats:
    """A reading of which the nominal value is known, on drawn boards: unknown where some sound boards
    overload and others do not."""
    over = np.isinf(sound)
    if not np.isfinite(exact):
        return np.full(len(sound), np.nan if over.any() and not over.all() else exact)
    if not np.isfinite(sound).all() or sound[0] <= 0.0:
        return exact * np.array([1.0, 1.0 / (1.0 + GUESSED_OHMS), 1.0 + GUESSED_OHMS])
    return np.asarray(exact * sound / sound[0])
