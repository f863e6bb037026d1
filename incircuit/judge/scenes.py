"""The story as circuits: readings taken between the same pads of the same bench share one network."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

from incircuit.board.model import Board
from incircuit.board.pads import resolve_pad
from incircuit.board.state import State
from incircuit.circuit.build import Circuit, build
from incircuit.errors import MeterError
from incircuit.judge.memory import Page
from incircuit.judge.moving import moving
from incircuit.judge.observed import WORD, Observed
from incircuit.meter.display import range_half_width
from incircuit.meter.offsets import CONTACT
from incircuit.meter.profile import Meter, Range
from incircuit.parts.elements import Capacitance, Coupling, Element
from incircuit.paths.blocks import meters_block
from incircuit.predict.measure import Ask, ranges_of
from incircuit.story.bench import Moment
from incircuit.story.model import ReadingEntry, When

NEEDLE = 0.03
"""[ohm] The same of needles on the joints of a capacitor, the leads of an ESR tester zeroed, half width (from
memory)."""
COUNTED = 5.0
"""Farads are counted in so many last digits of their range: below, a reading tells no ratio."""


def unit_of(meter: Meter, ask: Ask) -> float:
    """Factor from a reading's own unit to what it is counted in here, where numbers below 1 are small."""
    if ask.mode != "farads":
        return 1.0
    return 1.0 / (COUNTED * ranges_of(meter, ask.mode)[ask.ranges[0] if ask.ranges else 0].resolution)


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading of the story, ready to be judged; `number` is its place among the readings, from 0."""

    number: int
    moment: Moment
    ask: Ask
    observed: Observed


@dataclass(frozen=True, slots=True)
class Scene:
    """The bench as it was for some readings between two pads.

    `specimen` counts how often each part had been replaced by then. The circuit is healthy; elements
    of replaced parts carry the count in their names, so that a new part does not share its spread
    with the old one. `meter` has every range a second time without an end, for a number was read on one
    range, and how far others would lie beyond it matters; `plain` is the meter as it is.
    """

    circuit: Circuit
    meter: Meter
    plain: Meter
    specimen: tuple[tuple[str, int], ...]
    red: str
    black: str
    readings: tuple[Taken, ...]

    @property
    def resting(self) -> bool:
        """Whether its readings are those of a board at rest; else capacitors count."""
        return all(t.ask.settled for t in self.readings)

    def replaced(self, ref: str) -> int:
        """How often a part had been replaced by a new one by then."""
        return dict(self.specimen).get(ref, 0)


@dataclass(frozen=True, slots=True)
class _Bench:
    """What readings of one scene have in common."""

    meter: str
    state: State
    replaced: tuple[tuple[str, int], ...]
    pads: tuple[str, str]
    resting: bool = True


def scenes_of(board: Board, moments: Sequence[Moment], meter_named: Callable[[str], Meter],
              desk: Page) -> tuple[Scene, ...]:
    """Scenes in order of their first reading; `meter_named` gives the meter a moment names (or the default).

    Every meter must have the modes its readings are in. `desk` is the board's page: it keeps the circuits.
    """
    found: dict[_Bench, list[Taken]] = {}
    for number, moment in enumerate(moments):
        meter = meter_named(moment.meter)
        reading = moment.reading
        red = resolve_pad(board, moment.state, reading.red)
        black = resolve_pad(board, moment.state, reading.black)
        pair = (red, black) if red <= black else (black, red)
        ask = Ask(reading.mode, swapped=(red, black) != pair, when=_when(moment, red, black, board),
                  word=reading.typed.word)
        ask = replace(ask, ranges=_asked(meter, reading) if ask.settled else _standing(meter, reading))
        taken = Taken(number, moment, ask, observed(meter, moment, ask))
        bench = _Bench(moment.meter, moment.state, moment.replaced, pair, ask.settled)
        found.setdefault(bench, []).append(taken)
    scenes = []
    for bench, taken_there in found.items():
        key = ("circuit", bench.state, bench.replaced)
        circuit = desk.once(key, partial(_circuit, board, bench.state, bench.replaced))
        meter = meter_named(bench.meter)
        scenes.append(Scene(circuit, _endless(meter), meter, bench.replaced, *bench.pads, tuple(taken_there)))
    return tuple(scenes)


def _when(moment: Moment, red: str, black: str, board: Board) -> When:
    """When the display was read; without a capacitor in reach it stands at once."""
    when = moment.reading.when
    if when in ("", "settled"):
        return ""
    block = meters_block(build(board, moment.state).elements, red, black, moving=True)
    return when if any(isinstance(e, Capacitance) for e in block) else ""


def _endless(meter: Meter) -> Meter:
    """A meter whose ranges of ohms are there twice, then without an end; nor does diode test end."""
    diode = meter.diode and replace(meter.diode, overload=math.inf)
    ohms = meter.ohms and replace(meter.ohms, ranges=(
        *meter.ohms.ranges, *(_open_ended(r) for r in meter.ohms.ranges)))
    continuity = meter.continuity and replace(meter.continuity, range=_open_ended(meter.continuity.range))
    esr = meter.esr and replace(meter.esr, ranges=(*meter.esr.ranges[:-1], _open_ended(meter.esr.ranges[-1])))
    return replace(meter, diode=diode, ohms=ohms, continuity=continuity, esr=esr)


def _open_ended(scale: Range) -> Range:
    return replace(scale, full_scale=math.inf)


def _asked(meter: Meter, reading: ReadingEntry) -> tuple[int, ...]:
    """Ranges of the endless meter: the one below, which must not have fitted, and those it may stand on."""
    if reading.mode != "ohms":
        return ()
    on = stood_on(meter, reading)
    return (*range(max(0, on[0] - 1), on[-1]), len(ranges_of(meter, reading.mode)) + on[-1])


def _standing(meter: Meter, reading: ReadingEntry) -> tuple[int, ...]:
    """The range of farads where every digit of the lowest that fits was typed; where one is left out, or the
    next range counts in steps that could show it too (2520 µF in tens), that of the digits typed and −1: any
    may be."""
    if reading.mode != "farads":
        return ()
    (on,), scales = stood_on(meter, reading), ranges_of(meter, reading.mode)
    counted = scales.index(_counted_on(scales[on:], reading))
    if (value := reading.typed.value) is None:
        return (on,)
    full = math.isclose(scales[on].resolution, reading.step, rel_tol=1e-6)
    return (on,) if full and not _counts_so(scales[on + 1:], value) else (counted, -1)


def _counts_so(higher: Sequence[Range], value: float) -> bool:
    """Whether the next range has a step that the value is a whole number of."""
    return any(abs(value / r.resolution - round(value / r.resolution)) < 1e-6 for r in higher[:1])


def _circuit(board: Board, state: State, replaced: tuple[tuple[str, int], ...]) -> Circuit:
    circuit, count = build(board, state), dict(replaced)
    return replace(circuit, elements=tuple(renewed(e, count.get(e.part, 0)) for e in circuit.elements))


def renewed(element: Element, count: int) -> Element:
    """An element of a new specimen, under a name of its own."""
    return _renamed(element, lambda name: f"{name} #{count}") if count else element


def as_first(element: Element, count: int) -> Element:
    """An element of a new specimen under the name it had on the first one: the inverse of `renewed`."""
    return _renamed(element, lambda name: name.removesuffix(f" #{count}")) if count else element


def _renamed(element: Element, name: Callable[[str], str]) -> Element:
    named = replace(element, name=name(element.name))
    return replace(named, junction=name(named.junction)) if isinstance(named, Coupling) else named


def range_of(meter: Meter, mode: str, value: float) -> Range:
    """The lowest range that shows a value [V or ohm]; the highest where none does."""
    scales = ranges_of(meter, mode)
    return next((r for r in scales if value <= r.full_scale), scales[-1])


def stood_on(meter: Meter, reading: ReadingEntry) -> tuple[int, ...]:
    """Numbers of the ranges a reading may have stood on; the highest for overload.

    A number may stand on a higher range than the lowest that could show it, for a junction reads
    lower there; its last digit tells which. Where that fits none, it may be either of two.
    """
    scales = ranges_of(meter, reading.mode)
    last, value = len(scales) - 1, reading.typed.value
    if value is None:
        return (last,)
    on = next((k for k, r in enumerate(scales) if value <= r.full_scale), last)
    if reading.mode == "farads":  # a zero left out is more likely than a higher range than need be
        return (on,)
    told = next((k for k, r in enumerate(scales)
                 if k >= on and math.isclose(r.resolution, reading.step, rel_tol=1e-6)), None)
    return tuple(sorted({on, min(on + 1, last)})) if told is None else (told,)


def observed(meter: Meter, moment: Moment, ask: Ask) -> Observed:
    """What was read, with the meter's errors there. A beep alone is a number far below or above."""
    reading = moment.reading
    if reading.typed.beep is not None and reading.typed.value is None:
        return _heard(meter, reading.typed.beep)
    if reading.typed.word:
        return Observed(None, WORD, 0.0, 0.0, 1.0)
    scales, on = ranges_of(meter, reading.mode), stood_on(meter, reading)
    scale = _counted_on(scales[on[-1]:], reading)
    value, unit = reading.typed.value, unit_of(meter, ask)
    mode, still = f"{reading.mode} of {meter.name}", ask.settled or ask.mode not in meter.modes
    if value is None:
        over = Observed(None, mode, 0.0, 0.0, scale.full_scale * unit)
        return over if still else moving(over)
    rounding = (0.5 * max(scale.resolution, reading.step) + contact_in(reading.mode)) * unit
    error = range_half_width(scale, value) * unit
    end = (scale if still else scales[-1]).full_scale * unit
    found = Observed(value * unit, mode, error, rounding, end)
    told = still and reading.mode == "ohms" and len(on) == 1 and on[0] > 0
    return replace(found, start=scales[on[0] - 1].full_scale if told else 0.0) if still else moving(found)


def _counted_on(scales: Sequence[Range], reading: ReadingEntry) -> Range:
    """The range in whose digits farads were typed, for the error; else the first."""
    if reading.mode != "farads":
        return scales[0]
    return next((r for r in scales if math.isclose(r.resolution, reading.step, rel_tol=1e-6)), scales[0])


def contact_in(mode: str) -> float:
    """What a contact adds to a reading [ohm]."""
    return NEEDLE if mode == "esr" else CONTACT if mode in ("ohms", "continuity") else 0.0


def _heard(meter: Meter, beeps: bool) -> Observed:
    """A beep or silence: anything below or above the beeper's threshold [ohm]."""
    if meter.continuity is None:
        raise MeterError(f"meter {meter.name} has no continuity mode")
    threshold = meter.continuity.beeps_below
    half = 0.5 * threshold
    if beeps:
        return Observed(half, "beep", 0.0, half, threshold)
    return Observed(None, "beep", 0.0, 0.0, threshold)
