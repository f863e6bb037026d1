"""Words for a display that moves, as they are typed instead of a number: does such a board show it?"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from incircuit.circuit.elimination import Floats, Ints
from incircuit.meter.profile import Meter
from incircuit.predict.course_words import CHIRP
from incircuit.predict.measure import ranges_of

MOTION = ("climbs", "drifts", "chirp")
"""What is typed: climbs, the numbers rise at first; drifts, they move, up or down; chirp, a short beep."""
DIGITS = 5.0
"""Numbers that move by so many digits …"""
PART = 0.02
"""… and by this part of themselves are seen to move."""
SEEN = 3
"""Updates at which they must have moved: less is a flicker."""

Bools = npt.NDArray[np.bool_]


def seen_as(word: str, meter: Meter, mode: str, exact: Floats, ranges: Ints,
            beep: Floats) -> tuple[Bools, Bools]:
    """Whether displays, (scenarios, updates), would be called so, and whether a longer look would tell
    otherwise no more, (scenarios,) both."""
    if word == "chirp":
        return np.asarray((beep >= CHIRP[0]) & (beep <= CHIRP[1])), np.isfinite(beep)
    scales = ranges_of(meter, mode)
    digit = np.array([s.resolution for s in scales])[ranges[:, 1:]]
    with np.errstate(invalid="ignore"):
        step = exact[:, 1:] - exact[:, :-1]
        number = np.isfinite(exact[:, :-1])
        least = 0.2 * np.maximum(DIGITS * digit, PART * np.abs(exact[:, :-1]))
        up = number & (step > least)  # a step from a number to overload is one up
        down = np.isfinite(step) & (step < -least)
    rises, falls = up.sum(axis=1), down.sum(axis=1)
    if word == "climbs":  # where the meter changes its range it may fall in between
        first = (falls == 0) | (up.argmax(axis=1) < down.argmax(axis=1))
        return np.asarray((rises >= 1) & first), np.asarray(rises + falls >= 1)
    moves = np.asarray(rises + falls >= SEEN)
    return moves, moves
