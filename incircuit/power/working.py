"""Voltages on the board when it was last powered: from its mains and supply lines, at rest.

Mains is taken at its peak, each pair of its nets either way round, and single-phase mains as it alternates;
the supplies of `supply` lines stand beside it. What chips do while they run is not known; a stage that makes
a higher voltage needs a supply line of its own.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import permutations

import numpy as np

from incircuit.board.model import Board
from incircuit.board.model import Supply as Line
from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.parts.elements import Capacitance, Change, Channel, Coupling, Element, Resistance, nodes_of
from incircuit.power.alternating import capacitances, period
from incircuit.predict.volts import MAINS_TOLERANCE, Supply, direct, joined, peak, voltages

STEADY = 0.2
"""A voltage that differs by this part of it between two instants of mains is not steady."""
KEPT = 0.02
"""What capacitors keep from the other half-wave counts from this part of the peak on."""


def ways(board: Board, with_supplies: bool = True, rms: float | None = None) -> Iterator[tuple[Supply, ...]]:
    """Every way the board is fed: each pair of mains nets at its peak, either way round, and the supplies.

    `rms` [V] stands for the mains of the board file where given. Only the supplies where there is no mains.
    """
    fixed = fixed_of(board) if with_supplies else ()
    mains = [s for s in board.supplies if s.word == "mains"]
    for line in mains:
        volts, spread = peak(line.volts if rms is None else rms, MAINS_TOLERANCE)
        for plus, minus in permutations(line.nets, 2):
            yield (Supply(plus, minus, volts, spread=spread), *fixed)
    if not mains and fixed:
        yield fixed


def fixed_of(board: Board) -> tuple[Supply, ...]:
    """The supplies of the board file's `supply` lines."""
    return tuple(Supply(s.nets[0], s.nets[1], s.volts) for s in board.supplies if s.word == "supply")


def highest(circuit: Circuit, pairs: Sequence[tuple[str, str]], rms: float | None = None) -> Floats | None:
    """Voltage [V] across each pair where it is largest over all `ways`, over a period of mains, and with
    switches as they rest or off, (pairs,); None without any feed.

    The sign is that of the first node against the second. A switch that the resting board turns on pulls
    down what feeds it; at work it is off again and again, and capacitors charge to what stands there then.
    """
    off = [switched_off(circuit)]
    caps = capacitances(circuit)
    both = [*pairs, *((e.a, e.b) for e in caps)]
    found: Floats | None = None
    for feed in ways(circuit.board, rms=rms):
        one = _largest(np.moveaxis(voltages(circuit, off, feed, both, math.inf, 0)[:, :, 0], 1, 0))
        found = one if found is None else _largest(np.stack([found, one]))
    if found is None:
        return None
    for line in circuit.board.supplies:
        if line.word == "mains" and len(line.nets) == 2:
            start = {e.name: float(v) for e, v in zip(caps, found[len(pairs):], strict=True)}
            seen = period(circuit, off, line, peak(line.volts if rms is None else rms)[0],
                          fixed_of(circuit.board), start).across(both)
            found = _largest(np.concatenate([found[None], np.moveaxis(seen, 2, 1).reshape(-1, len(both))]))
    return found[:len(pairs)]


def kept(circuit: Circuit, line: Line, feeds: Sequence[tuple[Supply, ...]],
         rms: float | None) -> list[tuple[Supply, ...]]:
    """For each way of `feeds` what capacitors keep from the other half-wave of single-phase mains and add to
    this one, a doubler's, or those behind a dropping capacitor: as supplies of their voltage in a period."""
    live, *others = line.nets
    wire = Resistance("mains", "", live, others[0], 0.0)
    piece = joined([wire, *direct(circuit.elements)], live)  # a rail's current comes by a conductor
    quiet = blocked(circuit)
    quiet = replace(quiet, elements=tuple(e for e in quiet.elements if piece.issuperset(nodes_of(e))))
    pairs = list(dict.fromkeys((e.a, e.b) for e in capacitances(quiet)))
    if len(line.nets) != 2 or not pairs:
        return [()] * len(feeds)
    volts, spread = peak(line.volts if rms is None else rms, MAINS_TOLERANCE)
    own = np.stack([voltages(quiet, (), feed, pairs, math.inf, 0)[:, 0, 0] for feed in feeds])
    both = np.where(own.min(axis=0) * own.max(axis=0) > 0.0, _smallest(own), 0.0)
    begin = dict(zip(pairs, both.tolist(), strict=True))
    start = {e.name: begin.get((e.a, e.b), 0.0) for e in quiet.elements if isinstance(e, Capacitance)}
    seen = period(quiet, (), line, volts, (), start).across(pairs)[:, :, 0]
    mean, least = seen.mean(axis=0), (1.0 - STEADY) * np.abs(seen).max(axis=0)
    steady = (np.abs(_smallest(seen)) >= least) & (np.abs(mean) >= least)
    return [tuple(Supply(*pairs[k], float(mean[k]), spread=spread)
                  for k in np.flatnonzero(steady & (np.abs(mean) > np.abs(one) + KEPT * volts)))
            for one in own]


def transistors(circuit: Circuit) -> tuple[Element, ...]:
    """What conducts in transistors while something turns them on; their junctions are not among it."""
    return tuple(e for e in circuit.elements if isinstance(e, Channel | Coupling))


def switched_off(circuit: Circuit) -> Change:
    """Every transistor blocking."""
    return Change(frozenset(e.name for e in transistors(circuit)))


def blocked(circuit: Circuit) -> Circuit:
    """The circuit with every transistor blocking."""
    off = switched_off(circuit).remove
    return replace(circuit, elements=tuple(e for e in circuit.elements if e.name not in off))


def _smallest(rows: Floats) -> Floats:
    """Of each column the value that is smallest in size."""
    return np.asarray(np.take_along_axis(rows, np.abs(rows).argmin(axis=0)[None], axis=0)[0])


def _largest(rows: Floats) -> Floats:
    """Of each column the value that is largest in size."""
    return np.asarray(np.take_along_axis(rows, np.abs(rows).argmax(axis=0)[None], axis=0)[0])


def with_charges(circuit: Circuit, charges: dict[str, float]) -> Circuit:
    """The circuit with its capacitances charged [V], by element name."""
    return replace(circuit, elements=tuple(
        replace(e, volts=charges[e.name]) if isinstance(e, Capacitance) and e.name in charges else e
        for e in circuit.elements))
