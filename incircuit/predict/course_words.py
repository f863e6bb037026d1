"""A display's course in the words of a person at the bench."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from incircuit.circuit.elimination import Floats, Ints
from incircuit.meter.display import Shown, quantise, range_half_width
from incircuit.meter.profile import Meter
from incircuit.predict.course_film import SPARE, Film
from incircuit.predict.measure import ranges_of, show
from incircuit.units import duration, format_value

STILL = 0.005
"""A display within this part of its last value, or within two digits, has settled."""
DIGITS = 2.0
TURN = 0.02
"""A display turns round where it goes back by this part, and by `DIGITS`."""
MOST_TURNS = 4
"""More stretches than this are not told one by one."""
CHIRP = (0.002, 2.0)
"""A beep between these [s] is a chirp: shorter is not heard, longer is a beep that ends (from memory)."""


@dataclass(frozen=True, slots=True)
class Reel:
    """One display: `exact` [V or ohm] and range at every update, `beep` [s], and the settled reading
    `final` on range `final_range`, where the display ends or is heading for."""

    mode: str
    meter: Meter
    exact: Floats
    range: Ints
    beep: float
    final: float
    final_range: int

    @property
    def seen(self) -> int:
        """How many updates were watched."""
        known = np.flatnonzero(~np.isnan(self.exact))
        return int(known[-1]) + 1 if len(known) else 0

    def shown(self, update: int) -> Shown:
        """The display at one update."""
        return show(self.meter, self.mode, float(self.exact[update]), int(self.range[update]))

    @property
    def last(self) -> Shown:
        """The display in the end."""
        return show(self.meter, self.mode, self.final, self.final_range)

    def _off(self) -> Floats:
        """Whether each display is not yet where it ends."""
        values, final = self.exact[:self.seen], self.final
        if math.isinf(final):
            return np.asarray(~np.isinf(values))
        scales = ranges_of(self.meter, self.mode)
        digit = np.array([scales[n].resolution for n in self.range[:self.seen]])
        with np.errstate(invalid="ignore"):
            near = np.abs(values - final) <= np.maximum(STILL * abs(final), DIGITS * digit)
        return np.asarray(~near)

    @property
    def last_move(self) -> int:
        """Number of the last update that differs from the last one seen."""
        values = self.exact[:self.seen]
        with np.errstate(invalid="ignore"):
            near = np.abs(values - values[-1]) <= STILL * np.abs(values[-1])
        same = (values == values[-1]) | (near & np.isfinite(values[-1]))
        off = np.flatnonzero(~same)
        return int(off[-1]) if len(off) else 0

    @property
    def settled_after(self) -> float | None:
        """From when on [s] the display stands where it ends; None where that was not seen."""
        off = np.flatnonzero(self._off())
        if not len(off):
            return 0.0
        if off[-1] >= self.seen - 1:
            return None
        return float(off[-1] + 1) / self.meter.updates_per_second

    @property
    def moves(self) -> bool:
        """Whether a person sees the display move, or hears a chirp."""
        settled = self.settled_after
        return settled is None or settled > 0.0 or self.chirps

    @property
    def chirps(self) -> bool:
        """Whether the beeper sounds for a moment only."""
        return self.mode == "continuity" and CHIRP[0] <= self.beep <= CHIRP[1]

    def samples(self, most: int) -> list[int]:
        """Updates worth showing: every one at first, then ever fewer, up to where it stands still."""
        settled = self.settled_after
        last = self.seen - 1 if settled is None else round(settled * self.meter.updates_per_second)
        last = min(max(last, 1), self.seen - 1)
        if last < most:
            return list(range(last + 1))
        spread = np.unique(np.rint(np.geomspace(1, last, most)).astype(int))
        return [0, *(int(n) for n in spread)]


def reel_of(mode: str, meter: Meter, film: Film, scenario: int, finals: Floats) -> Reel:
    """One scenario of a film; `finals` are its settled readings by range."""
    exact, ranges = film.exact[scenario], film.range[scenario]
    known = np.flatnonzero(~np.isnan(exact))
    at = int(ranges[known[-1]]) if len(known) else 0
    while at < len(ranges_of(meter, mode)) - 1 and np.isinf(finals[at]):
        at += 1  # it has further to go
    scales = ranges_of(meter, mode)
    arrived = bool(len(known)) and exact[known[-1]] == finals[at]
    while not arrived and at and np.isfinite(finals[at]) and np.isfinite(finals[at - 1]) and (
            abs(finals[at]) <= SPARE * scales[at - 1].full_scale):
        at -= 1  # not there yet, it will come down
    return Reel(mode, meter, exact, ranges, float(film.beep[scenario]), float(finals[at]), at)


def displayed(meter: Meter, modes: Sequence[str], film: Film, which: Ints, error: Floats) -> Floats:
    """Displays with a meter's `error` (scenarios,) in [−1, 1] and rounded, (scenarios, updates)."""
    shown = np.full(film.exact.shape, np.nan)
    for k, mode in enumerate(modes):
        rows = np.flatnonzero(which == k)
        for n, scale in enumerate(ranges_of(meter, mode)):
            here = (film.range[rows] == n) & ~np.isnan(film.exact[rows])
            exact = film.exact[rows]
            finite = np.where(np.isfinite(exact), exact, 0.0)
            read = quantise(finite + error[rows][:, None] * range_half_width(scale, finite), scale.resolution)
            over = np.isinf(exact) | (np.abs(read) > scale.full_scale * (1.0 + 1e-9))
            shown[rows] = np.where(here, np.where(over, np.inf, read), shown[rows])
    return shown


def sentence_of(reel: Reel) -> str:
    """What a person sees: ``starts at 0.000 V, climbs 2.1 V a second, OL after about 1 s``."""
    final = reel.last
    if reel.mode == "continuity":
        return _heard(reel, final)
    settled = reel.settled_after
    if settled == 0.0:
        return f"stands at {final.text} at once"
    return ", ".join([f"starts at {reel.shown(0).text}", *_way(reel), _end(reel, final)])


def _end(reel: Reel, final: Shown) -> str:
    settled = reel.settled_after
    if settled is None:
        last = reel.shown(reel.seen - 1)
        after = duration((reel.seen - 1) / reel.meter.updates_per_second)
        return f"not settled after {after}, then at {last.text} (ends at {final.text})"
    return f"{final.text} after about {duration(settled)}"


def _way(reel: Reel) -> list[str]:
    """How it gets there: climbs, falls or comes down from above, how fast, and where it turns."""
    settled = reel.settled_after
    end = reel.seen if settled is None else round(settled * reel.meter.updates_per_second) + 1
    path = reel.exact[:max(2, end)]
    turns = _turns(reel, path)
    stretches = list(pairwise(turns)) or [(0, len(path) - 1)]
    if sum(math.isinf(path[b]) for _, b in stretches) > 1:
        lowest = min(range(1, len(path)), key=lambda k: float(path[k]))
        return [f"jumps about between {reel.shown(lowest).text} and OL while the meter looks for its range"]
    if len(stretches) <= MOST_TURNS:
        told = [_stretch(reel, path, a, b, b == turns[-1]) for a, b in stretches]
        return [*told[:-1], f"then {told[-1]}" if len(told) > 2 else told[-1]]
    a, b = stretches[0] if math.isinf(path[stretches[0][1]]) else (0, 0)
    first = [_stretch(reel, path, a, b, False)] if b else []
    then = "comes down from above" if math.isinf(path[b]) else "falls" if path[-1] < path[b] else "climbs"
    return [*first, f"{then}, with jumps where the meter changes its range"]


def _turns(reel: Reel, path: Floats) -> list[int]:
    """Updates at which the display turns round, the first and the last extreme with them."""
    scales = ranges_of(reel.meter, reel.mode)

    def apart(k: int, other: int) -> bool:
        x, y = float(path[k]), float(path[other])
        if math.isinf(x) or math.isinf(y):
            return x != y
        return bool(abs(x - y) > max(TURN * max(abs(x), abs(y)), DIGITS * scales[reel.range[k]].resolution))

    found, at, up = [0], 0, None
    for k in range(1, len(path)):
        if up is None:
            if apart(k, 0):
                up, at = bool(path[k] > path[0]), k
        elif path[k] != path[at] and bool(path[k] > path[at]) == up:
            at = k
        elif apart(k, at):
            found.append(at)
            up, at = not up, k
    return [*found, at] if at else found


def _stretch(reel: Reel, path: Floats, a: int, b: int, last: bool) -> str:
    """One stretch between two turns."""
    within = duration(max(b - a, 1) / reel.meter.updates_per_second)
    if not last:
        where = f" to {reel.shown(b).text} within {within}"
        if path[b] > path[a]:
            return f"{'jumps' if math.isinf(path[b]) and b - a <= 2 else 'climbs'}{where}"
        if math.isinf(path[a]) and path[b] < 0.0:
            return f"turns negative and rises{where}"
        return f"{'comes down from above' if math.isinf(path[a]) else 'falls'}{where}"
    rate = _rate(path[a:], reel.meter.updates_per_second) if reel.mode == "diode" else 0.0
    if math.isinf(path[a]):
        return "comes down from above" + (f", {_volts_a_second(abs(rate))}" if rate else "")
    word = "climbs" if path[b] > path[a] else "falls"
    return f"{word} {_volts_a_second(abs(rate))}" if rate else word


def _rate(path: Floats, per_second: float) -> float:
    """Slope [V/s] over the first half of the way."""
    finite = path[np.isfinite(path)]
    if len(finite) < 2:
        return 0.0
    half = 0.5 * (finite[0] + finite[-1])
    beyond = np.flatnonzero(np.abs(finite - finite[0]) >= abs(half - finite[0]))
    n = max(1, int(beyond[0]) if len(beyond) else len(finite) - 1)
    return float((finite[n] - finite[0]) * per_second / n)


def _volts_a_second(rate: float) -> str:
    if 0.995 <= rate < 99.5:
        return f"{rate:.1f} V a second"
    return f"{rate:.2g} V a second" if 0.095 <= rate < 1.0 else f"{format_value(rate, 'V', 2)} a second"


def _heard(reel: Reel, final: Shown) -> str:
    if math.isinf(reel.beep):
        return "beeps at once and goes on"
    if reel.chirps:
        return f"chirps for {duration(reel.beep)}, then silent ({final.text})"
    if reel.beep > CHIRP[1]:
        return f"beeps for {duration(reel.beep)}, then silent ({final.text})"
    settled = reel.settled_after
    if final.beep:
        return "silent at first, then beeps" if settled is None else (
            f"silent at first, beeps after about {duration(settled)}")
    return f"silent ({final.text})"
