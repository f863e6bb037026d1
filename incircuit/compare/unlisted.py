"""When nothing listed fits: the simplest thing between the pads that would."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import solve
from incircuit.circuit.source import drive
from incircuit.circuit.values import nominal_values
from incircuit.compare.likelihood import Seen
from incircuit.meter.profile import Meter, Source
from incircuit.predict.measure import Ask, direction, ranges_of
from incircuit.predict.question import Question


@dataclass(frozen=True, slots=True)
class Unlisted:
    """A path of `ohms` [ohm] between the pads beside everything listed; `low` and `high` its band.

    All None: no resistance beside the board can give the reading, because it shows more than the
    healthy board: something listed is missing from its place, or a probe had no contact.
    """

    ohms: float | None
    low: float | None
    high: float | None


def unlisted_path(question: Question, meter: Meter, ask: Ask, seen: Seen) -> Unlisted:
    """The resistance across the pads that turns the healthy nominal board's reading into the one seen."""
    if seen.value is None:
        return Unlisted(None, None, None)
    half = seen.error + seen.rounding
    low, middle, high = (
        _across(question, meter, ask, value) for value in (seen.value - half, seen.value, seen.value + half)
    )
    return Unlisted(middle, low, high)


def _across(question: Question, meter: Meter, ask: Ask, value: float) -> float | None:
    """Ohms that carry what the meter drives beyond what the healthy board takes at that pad voltage."""
    scales = ranges_of(meter, ask.mode)
    scale = next((s for s in scales if value <= s.full_scale), scales[-1])
    terminal, amps = _terminal(scale.source, ask.mode, value)
    volts = terminal - amps * meter.lead_resistance
    if volts <= 0.0 or amps <= 0.0:
        return 0.0
    network = compile_network(question.block, question.red_node, question.black_node)
    if network.shorted:
        return None
    held = solve(network, nominal_values(network, question.circuit.state.celsius),
                 drive(float("inf"), volts, 1e-3, direction(meter, ask)))
    left = amps - abs(float(held.current[0]))
    return volts / left if left > 1e-3 * amps else None


def _terminal(source: Source, mode: str, value: float) -> tuple[float, float]:
    """Terminal voltage [V] and current [A] at which the meter shows `value` [V or ohm]."""
    if mode == "diode":
        return value, min(source.current, (source.open_circuit - value) / source.resistance)
    behind = source.open_circuit / (source.resistance + value)
    amps = min(source.current, behind)
    return amps * value, amps
