"""Readings that are not those of a board at rest: farads, esr, volts, and displays not left to settle.

`read_timed` gives them under many changes of the board, as evidence; `predict_charging` as a band.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.sampling import uniforms
from incircuit.meter.display import quantise, range_half_width
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change
from incircuit.paths.blocks import parts_of
from incircuit.predict.course_film import Film, film
from incircuit.predict.course_plant import Charged, charged
from incircuit.predict.course_seen import seen_as
from incircuit.predict.esr import read_esr
from incircuit.predict.farads import read_farads
from incircuit.predict.measure import LEAD_SPREAD, Ask, Shows, noise, ranges_of
from incircuit.predict.prediction import Prediction, alone_elements, band_of, display, limits
from incircuit.predict.question import Question
from incircuit.predict.reach import moving_block
from incircuit.predict.volts import supplies_of, voltages, volts_mode

SOME = 128
"""Boards drawn for a band."""
FIRST_SIGHT = 1.0
"""`first` is a display seen within so many seconds of the first touch (from memory)."""
CLOCK = 0.2
"""`after 5s` is told by feeling: within this part of the time, half width (from memory)."""
WATCHED = {"climbs": 6.0, "drifts": 60.0, "chirp": 2.5}
"""Whoever says so has looked for so many seconds (assumption) …"""
GLANCE = 1.5
"""… but what has shown after so many needs no more."""
SLACK = 20.0
"""As evidence a display need not be known to the last digit."""
FOR_WORDS = 12
"""Boards drawn to tell whether a word fits."""


def read_timed(circuit: Circuit, changes: Sequence[Change], red: str, black: str, meter: Meter,
               asks: Sequence[Ask], boards: int, limit: float = np.inf) -> Floats:
    """True readings of the board as it is and under each change, (asks, 1 + changes, boards + 1).

    In V, ohm or F before the meter's own error, infinite on overload, NaN where nothing could be proven. A
    word that was seen instead of a number is infinite where such a board shows it, and 0 where not. Raises
    MeterError for a mode the meter lacks, StateError for volts without a supply.
    """
    words = [k for k, ask in enumerate(asks) if ask.word]
    if words and boards > FOR_WORDS:
        return _words_apart(circuit, changes, red, black, meter, asks, boards, limit)
    leads = leads_of(meter, boards)
    found = np.full((len(asks), len(changes) + 1, boards + 1), np.nan)
    powered = [k for k, ask in enumerate(asks) if ask.mode == "volts"]
    for k in powered:
        pair = (black, red) if asks[k].swapped else (red, black)
        found[k] = voltages(circuit, changes, supplies_of(circuit, limit), [pair],
                            volts_mode(meter).input_resistance, boards)[0]
    if len(powered) == len(asks):
        return found
    stage = charged(circuit, changes, red, black, boards)
    every = np.arange(stage.conditions)
    moving = []
    for k, ask in enumerate(asks):
        if ask.mode == "farads":
            on = ask.ranges[-1] if ask.ranges and ask.ranges[-1] >= 0 else None  # −1: any
            found[k] = read_farads(stage, meter, ask.swapped, every, leads, on).exact
        elif ask.mode == "esr":
            found[k] = read_esr(charged(circuit, changes, red, black, boards, magnetic=True), meter, every)
        elif ask.mode != "volts":
            moving.append(k)
    if moving:
        found[moving] = _filmed(stage, meter, [asks[k] for k in moving], leads)
    return found


def _words_apart(circuit: Circuit, changes: Sequence[Change], red: str, black: str, meter: Meter,
                 asks: Sequence[Ask], boards: int, limit: float) -> Floats:
    """Words are decided on few boards, which stand for the others too: they say yes or no."""
    found = np.empty((len(asks), len(changes) + 1, boards + 1))
    for some, count in (([k for k, a in enumerate(asks) if a.word], FOR_WORDS),
                        ([k for k, a in enumerate(asks) if not a.word], boards)):
        if some:
            part = read_timed(circuit, changes, red, black, meter, [asks[k] for k in some], count, limit)
            repeated = np.concatenate([[0], np.arange(boards) % count + 1])
            found[some] = part[:, :, repeated]
    return found


def _filmed(stage: Charged, meter: Meter, asks: Sequence[Ask], leads: Floats) -> Floats:
    """Readings not left to settle, and words for how a display moves."""
    width = stage.columns
    which: Ints = np.repeat(np.arange(len(asks)), width)
    columns = np.tile(np.arange(width), len(asks))
    moments = [_moments(ask, stage.boards) for ask in asks]
    lead = np.tile(leads, stage.conditions)

    def watched(some: Sequence[Ask], which: Ints, columns: Ints, seconds: Sequence[float]) -> Film:
        updates = np.array([int(np.ceil(t * meter.updates_per_second)) + 1 for t in seconds])[which]
        return film(stage.plant.take(columns), stage.charges[:, columns], meter, some, which, lead[columns],
                    updates, slack=SLACK)

    shown = watched(asks, which, columns, [GLANCE if m is None else float(m.max()) for m in moments])
    found = np.empty((len(asks), stage.conditions, stage.boards + 1))
    for k, ask in enumerate(asks):
        rows = slice(k * width, (k + 1) * width)
        moment = moments[k]
        if moment is None:
            said, sure = seen_as(ask.word, meter, ask.mode, shown.exact[rows], shown.range[rows],
                                 shown.beep[rows])
            if len(left := np.flatnonzero(~sure)):
                longer = watched([ask], np.zeros_like(left), left, [WATCHED[ask.word]])
                said[left] = seen_as(ask.word, meter, ask.mode, longer.exact, longer.range, longer.beep)[0]
            values = np.where(said, np.inf, 0.0)
        else:
            at = np.floor(np.tile(moment, stage.conditions) * meter.updates_per_second + 1e-9).astype(np.intp)
            values = shown.exact[rows][np.arange(width), at]
        found[k] = values.reshape(stage.conditions, -1)
    return found


def _moments(ask: Ask, boards: int) -> Floats | None:
    """When the display was read on each board [s]; None where a word tells what it did."""
    if ask.word:
        return None
    spread = uniforms(f"moment {ask.when}", boards)
    if ask.when == "first":
        return np.asarray(0.5 * FIRST_SIGHT * (1.0 + spread))
    return np.asarray(float(ask.when) * (1.0 + CLOCK * spread))


def predict_charging(question: Question, meter: Meter, mode: str, swapped: bool = False,
                     boards: int = SOME, limit: float = np.inf) -> Prediction:
    """What healthy boards show in mode farads, esr or volts; the part in question alone beside it."""
    ask = Ask(mode, swapped)
    shows = _shows(question.circuit, question.red_node, question.black_node, meter, ask, boards, limit)
    alone = None if mode == "volts" else alone_elements(question)
    band, lone = band_of(shows), None
    if alone is not None:
        elements, red, black = alone
        own = Circuit(question.circuit.board, question.circuit.state, elements)
        lone = band_of(_shows(own, red, black, meter, ask, boards))
    red, black = (question.black, question.red) if swapped else (question.red, question.black)
    return Prediction(mode, red, black, display(meter, mode, shows, 0), band, *limits(meter, mode, band),
                      lone, limits(meter, mode, lone) if lone else None)


def _shows(circuit: Circuit, red: str, black: str, meter: Meter, ask: Ask, boards: int,
           limit: float = np.inf) -> Shows:
    if ask.mode != "farads":
        return _displayed(meter, ask, read_timed(circuit, (), red, black, meter, [ask], boards, limit)[0, 0],
                          boards)
    found = read_farads(charged(circuit, (), red, black, boards), meter, ask.swapped, np.arange(1),
                        leads_of(meter, boards))
    return _displayed(meter, ask, found.exact[0], boards, found.range[0])


def leads_of(meter: Meter, boards: int) -> Floats:
    """Lead resistance [ohm] on the nominal board and on drawn ones, (boards + 1,)."""
    return np.asarray(meter.lead_resistance * (1.0 + LEAD_SPREAD * noise(boards).leads))


def shown_band(meter: Meter, mode: str, red: str, black: str, exact: Floats) -> Prediction:
    """A prediction from true readings (boards + 1,), the nominal board first."""
    ask = Ask(mode)
    shows = _displayed(meter, ask, exact, len(exact) - 1)
    band = band_of(shows)
    ends = limits(meter, mode, band)
    return Prediction(mode, red, black, display(meter, mode, shows, 0), band, *ends, None, None)


def _displayed(meter: Meter, ask: Ask, exact: Floats, boards: int, least: Ints | int = 0) -> Shows:
    """Displays with the meter's error and rounding, on the lowest range that fits, from `least` on: what a
    higher one measured is shown in its own digits."""
    scales = ranges_of(meter, ask.mode)
    value = np.full(len(exact), np.inf)
    chosen = np.full(len(exact), len(scales) - 1, dtype=np.intp)
    error = noise(boards).meter
    finite = np.where(np.isfinite(exact), exact, 0.0)
    for k in range(len(scales) - 1, -1, -1):
        read = quantise(finite + error * range_half_width(scales[k], np.abs(finite)), scales[k].resolution)
        read = read if ask.mode == "volts" else np.maximum(read, 0.0)  # no sign on the display
        fits = np.isfinite(exact) & (k >= least) & (np.abs(read) <= scales[k].full_scale * (1.0 + 1e-9))
        value, chosen = np.where(fits, read, value), np.where(fits, k, chosen)
    return Shows(np.where(np.isfinite(value), exact, np.inf), value, chosen, np.zeros_like(chosen))


def falsifiers(question: Question, meter: Meter, mode: str, swapped: bool = False,
               least: float = 0.05) -> tuple[tuple[str, float | None], ...]:
    """Neighbours that falsify a reading of farads or esr: each with what it would be without that part [F or
    ohm] (None: overload), those that change it by at least a part of `least`, the strongest first."""
    about = question.part.ref if question.part else ""
    refs = [ref for ref in parts_of(moving_block(question, mode == "esr")) if ref != about]
    changes = [Change(frozenset(e.name for e in question.circuit.of_part(ref))) for ref in refs]
    exact = read_timed(question.circuit, changes, question.red_node, question.black_node, meter,
                       [Ask(mode, swapped)], 0)[0, :, 0]
    here = float(exact[0])
    found = []
    for ref, without in zip(refs, exact[1:].tolist(), strict=True):
        if math.isnan(without) or (math.isinf(without) and math.isinf(here)):
            continue
        ends = math.isinf(without) or math.isinf(here)
        ratio = math.inf if ends else abs(without - here) / max(here, 1e-15)
        if ratio >= least:
            found.append((ratio, ref, None if math.isinf(without) else without))
    return tuple((ref, without) for _, ref, without in sorted(found, key=lambda f: -f[0]))
