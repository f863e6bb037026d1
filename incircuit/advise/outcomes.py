"""What every reading in place would show under every condition of the board."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from incircuit.advise.patches import Patch, chart_of, patch_of
from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.errors import SolveError
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change
from incircuit.predict.measure import Ask

Progress = Callable[[int, int], None]
"""Told how much of how much is done."""


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


def outcomes_of(circuit: Circuit, conditions: Sequence[Change], meter: Meter,
                pairs: Sequence[tuple[str, str]], modes: Sequence[str] = (),
                progress: Progress | None = None) -> Outcomes:
    """All modes, both ways round, for every pair, each solved in its neighbourhood.

    Condition 0 must be the board as it is (`NO_CHANGE`). Stopped by KeyboardInterrupt it answers with the
    pairs done so far and `complete` False.
    """
    asks = asks_of(meter, modes)
    chart = chart_of(circuit, conditions[1:], meter, asks)
    patches, complete = [], True
    try:
        for number, pair in enumerate(pairs):
            if progress:
                progress(number, len(pairs))
            with suppress(SolveError):  # nothing can be said about these pads
                patches.append(patch_of(chart, pair))
    except KeyboardInterrupt:
        complete = False
    return replace(table_of(patches, asks, len(conditions)), complete=complete)


def table_of(patches: Sequence[Patch], asks: Sequence[Ask], conditions: int) -> Outcomes:
    """Patches of one board in one table, condition k + 1 the change number k."""
    probes = tuple(probe_at(p.pair, ask) for p in patches for ask in asks)
    shape = (len(patches), len(asks), conditions)
    nominal, low, high = np.empty(shape), np.empty(shape), np.empty(shape)
    for k, patch in enumerate(patches):
        for table, own in zip((nominal, low, high), patch.limits, strict=True):
            table[k] = own[:, :1]
            table[k][:, [c + 1 for c in patch.changes]] = own[:, 1:]
    flat = (len(probes), conditions)
    return Outcomes(probes, nominal.reshape(flat), low.reshape(flat), high.reshape(flat))


def probe_at(pair: tuple[str, str], ask: Ask) -> Probe:
    """The reading an ask is between two pads."""
    red, black = pair[::-1] if ask.swapped else pair
    return Probe(red, black, ask.mode)


def asks_of(meter: Meter, modes: Sequence[str] = ()) -> tuple[Ask, ...]:
    """All modes worth proposing, both ways round."""
    return tuple(Ask(mode, swap) for mode in (modes or default_modes(meter)) for swap in (False, True))


def default_modes(meter: Meter) -> tuple[str, ...]:
    """Modes worth proposing: continuity tells nothing that ohms does not."""
    kept = tuple(m for m in meter.modes if m != "continuity")
    return kept or meter.modes


@dataclass(frozen=True, slots=True)
class Clearest:
    """A reading that tells two conditions apart: the margin between them, see `margin_of`, and what the
    nominal board shows under the `one` and the `other` [V or ohm, infinite OL]."""

    probe: Probe
    margin: float
    one: float
    other: float


def clearest(outcomes: Outcomes, one: int, other: int,
             before: Callable[[int, float], tuple[bool, ...]] = lambda _k, _margin: ()) -> Clearest | None:
    """The reading of the widest margin between two conditions, None where none tells them apart.

    `before` says of (number of a probe, margin) what counts before the margin, True first.
    """
    margins = {k: margin_of(*outcomes.span(k, one), *outcomes.span(k, other))
               for k in range(len(outcomes.probes)) if outcomes.told(k, one, other)}
    if not margins:
        return None
    k = max(margins, key=lambda k: (before(k, margins[k]), margins[k], -k))
    return Clearest(outcomes.probes[k], margins[k], float(outcomes.nominal[k, one]),
                    float(outcomes.nominal[k, other]))


def margin_of(low: float, high: float, other_low: float, other_high: float) -> float:
    """The gap between two bands as a share of the whole span; OL against a number is 1."""
    ends = (low, high, other_low, other_high)
    if float("inf") in ends:
        return 1.0
    gap = max(other_low - high, low - other_high)
    return gap / (max(ends) - min(ends))
