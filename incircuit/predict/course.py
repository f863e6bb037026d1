"""The course of a reading: what the display does from the first touch until it stands still.

`course_of` answers for the board as it should be; `sentence` says it as a person sees it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.network import Network, compile_network
from incircuit.circuit.sampling import drawn_capacitances, drawn_values
from incircuit.circuit.transient import Plant
from incircuit.circuit.values import Values, nominal_values
from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter
from incircuit.predict.course_film import Film, film
from incircuit.predict.course_plant import charges_of
from incircuit.predict.course_words import Reel, displayed, reel_of, sentence_of
from incircuit.predict.measure import LEAD_SPREAD, Ask, measure, noise, quiet, ranges_of, show
from incircuit.predict.question import Question
from incircuit.predict.reach import moving_block

Limits = tuple[float | None, ...]

LONGEST = 300.0
"""A display is watched for so long [s]; nobody waits longer."""
SLACK = 4.0
"""Times the usual error of a step: a digit at most, which a moving display does not show."""
APART = 0.02
"""Readings of two ranges that differ by more than this part are worth a word: more than either's error."""
MOST_SAMPLES = 120
BOARDS = 64
"""Boards drawn for the bands along the way."""


@dataclass(frozen=True, slots=True)
class Course:
    """What one display shows from the first touch on.

    `times` [s] are updates of the display, the first at 0, thinned out where nothing changes fast; `values`
    [V or ohm] what it shows then, None on overload; `low` and `high` what 99 of 100 healthy boards stay
    within there (None: overload; empty where no boards were drawn); `ranges` the number of the meter's range
    then. `beeps` [s] until when the beeper
    sounds: 0 not at all, None to the end. `settled_after` [s]: from then on the display stays where it ends,
    within half a percent or two digits; None where that takes longer than `LONGEST`. `moves`: a person sees
    it move or hears a chirp. `first` and `final` are the displays at first touch and in the end. `lowest`
    is what the lowest range that fits shows, where the display comes down from above, stops on a higher one
    and shows something else there; None where it does not.
    """

    mode: str
    red: str
    black: str
    times: tuple[float, ...]
    values: tuple[float | None, ...]
    low: tuple[float | None, ...]
    high: tuple[float | None, ...]
    beeps: float | None
    settled_after: float | None
    moves: bool
    first: Shown
    final: Shown
    sentence: str
    ranges: tuple[int, ...] = ()
    lowest: Shown | None = None

    def at(self, seconds: float) -> float | None:
        """What the display shows at a time [s]; None on overload."""
        return self.values[max(0, sum(t <= seconds for t in self.times) - 1)]

    @property
    def overload(self) -> tuple[bool, ...]:
        """Whether each sample is OL."""
        return tuple(value is None for value in self.values)


def course_of(question: Question, meter: Meter, ask: Ask, boards: int = 0) -> Course:
    """The course of one reading on the board as described; bands where `boards` are drawn.

    Raises MeterError where the meter lacks the mode, SolveError where nothing could be proven.
    """
    return courses_of(question, meter, [ask], boards)[ask]


def courses_of(question: Question, meter: Meter, asks: Sequence[Ask], boards: int = 0) -> dict[Ask, Course]:
    """The courses of several readings, solved together."""
    asks = list(dict.fromkeys(asks))
    if not asks:
        return {}
    static = compile_network(question.block, question.red_node, question.black_node)
    values = nominal_values(static, question.circuit.state.celsius)
    settled = measure(static, values, meter, asks, quiet(1)).shows
    ranges = np.array([int(settled[ask].range[0]) for ask in asks])
    final = _finals(static, values, meter, asks)
    found = _filmed(question, meter, asks, final, ranges)
    drawn = _bands(question, meter, asks, found, ranges, boards) if boards else None
    courses = {}
    for k, ask in enumerate(asks):
        reel = reel_of(ask.mode, meter, found, k, final[:, k])
        picked = reel.samples(MOST_SAMPLES)
        low, high = (_limits(drawn[k], picked) if drawn is not None else ((), ()))
        red, black = (question.black, question.red) if ask.swapped else (question.red, question.black)
        last = reel.last
        courses[ask] = Course(
            ask.mode, red, black, tuple(float(n) / meter.updates_per_second for n in picked),
            tuple(reel.shown(int(n)).value for n in picked), low, high,
            None if np.isinf(found.beep[k]) and ask.mode == "continuity" else
            float(found.beep[k]) if ask.mode == "continuity" else 0.0,
            reel.settled_after, reel.moves, reel.shown(0), last, sentence_of(reel),
            tuple(int(found.range[k, n]) for n in picked), _lowest(reel, int(ranges[k]), final[:, k]))
    return courses


def _lowest(reel: Reel, at: int, finals: Floats) -> Shown | None:
    """What the lowest range that fits, number `at`, shows where the display stops above it and differs."""
    here, there = reel.final, float(finals[at])
    if reel.final_range <= at or math.isinf(there) or abs(here - there) <= APART * abs(there):
        return None
    return show(reel.meter, reel.mode, there, at)


def plant_of(question: Question, boards: int = 0) -> tuple[Plant, Floats]:
    """The network in which the meter charges, nominal board first, and the charges [V] it starts with."""
    network = compile_network(moving_block(question), question.red_node, question.black_node, moving=True)
    values = drawn_values(network, boards, question.circuit.state.celsius)
    farads, esr = drawn_capacitances(network, boards)
    return Plant(network, values, farads, esr), charges_of(network)



def _finals(network: Network, values: Values, meter: Meter, asks: Sequence[Ask]) -> Floats:
    """Settled readings on every range by itself, (ranges, asks), infinite where one cannot show it."""
    deepest = max(len(ranges_of(meter, ask.mode)) for ask in asks)
    each = {(n, k): Ask(ask.mode, ask.swapped, (n,)) for k, ask in enumerate(asks)
            for n in range(len(ranges_of(meter, ask.mode)))}
    shows = measure(network, values, meter, list(dict.fromkeys(each.values())), quiet(1)).shows
    found = np.full((deepest, len(asks)), np.inf)
    for at, ask in each.items():
        found[at] = shows[ask].exact[0]
    return found


def _filmed(question: Question, meter: Meter, asks: Sequence[Ask], final: Floats, ranges: Ints) -> Film:
    """The nominal board, until the display stands where it ends."""
    plant, charges = plant_of(question)
    count = len(asks)
    updates = np.full(count, int(LONGEST * meter.updates_per_second) + 1)
    leads = np.full(count, meter.lead_resistance)
    return film(plant, np.repeat(charges, count, axis=1), meter, asks, np.arange(count), leads, updates,
                final, by_hand(meter, asks, ranges), SLACK)


def by_hand(meter: Meter, asks: Sequence[Ask], ranges: Ints) -> Ints:
    """Ranges that the technician sets, by where the settled reading stands; −1 where the meter finds them."""
    manual = meter.ohms is not None and meter.ohms.manual
    return np.array([int(n) if manual and ask.mode == "ohms" else -1
                     for ask, n in zip(asks, ranges, strict=True)])


def _bands(question: Question, meter: Meter, asks: Sequence[Ask], nominal: Film, ranges: Ints,
           boards: int) -> Floats:
    """Displays of drawn boards, (asks, boards, updates), with the meter's error."""
    plant, charges = plant_of(question, boards)
    errors, count, width = noise(boards), len(asks), boards + 1
    last = [reel_of(a.mode, meter, nominal, k, np.full(99, np.inf)).last_move for k, a in enumerate(asks)]
    updates = np.repeat(np.array([int(1.5 * n) + 3 for n in last]), width)
    updates = np.minimum(updates, nominal.exact.shape[1])
    leads = np.tile(meter.lead_resistance * (1.0 + LEAD_SPREAD * errors.leads), count)
    found = film(plant.take(np.tile(np.arange(width), count)), np.repeat(charges, count * width, axis=1),
                 meter, asks, np.repeat(np.arange(count), width), leads, updates,
                 fixed=np.repeat(by_hand(meter, asks, ranges), width), slack=SLACK)
    shown = displayed(meter, [a.mode for a in asks], found, np.repeat(np.arange(count), width),
                      np.tile(errors.meter, count))
    return shown.reshape(count, width, -1)


def _limits(shown: Floats, picked: Sequence[int]) -> tuple[Limits, Limits]:
    """Bands at some updates; the last one computed holds from there on."""
    last = int(np.flatnonzero(~np.isnan(shown).all(axis=0))[-1])
    low, high = [], []
    for n in picked:
        column = shown[:, min(int(n), last)]
        column = column[~np.isnan(column)]
        low.append(_finite(float(np.quantile(column, 0.005, method="lower"))))
        high.append(_finite(float(np.quantile(column, 0.995, method="higher"))))
    return tuple(low), tuple(high)


def _finite(value: float) -> float | None:
    return None if np.isinf(value) else float(f"{value:.12g}")
