"""What the meter shows on the hidden bench: parts within tolerance, faults put in, a meter with errors."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.advise.conditions import sized
from incircuit.board.pads import resolve_pad
from incircuit.board.state import State
from incircuit.circuit.build import Circuit, apply, build
from incircuit.circuit.laws import drawn_gain, drawn_junction, thermal_voltage
from incircuit.circuit.network import compile_network
from incircuit.circuit.values import nominal_values
from incircuit.drill.case import Case, Hidden
from incircuit.meter.display import Shown, quantise, range_half_width
from incircuit.parts.elements import (
    Capacitance,
    Change,
    Channel,
    Coupling,
    Element,
    Junction,
    Resistance,
    Spread,
)
from incircuit.paths.blocks import meters_block
from incircuit.predict.course import Course, course_of
from incircuit.predict.measure import LEAD_SPREAD, Ask, Noise, measure, ranges_of, show
from incircuit.predict.question import Question

SLOW_FARADS = 1e-7
"""[F] Below this a meter's microamperes fill a capacitor before the eye is on the display."""
SAME_READING = 0.5
"""Share of a meter's error that repeats itself from reading to reading; the rest is each one's own."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One reading: the display when it stands still, that at first touch, and when it stood still [s].

    `first` is None where the display does not move; `settles` None where that takes too long to wait for.
    """

    shown: Shown
    first: Shown | None = None
    settles: float | None = 0.0

    @property
    def text(self) -> str:
        """As a person would say it."""
        beep = ", beeps" if self.shown.beep else ""
        if self.first is None:
            return self.shown.text + beep
        after = f"after {_seconds(self.settles)}" if self.settles is not None else "after many minutes"
        return f"{self.shown.text}{beep} {after}; at first {self.first.text}"


def _seconds(seconds: float) -> str:
    return f"{seconds:.1f} s" if seconds < 10 else f"{seconds:.0f} s"


def faulty(circuit: Circuit, faults: Sequence[Hidden], fitted: frozenset[str] = frozenset()) -> Circuit:
    """A board in some state with the hidden faults; parts that are off it or new have none."""
    for hidden in faults:
        circuit = replace(circuit, elements=apply(circuit.elements, change_of(circuit, hidden, fitted)))
    return circuit


def change_of(circuit: Circuit, hidden: Hidden, fitted: frozenset[str] = frozenset()) -> Change:
    """What one hidden fault does to a board in some state."""
    if not hidden.part:
        wire = Resistance(hidden.text, "", *hidden.between, hidden.size or 0.0)
        return Change(add=(wire,))
    if hidden.part in circuit.state.removed or hidden.part in fitted:
        return Change()
    return sized(circuit, hidden.part, hidden.fault, hidden.size) or Change()


def drawn(elements: Sequence[Element], seed: int, fitted: frozenset[str]) -> tuple[Element, ...]:
    """Every part somewhere within its limits, the same in every state of the board; a new part is another."""

    def uniform(key: str) -> float:
        return random.Random(f"{seed} {key}").uniform(-1.0, 1.0)

    def off(spread: Spread, e: Element) -> float:
        new = " new" if e.part in fitted else ""
        shared = spread.shared * uniform(f"group {spread.group}") if spread.shared else 0.0
        return spread.own * uniform(e.name + new) + shared

    def slope(e: Junction) -> float:
        return off(e.n_spread, replace(e, name=f"{e.name} slope"))

    vt, junctions = thermal_voltage(), {e.name: e for e in elements if isinstance(e, Junction)}
    made: list[Element] = []
    for e in elements:
        if isinstance(e, Resistance):
            made.append(replace(e, ohms=e.ohms * max(1.0 + off(e.spread, e), 1e-3)))
        elif isinstance(e, Junction):
            is_, nvt = drawn_junction(e.is_, e.n * vt, off(e.spread, e), slope(e))
            made.append(replace(e, is_=float(is_), n=float(nvt) / vt))
        elif isinstance(e, Coupling):
            of = junctions[e.junction]
            own = off(replace(of.spread, shared=0.0), of)
            made.append(replace(e, gain=float(drawn_gain(e.gain, of.n * vt * (1.0 + slope(of)), own,
                                                         slope(of)))))
        elif isinstance(e, Channel):
            made.append(replace(e, vto=e.vto + e.sign * off(e.spread, e)))
        elif isinstance(e, Capacitance):
            made.append(replace(e, farads=e.farads * max(1.0 + off(e.spread, e), 1e-3)))
        else:
            made.append(e)
    return tuple(made)


def see(
    case: Case, state: State, fitted: frozenset[str], red: str, black: str, mode: str, number: int
) -> Seen:
    """Reading number `number` of a drill, pads as typed. Raises PadError, MeterError, SolveError."""
    room = random.Random(f"{case.seed} room")
    at = replace(state, celsius=room.uniform(20.0, 30.0))
    circuit = faulty(build(case.board, at), case.faults, fitted)
    circuit = replace(circuit, elements=drawn(circuit.elements, case.seed, fitted))
    nodes = resolve_pad(case.board, state, red), resolve_pad(case.board, state, black)
    question = Question(circuit, red, black, *nodes, None, ())
    ask = Ask(mode)
    leads, error = _errors(case, mode, number)
    network = compile_network(meters_block(circuit.elements, *nodes), *nodes)
    noise = Noise(np.array([leads]), np.array([error]))
    shows = measure(network, nominal_values(network, at.celsius), case.meter, [ask], noise).shows[ask]
    last = show(case.meter, mode, float(shows.value[0]), int(shows.range[0]))
    course = _course(question, case, ask)
    if course is None or not course.moves:
        return Seen(last)
    return Seen(last, _with_error(case, mode, course.first, error), course.settled_after)


def _errors(case: Case, mode: str, number: int) -> tuple[float, float]:
    """Leads and meter, each in [−1, 1]: one meter repeats itself for the greater part."""
    own = random.Random(f"{case.seed} reading {number}")
    lasting = random.Random(f"{case.seed} {mode}").uniform(-1.0, 1.0)
    leads = random.Random(f"{case.seed} leads").uniform(-1.0, 1.0)
    return (
        (1.0 - LEAD_SPREAD / 2) * leads + LEAD_SPREAD / 2 * own.uniform(-1.0, 1.0),
        SAME_READING * lasting + (1.0 - SAME_READING) * own.uniform(-1.0, 1.0),
    )


def _course(question: Question, case: Case, ask: Ask) -> Course | None:
    """How the display gets there; None where nothing slow is near."""
    slow = any(isinstance(e, Capacitance) and e.farads >= SLOW_FARADS for e in question.circuit.elements)
    return (
        course_of(question, case.meter, ask) if slow and question.red_node != question.black_node else None
    )


def _with_error(case: Case, mode: str, shown: Shown, error: float) -> Shown:
    """A display of the exact course as this meter shows it."""
    if shown.value is None:
        return shown
    scales = ranges_of(case.meter, mode)
    at = scales.index(shown.range) if shown.range in scales else 0
    scale = scales[at]
    read = float(quantise(shown.value + error * range_half_width(scale, shown.value), scale.resolution))
    return show(case.meter, mode, max(read, 0.0) if mode != "diode" else read, at)
