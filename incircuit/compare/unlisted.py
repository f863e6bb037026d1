"""When nothing listed fits: the simplest thing between the pads that would."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from incircuit.circuit.network import compile_network
from incircuit.circuit.sampling import drawn_values
from incircuit.circuit.solve import solve
from incircuit.circuit.source import drive
from incircuit.compare.likelihood import Seen
from incircuit.meter.profile import Meter, Source
from incircuit.predict.measure import LEAD_SPREAD, Ask, direction, ranges_of
from incircuit.predict.question import Question

BOARDS = 64
"""Healthy boards drawn for the band."""


@dataclass(frozen=True, slots=True)
class Unlisted:
    """A path of `ohms` [ohm] between the pads beside everything listed; `low` and `high` its band,
    `high` None where no path at all would do as well.

    All None: no resistance beside the board can give the reading. It shows more than the healthy board
    (something listed is missing from its place, or a probe had no contact), or is below zero, which
    needs a source on the board: a charge.
    """

    ohms: float | None
    low: float | None
    high: float | None


def unlisted_path(question: Question, meter: Meter, ask: Ask, seen: Seen) -> Unlisted:
    """The resistance across the pads that turns the healthy board's reading into the one seen.

    The band is over healthy boards, the meter's accuracy and its leads.
    """
    half = seen.error + seen.rounding
    if seen.value is None or seen.value < -half:
        return Unlisted(None, None, None)
    nominal = _across(question, meter, ask, seen.value, 0.0, 0)
    if nominal is None:
        return Unlisted(None, None, None)
    low = _across(question, meter, ask, seen.value - half, LEAD_SPREAD, BOARDS)
    high = _across(question, meter, ask, seen.value + half, -LEAD_SPREAD, BOARDS)
    return Unlisted(nominal[0], low[0] if low else 0.0, high[1] if high else None)


def _across(question: Question, meter: Meter, ask: Ask, value: float, leads: float,
            boards: int) -> tuple[float, float | None] | None:
    """Least and most ohms that carry what the meter drives beyond what healthy boards take.

    `leads` is how far the lead resistance is off, relative; the most is None where some board takes
    it all, the whole None where every board does.
    """
    scales = ranges_of(meter, ask.mode)
    scale = next((s for s in scales if value <= s.full_scale), scales[-1])
    terminal, amps = _terminal(scale.source, ask.mode, value)
    volts = terminal - amps * meter.lead_resistance * (1.0 + leads)
    if volts <= 0.0 or amps <= 0.0:
        return 0.0, 0.0
    network = compile_network(question.block, question.red_node, question.black_node)
    if network.shorted:
        return None
    values = drawn_values(network, boards, question.circuit.state.celsius)
    held = solve(network, values, drive(float("inf"), volts, 1e-3, direction(meter, ask), boards + 1))
    left = amps - np.abs(held.current)
    least = 1e-3 * amps
    if left.max() <= least:
        return None
    return volts / float(left.max()), volts / float(left.min()) if left.min() > least else None


def _terminal(source: Source, mode: str, value: float) -> tuple[float, float]:
    """Terminal voltage [V] and current [A] at which the meter shows `value` [V or ohm]."""
    if mode == "diode":
        return value, min(source.current, (source.open_circuit - value) / source.resistance)
    behind = source.open_circuit / (source.resistance + value)
    amps = min(source.current, behind)
    return amps * value, amps
