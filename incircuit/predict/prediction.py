"""What each reading should show if all is well: nominal display, band, and the part alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.board.state import pad_node
from incircuit.circuit.network import compile_network
from incircuit.circuit.sampling import drawn_values
from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter
from incircuit.parts import alike_group, expand
from incircuit.parts.elements import Element
from incircuit.predict.measure import (
    Ask,
    Shows,
    beside,
    may_stand_elsewhere,
    measure,
    noise,
    quiet,
    ranges_of,
    show,
)
from incircuit.predict.question import Question, pins_at

BOARDS = 512
"""Healthy boards drawn for a band."""
TAIL = 0.005
"""Left out on each side: the band is what 99 of 100 healthy boards show."""


@dataclass(frozen=True, slots=True)
class Band:
    """What a reading may be: nominal `value` and limits in V or ohm; None on an overloaded side.

    `overload`: the nominal board reads OL. `low` is None when even the lowest of the band is OL.
    """

    value: float | None
    low: float | None
    high: float | None
    overload: bool

    def holds(self, value: float | None) -> bool:
        """Whether a displayed value (None: OL) lies in the band."""
        if value is None:
            return self.high is None
        if self.low is None:
            return False
        return self.low <= value and (self.high is None or value <= self.high)


@dataclass(frozen=True, slots=True)
class Prediction:
    """One reading as the meter should show it. `red` and `black` are where the leads go."""

    mode: str
    red: str
    black: str
    shown: Shown
    band: Band
    low: Shown
    high: Shown
    alone: Band | None
    alone_shown: tuple[Shown, Shown] | None


def band_of(shows: Shows, nominal: int = 0) -> Band:
    """Nominal value (exact) and the limits of what the drawn boards display."""
    exact = float(shows.exact[nominal])
    low = float(np.quantile(shows.value, TAIL, method="lower"))
    high = float(np.quantile(shows.value, 1.0 - TAIL, method="higher"))
    if np.isfinite(exact):
        low = min(low, float(shows.value[nominal]))
    else:
        high = exact
    return Band(None if np.isinf(exact) else exact, _finite(low), _finite(high), bool(np.isinf(exact)))


def _finite(value: float) -> float | None:
    """None on overload; else without the tail that binary steps of the resolution leave."""
    return None if np.isinf(value) else float(f"{value:.12g}")


def shows_of(elements: Sequence[Element], red: str, black: str, meter: Meter, asks: Sequence[Ask],
             celsius: float, boards: int = BOARDS, engine: str = "own") -> dict[Ask, Shows]:
    """Readings of the nominal and of `boards` drawn boards; `engine` ngspice solves the nominal one.

    The drawn boards are tried on the ranges beside the one of the nominal reading, and on all of
    them where one may stand elsewhere: half the work, and the same answer.
    """
    network = compile_network(elements, red, black)
    values, second = drawn_values(network, boards, celsius), celsius if engine == "ngspice" else None
    first = measure(network, values.take(slice(0, 1)), meter, asks, quiet(1)).shows
    near = {ask: beside(meter, ask, int(first[ask].range[0])) for ask in asks}
    drawn = measure(network, values, meter, list(near.values()), noise(boards), second).shows
    found = {ask: drawn[near[ask]] for ask in asks}
    again = [ask for ask in asks if may_stand_elsewhere(meter, near[ask], found[ask])]
    if again:
        found |= measure(network, values, meter, again, noise(boards), second).shows
    return found


def predict(question: Question, meter: Meter, modes: Sequence[str] = (),
            swapped: Sequence[bool] = (False, True), engine: str = "own") -> tuple[Prediction, ...]:
    """Predictions for each mode (default: all the meter has), both ways round by default.

    Raises MeterError for a mode the meter lacks, SolveError where nothing could be proven.
    """
    asks = [Ask(mode, swap) for mode in (modes or meter.modes) for swap in swapped]
    celsius = question.circuit.state.celsius
    healthy = shows_of(question.block, question.red_node, question.black_node, meter, asks, celsius,
                       engine=engine)
    lone = alone_shows(question, meter, asks, engine)
    found = []
    for ask in asks:
        shows = healthy[ask]
        band = band_of(shows)
        alone = band_of(lone[ask]) if lone else None
        red, black = (question.black, question.red) if ask.swapped else (question.red, question.black)
        found.append(Prediction(
            ask.mode, red, black, display(meter, ask.mode, shows, 0), band,
            *limits(meter, ask.mode, band), alone, limits(meter, ask.mode, alone) if alone else None,
        ))
    return tuple(found)


def display(meter: Meter, mode: str, shows: Shows, board: int) -> Shown:
    """The meter's display on one board."""
    return show(meter, mode, float(shows.exact[board]), int(shows.range[board]))


def limits(meter: Meter, mode: str, band: Band) -> tuple[Shown, Shown]:
    """The displays at both ends of a band."""
    return _limit(meter, mode, band.low), _limit(meter, mode, band.high)


def _limit(meter: Meter, mode: str, value: float | None) -> Shown:
    """A limit of a band, on the range it would be read on."""
    if value is None:
        return show(meter, mode, float("inf"), -1)
    scales = ranges_of(meter, mode)
    fitting = [k for k, r in enumerate(scales) if abs(value) <= r.full_scale]
    return show(meter, mode, value, fitting[0] if fitting else len(scales) - 1)


def alone_elements(question: Question) -> tuple[tuple[Element, ...], str, str] | None:
    """The part in question off the board, and its nodes at the two pads; None where it has no pin there."""
    part, state = question.part, question.circuit.state
    if part is None:
        return None
    red, black = (pins_at(part, state, node) for node in (question.red_node, question.black_node))
    if not red or not black or red == black:
        return None
    group = alike_group(question.circuit.board, part.ref)
    loose = {pin: pad_node(part.ref, pin) for pin in part.pin_names}  # off the board no two pins are joined
    return (expand(part, loose, group), loose[_probed(question.red, part.ref, red)],
            loose[_probed(question.black, part.ref, black)])


def _probed(pad: str, ref: str, pins: tuple[str, ...]) -> str:
    """The pin meant by a pad, where several of the part's pins are on it."""
    return next((pin for pin in pins if pad == f"{ref}.{pin}"), pins[0])


def alone_shows(question: Question, meter: Meter, asks: Sequence[Ask],
                engine: str = "own") -> dict[Ask, Shows] | None:
    """The healthy part by itself between the same pads."""
    alone = alone_elements(question)
    if alone is None:
        return None
    elements, red, black = alone
    return shows_of(elements, red, black, meter, asks, question.circuit.state.celsius, engine=engine)
