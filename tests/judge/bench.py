"""A bench story made up at random: one board with part spreads and hidden faults, one meter, read by ngspice.

Nothing here uses the project's own solver, sampling or display. One board is drawn once: a part keeps
its value through the story, whatever is lifted or removed. One meter has one error per mode and a little
of its own at every reading.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from incircuit.board import Board
from incircuit.board.pads import resolve_pad
from incircuit.board.state import State
from incircuit.circuit.build import apply, build
from incircuit.circuit.spice import operating_point
from incircuit.meter.profile import Meter, Range, Source
from incircuit.parts import change
from incircuit.parts.defects import Defect
from incircuit.parts.elements import Channel, Coupling, Element, Junction, Resistance, Spread
from incircuit.parts.structure import nodes_by_pin
from incircuit.predict.question import pin_nodes
from tests.compare.bench import BOLTZMANN_OVER_CHARGE, Driven

VT = BOLTZMANN_OVER_CHARGE * 298.15


@dataclass(frozen=True)
class Hidden:
    """A fault put on the board: a defect of a part, or with `between` a bridge of `size` ohms."""

    part: str
    defect: Defect | None
    size: float | None
    between: tuple[str, str] = ("", "")

    @property
    def word(self) -> str:
        """The defect's word, `bridge`, or `path` for ohms that no list has."""
        if self.defect is not None:
            return self.defect.word
        return "bridge" if (self.size or 0.0) <= 1.0 else "path"

    def __str__(self) -> str:
        said = f"{self.part} {self.defect.name}" if self.defect else f"{self.word} {' '.join(self.between)}"
        return f"{said} {self.size:.4g}" if self.size is not None else said


@dataclass(frozen=True)
class Bench:
    """A drawn board and a meter: `seed` draws every part, `lone` makes each reading's error its own."""

    board: Board
    meter: Meter
    faults: tuple[Hidden, ...]
    seed: str
    celsius: float
    leads: float
    errors: dict[str, float]
    lone: bool = False
    suspects: tuple[Hidden, ...] = ()  # where to read though nothing is wrong
    nominal: bool = False  # every part as it says


def bench(board: Board, meter: Meter, faults: Sequence[Hidden], rng: random.Random) -> Bench:
    """A board drawn from its spreads, a meter within its accuracy."""
    errors = {mode: rng.uniform(-1.0, 1.0) for mode in ("diode", "ohms", "continuity")}
    return Bench(board, meter, tuple(faults), str(rng.random()), rng.uniform(20.0, 30.0),
                 meter.lead_resistance * rng.uniform(0.6, 1.4), errors, rng.random() < 0.5)


def read(on: Bench, state: State, fitted: frozenset[str], red: str, black: str, mode: str,
         rng: random.Random) -> str:
    """What the display shows, as it is typed."""
    leads = on.leads + 0.1 * on.meter.lead_resistance * rng.uniform(-1.0, 1.0)
    error = rng.uniform(-1.0, 1.0) if on.lone else on.errors[mode]
    return _shown(on.meter, mode, _terminal(on, state, fitted, red, black, mode, leads), error)


def exact_reading(on: Bench, state: State, fitted: frozenset[str], red: str, black: str,
                  mode: str) -> float:
    """What a meter without an error would read [V or ohm]; infinite on overload."""
    terminal = _terminal(on, state, fitted, red, black, mode, on.leads)
    if mode == "diode":
        assert on.meter.diode is not None
        volts, _ = terminal(on.meter.diode.source)
        return volts if volts < on.meter.diode.overload else math.inf
    for scale in _scales(on.meter, mode):
        volts, amps = terminal(scale.source)
        if amps > 0.0 and volts / amps <= scale.full_scale:
            return volts / amps
    return math.inf


Terminal = Callable[[Source], tuple[float, float]]
"""Volts and amps at the meter's terminals with one of its sources."""


def _terminal(on: Bench, state: State, fitted: frozenset[str], red: str, black: str, mode: str,
              leads: float) -> Terminal:
    first, second = (resolve_pad(on.board, state, pad) for pad in (red, black))
    whole = _faulty(on, state, fitted)
    elements = list(whole) if on.nominal else _drawn(whole, on.seed, fitted)
    sign = getattr(on.meter, mode).red

    def terminal(source: Source) -> tuple[float, float]:
        driven = Driven(source.current, source.open_circuit, source.resistance, leads, sign)
        point = operating_point(elements, first, second, driven, celsius=on.celsius)
        return point.terminal_voltage, point.source_current

    return terminal


def _scales(meter: Meter, mode: str) -> tuple[Range, ...]:
    assert meter.ohms is not None
    assert meter.continuity is not None
    return meter.ohms.ranges if mode == "ohms" else (meter.continuity.range,)


def _faulty(on: Bench, state: State, fitted: frozenset[str]) -> tuple[Element, ...]:
    elements = build(on.board, state).elements
    for fault in on.faults:
        if fault.defect is None:
            bridge = Resistance(str(fault), "", *fault.between, fault.size or 0.0)
            elements = (*elements, bridge)
        elif fault.part not in fitted | state.removed:
            part = on.board.part(fault.part)
            own = tuple(e for e in elements if e.part == fault.part)
            nodes = nodes_by_pin(part, own)
            nodes |= {pin: n for pin, n in pin_nodes(part, state).items() if nodes[pin] == part.net(pin)}
            elements = apply(elements, change(part, own, fault.defect, fault.size, nodes))
    return tuple(elements)


def _drawn(elements: Sequence[Element], seed: str, fitted: frozenset[str]) -> list[Element]:
    """Every part somewhere within its limits, the same in every state of the board."""
    def uniform(key: str) -> float:
        return random.Random(f"{seed} {key}").uniform(-1.0, 1.0)

    def off(spread: Spread, e: Element) -> float:
        new = " new" if e.part in fitted else ""
        total = spread.own * uniform(e.name + new)
        return total + (spread.shared * uniform(f"group {spread.group}") if spread.shared else 0.0)

    def slope(e: Junction) -> float:
        return 1.0 + off(e.n_spread, replace(e, name=f"{e.name} slope"))

    junctions = {e.name: e for e in elements if isinstance(e, Junction)}
    made: list[Element] = []
    for e in elements:
        if isinstance(e, Resistance):
            made.append(replace(e, ohms=e.ohms * max(1.0 + off(e.spread, e), 1e-3)))
        elif isinstance(e, Junction):  # the drop at 1 mA lies higher by dv, n is another
            n, volts = e.n * slope(e), e.n * VT * math.log(e.is_ / 1e-3) - off(e.spread, e)
            made.append(replace(e, n=n, is_=1e-3 * math.exp(volts / (n * VT))))
        elif isinstance(e, Coupling):  # gain times the junction's current: one law for both of a transistor
            of = junctions[e.junction]
            own = off(of.spread, of) - off(replace(of.spread, own=0.0), of)
            taken = math.exp(own / (of.n * slope(of) * VT))
            made.append(replace(e, gain=e.gain ** (1.0 / slope(of)) * taken))
        elif isinstance(e, Channel):
            made.append(replace(e, vto=e.vto + e.sign * off(e.spread, e)))
        else:
            made.append(e)
    return made


def _shown(meter: Meter, mode: str, terminal: Terminal, error: float) -> str:
    if mode == "diode":
        diode = meter.diode
        assert diode is not None
        volts, _ = terminal(diode.source)
        width = diode.accuracy.percent / 100.0 * abs(volts) + diode.accuracy.digits * diode.resolution
        steps = round((volts + error * width) / diode.resolution)
        shown = steps * diode.resolution
        return "OL" if shown >= diode.overload - 1e-9 else f"{shown + 0.0:.3f}"
    for scale in _scales(meter, mode):
        volts, amps = terminal(scale.source)
        if amps <= 0.0:
            continue
        ohms = volts / amps
        width = scale.accuracy.percent / 100.0 * ohms + scale.accuracy.digits * scale.resolution
        shown = round((ohms + error * width) / scale.resolution) * scale.resolution
        if shown <= scale.full_scale + 1e-9 * scale.resolution:
            return _typed(max(shown, 0.0), scale)
    return "OL"


def _typed(ohms: float, scale: Range) -> str:
    unit, letter = ((1e6, "M") if scale.full_scale >= 1e6 else
                    (1e3, "k") if scale.full_scale >= 1e3 else (1.0, ""))
    places = max(0, round(-math.log10(scale.resolution / unit)))
    return f"{ohms / unit:.{places}f}{letter}"
