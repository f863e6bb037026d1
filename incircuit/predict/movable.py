"""Which changes of a board can move a reading, told from the board as it is before anything is changed.

What carries next to nothing of the meter's current may go, and what is nearly at one voltage may be
joined: the reading changes by about that part. `incircuit.predict.still` is the strict law; this is the
quantitative one, for choosing what is worth solving.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from incircuit.circuit.elimination import Floats
from incircuit.circuit.kirchhoff import branch_currents, sizes_by_name
from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import Solution
from incircuit.circuit.values import channel_sign, nominal_values
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Capacitance, Change, Element, Resistance
from incircuit.paths.blocks import branches
from incircuit.predict.measure import Ask, Lane, asked_ranges, lanes_of, solve_lanes
from incircuit.predict.still import AMPS

Bools = npt.NDArray[np.bool_]
SHARE = 2e-4
"""Opening a branch that carries this part of the meter's current changes the reading by about that part."""
JOINED = 5e-4
"""A branch added across a part a of the pads' voltage, that would draw a part b of the meter's current,
changes the reading by a·b at most (reciprocity): products below this are nothing."""
STEERED = 1e-4
"""Where a transistor carries more than this part of the meter's current, a thousandth of it may steer it."""
NEARLY_ON = 0.3
"""A gate that is within this of its threshold [V] holds its channel on."""
OVER = 0.1
"""Opening a branch can end an overload only where it carries more than this part of what the source can."""


@dataclass(frozen=True, slots=True)
class Ground:
    """The board as it is between two pads, one column for each range that decides a reading: that it stands
    on and the one below; `lanes` are all source settings of the reading a column belongs to.

    `amps` by element name, node voltages `v` [V] by number, the pads' voltage `pads`; `least` [A] and
    `product` are what counts as nothing, see `SHARE` and `JOINED`; `source` [A] is what the meter delivers.
    """

    amps: Mapping[str, Floats]
    index: Mapping[str, int]
    v: Floats
    pads: Floats
    source: Floats
    least: Floats
    product: Floats
    lanes: tuple[tuple[int, ...], ...]

    def moves(self, what: Change) -> tuple[int, ...]:
        """The source settings (numbers as `lanes_of` gives them) of the readings a change can move."""
        found = np.zeros(len(self.lanes), dtype=bool)
        for name in what.remove:
            if name in self.amps:
                found |= self.amps[name] > self.least
        for e in what.add:
            if isinstance(e, Capacitance):
                continue
            nodes = {n for pair in branches(e) for n in pair}
            ends = [self.v[self.index[n]] for n in nodes if n in self.index]
            if len(ends) < 2:
                continue
            spread = (np.abs(ends[0] - ends[1]) if len(ends) == 2
                      else np.max(ends, axis=0) - np.min(ends, axis=0))
            drawn = spread / (self.source * max(e.ohms, 1e-12)) if isinstance(e, Resistance) else 1.0
            found |= spread / self.pads * np.minimum(drawn, 1.0) > self.product
        return tuple(sorted({n for k in np.flatnonzero(found).tolist() for n in self.lanes[k]}))


def ground_of(elements: Sequence[Element], red: str, black: str, meter: Meter, asks: Sequence[Ask],
              celsius: float = 25.0) -> Ground:
    """The board as it is, solved on every range. Raises SolveError."""
    network = compile_network([e for e in elements if not isinstance(e, Capacitance)], red, black)
    lanes, use = lanes_of(meter, asks)
    sound = solve_lanes(network, nominal_values(network, celsius), lanes, np.array([meter.lead_resistance]))
    source, digit = _scales(meter, asks, lanes, use)
    over = np.zeros(len(lanes), dtype=bool)
    watched: dict[int, tuple[int, ...]] = {}
    for ask in asks:
        on, fits = _stands(meter, ask, use[ask], lanes, sound)
        for n in use[ask][max(0, on - 1):on + 1]:
            watched[n] = tuple(dict.fromkeys((*watched.get(n, ()), *use[ask])))
        over[use[ask][on]] = not fits
    some = np.array(sorted(watched))
    flow = branch_currents(network, sound.values, sound.v, sound.vd)
    amps = {name: rows[some] for name, rows in sizes_by_name(network, flow).items()}
    most = np.abs(np.concatenate([flow.couplings, flow.channels])).max(axis=0, initial=0.0)
    steered = most > STEERED * source
    share = np.where(steered, AMPS, np.where(over, OVER, SHARE))
    least = np.where(_held_on(sound), -1.0, source * share)
    return Ground(amps, network.index, sound.v[:, some],
                  np.maximum(np.abs(sound.pad_voltage), 20.0 * digit)[some], source[some], least[some],
                  np.where(steered, AMPS, JOINED)[some], tuple(watched[n] for n in some.tolist()))


def _stands(meter: Meter, ask: Ask, use: Sequence[int], lanes: Sequence[Lane],
            sound: Solution) -> tuple[int, bool]:
    """Rank of the range a reading stands on, and whether it fits there; ranges that do not nest: the last."""
    for rank, (n, (_, scale)) in enumerate(zip(use, asked_ranges(meter, ask), strict=True)):
        amps = lanes[n].sign * float(sound.current[n])
        volts = lanes[n].sign * float(sound.pad_voltage[n]) + amps * meter.lead_resistance
        if (volts if ask.mode == "diode" else volts / amps if amps > 0.0 else np.inf) <= scale.full_scale:
            return rank, True
    return len(use) - 1, False


def _scales(meter: Meter, asks: Sequence[Ask], lanes: Sequence[Lane],
            use: Mapping[Ask, Sequence[int]]) -> tuple[Floats, Floats]:
    digits, source = np.full(len(lanes), np.inf), np.full(len(lanes), np.inf)
    for ask in asks:
        for n, (_, scale) in zip(use[ask], asked_ranges(meter, ask), strict=True):
            volts = ask.mode == "diode"
            behind = scale.source.resistance + (0.0 if volts else scale.full_scale)
            most = min(scale.source.current, scale.source.open_circuit / behind)
            source[n] = min(source[n], most)
            digits[n] = min(digits[n], scale.resolution * (1.0 if volts else most))
    return source, 0.05 * digits


def _held_on(sound: Solution) -> Bools:
    """Settings at which a gate holds a channel on: cutting a lead that carries nothing can let it go."""
    ends, sign, vto = sound.network.ends, channel_sign(sound.network), sound.values.vto
    above = [sign * (sound.v[ends.mg] - sound.v[end]) - vto for end in (ends.ms, ends.md)]
    return np.asarray(np.maximum(*above).max(axis=0, initial=-np.inf) > -NEARLY_ON)
