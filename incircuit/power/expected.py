"""Which pads show a steady voltage on a powered board at rest, and in which band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change
from incircuit.power.rest import draws
from incircuit.power.working import STEADY
from incircuit.predict.charging import shown_band
from incircuit.predict.prediction import Prediction
from incircuit.predict.volts import Supply, voltages, volts_mode

BOARDS = 128
MOST_PADS = 16
LEAST = 0.01
"""Pads below this part of what is fed are not listed: leakage sets them."""
MOVED = 0.05
"""A voltage that chips at work move by this part of it is theirs."""


@dataclass(frozen=True, slots=True)
class Expected:
    """A voltage to be found under power, red against black: `prediction` with its band."""

    red: str
    black: str
    prediction: Prediction


@dataclass(frozen=True, slots=True)
class Voltages:
    """Voltages `seen` with their bands; nets whose voltage hangs on what chips draw and switches do,
    `set_at_work`, which get none; and what is `beyond` the meter, (red, black, volts)."""

    seen: tuple[Expected, ...]
    set_at_work: tuple[str, ...]
    beyond: tuple[tuple[str, str, float], ...]


def expected(circuit: Circuit, meter: Meter, feeds: Sequence[tuple[Supply, ...]],
             between: Sequence[tuple[Supply, ...]], black: str, first: Sequence[tuple[str, str]] = (),
             switches: Change | None = None) -> Voltages:
    """Bands of the direct voltages at `first` and at pads against `black`, named ones before others.

    `feeds` are the ways the board is fed, `between` each of them between the peaks of mains (empty without
    mains): a net whose voltage turns with the mains shows none on direct volts and is left out. Where the
    circuit has its transistors blocked, `switches` puts them in.
    """
    listed = _pairs(circuit, black, first)
    resting, working = _at(circuit, feeds, listed, draws(circuit))
    if switches is not None:
        on = _at(circuit, feeds, listed[len(first):], switches)[1]
        moved = np.abs(on - resting[:, len(first):]) > np.abs(working - resting)[:, len(first):]
        working[:, len(first):] = np.where(moved, on, working[:, len(first):])
    strongest = np.abs(resting).argmax(axis=0)
    load = volts_mode(meter).input_resistance
    some: list[int] = []
    chips_set: list[str] = []
    for k, pair in enumerate(listed):
        rest = abs(resting[strongest[k], k])
        if rest < _least(feeds[strongest[k]]) or not _steady(resting[:, k]):
            continue
        if np.abs(working[:, k] - resting[:, k]).max() > MOVED * rest:
            chips_set.append(pair[0])
        else:
            some.append(k)
    bands: dict[int, Prediction] = {}
    for n, feed in enumerate(feeds):
        here = [k for k in some if strongest[k] == n]
        if between:
            crossing = voltages(circuit, (), between[n], [listed[k] for k in here], load, 0)[:, 0, 0]
            both = np.stack([resting[n, here], crossing])
            here = [k for k, seen in zip(here, both.T, strict=True) if _steady(seen)]
        here = here[:MOST_PADS]
        exact = voltages(circuit, (), feed, [listed[k] for k in here], load, BOARDS)[:, 0]
        for k, volts in zip(here, exact, strict=True):
            if abs(float(volts[0])) >= _least(feed):  # a floating net is pulled down by the meter
                bands[k] = shown_band(meter, "volts", *listed[k], volts)
    over = {k for k, found in bands.items() if found.band.value is None}
    seen = tuple(Expected(*listed[k], bands[k]) for k in sorted(bands.keys() - over)[:MOST_PADS])
    beyond = tuple((*listed[k], float(resting[strongest[k], k])) for k in sorted(over))
    return Voltages(seen, tuple(chips_set), beyond)


def _least(feed: Sequence[Supply]) -> float:
    return LEAST * max(abs(supply.volts) for supply in feed)


def _pairs(circuit: Circuit, black: str, first: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    hidden = {net.name for net in circuit.board.nets if net.hidden}
    pads = [net.name for net in circuit.board.nets if net.pad and net.name not in hidden]
    others = [name for name in circuit.board.net_names() if name not in hidden and name not in pads]
    listed = dict.fromkeys([*first, *((name, black) for name in (*pads, *others))])
    return [pair for pair in listed if pair[0] != pair[1]]


def _at(circuit: Circuit, feeds: Sequence[tuple[Supply, ...]], pairs: Sequence[tuple[str, str]],
        change: Change | None) -> tuple[Floats, Floats]:
    """Voltages [V], (feeds, pairs), nothing loading them: at rest, and with a change."""
    found = np.stack([voltages(circuit, [change] if change else [], feed, pairs, math.inf, 0)[:, :, 0]
                      for feed in feeds])
    return found[:, :, 0], found[:, :, -1].copy()


def _steady(seen: Floats) -> bool:
    sizes = np.abs(seen)
    turns = seen.min() < 0.0 < seen.max()
    return bool(not turns and sizes.min() >= (1.0 - STEADY) * sizes.max())
