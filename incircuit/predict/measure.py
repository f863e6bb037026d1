"""What a meter reads on a solved network, for many boards at once.

The meter is a source (see `incircuit.circuit.source`) and a rule from voltage and current to a
number: volts on the diode test, volts per ampere on ohms, the lowest range that fits.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Before
from incircuit.circuit.sampling import uniforms
from incircuit.circuit.second import solve_by_ngspice
from incircuit.circuit.solve import Solution, guess_of, solve
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values
from incircuit.errors import MeterError
from incircuit.meter.display import (
    Shown,
    quantise,
    range_half_width,
    show_continuity,
    show_diode,
    show_ohms,
    show_plain,
)
from incircuit.meter.profile import Meter, Range, Source

UNIT = {"farads": "F", "esr": "Ω", "volts": "V"}
LEAD_SPREAD = 0.5
"""Leads and contacts differ by this fraction of `lead_resistance`, half width; from memory."""


@dataclass(frozen=True, slots=True)
class Ask:
    """One reading: mode, and whether the red lead goes on the second pad.

    `ranges` are indices of the ranges to consider, lowest first; none means all the mode has. `when` is
    ``first`` or seconds after the first touch where the display was not left to settle; `word` is what was
    seen instead of a number: climbs, drifts, chirp.
    """

    mode: str
    swapped: bool = False
    ranges: tuple[int, ...] = ()
    when: str | float = ""
    word: str = ""

    @property
    def settled(self) -> bool:
        """Whether the reading is one of a board at rest under the meter's own current."""
        return self.mode in ("diode", "ohms", "continuity") and self.when in ("", "settled") and not self.word


@dataclass(frozen=True, slots=True)
class Noise:
    """Errors of meter and leads per board, uniform in [−1, 1]; (boards,) each."""

    leads: Floats
    meter: Floats


@dataclass(frozen=True, slots=True)
class Lane:
    """One source setting that must be solved: the meter's source and its direction into the pads."""

    source: Source
    sign: int


@dataclass(frozen=True, slots=True)
class Shows:
    """Readings of one ask on many boards, (boards,) each.

    `exact` [V or ohm] is what the meter measures before its own error and rounding, `value` what it
    displays, both infinite on overload; `range` is the index of the range used (the last on overload),
    `lane` the source setting solved for it.
    """

    exact: Floats
    value: Floats
    range: Ints
    lane: Ints


@dataclass(frozen=True, slots=True)
class Bench:
    """Everything measured between two pads: readings per ask and the solved lanes behind them."""

    shows: dict[Ask, Shows]
    lanes: tuple[Lane, ...]
    solution: Solution
    boards: int

    def column(self, ask: Ask, board: int = 0) -> int:
        """Column of `solution` that belongs to an ask on one board."""
        return int(self.shows[ask].lane[board]) * self.boards + board


def quiet(boards: int) -> Noise:
    """No errors at all."""
    return Noise(np.zeros(boards), np.zeros(boards))


def noise(boards: int) -> Noise:
    """Errors for the nominal board (none) and `boards` drawn ones."""
    return Noise(uniforms("leads", boards), uniforms("meter", boards))


def ranges_of(meter: Meter, mode: str) -> tuple[Range, ...]:
    """The ranges of a mode, lowest first; the diode test is one range that ends at its overload [V].

    Raises MeterError where the meter lacks the mode.
    """
    if mode == "diode" and meter.diode is not None:
        diode = meter.diode
        return (Range(diode.overload, diode.resolution, diode.accuracy, diode.source),)
    if mode == "ohms" and meter.ohms is not None:
        return meter.ohms.ranges
    if mode == "continuity" and meter.continuity is not None:
        return (meter.continuity.range,)
    if mode in ("farads", "esr", "volts") and getattr(meter, mode) is not None:
        more: tuple[Range, ...] = getattr(meter, mode).ranges
        return more
    have = ", ".join(meter.all_modes) or "none"
    raise MeterError(f"meter {meter.name} has no {mode} mode; it has: {have}")


def asked_ranges(meter: Meter, ask: Ask) -> tuple[tuple[int, Range], ...]:
    """(index, range) for the ranges an ask considers, lowest first."""
    scales = ranges_of(meter, ask.mode)
    return tuple((k, scales[k]) for k in (ask.ranges or range(len(scales))))


def beside(meter: Meter, ask: Ask, at: int) -> Ask:
    """The ask on range number `at`, two below and one above: junctions make readings differ by decades."""
    last = len(ranges_of(meter, ask.mode)) - 1
    return Ask(ask.mode, ask.swapped, tuple(range(max(0, at - 2), min(last, at + 1) + 1)))


def may_stand_elsewhere(meter: Meter, narrowed: Ask, shows: Shows) -> bool:
    """Whether a board of a narrowed ask may be read on a range that was left out."""
    first, last = narrowed.ranges[0], narrowed.ranges[-1]
    below = first > 0 and bool(np.any(shows.range == first))
    above = last < len(ranges_of(meter, narrowed.mode)) - 1 and bool(np.any(np.isinf(shows.value)))
    return below or above


def direction(meter: Meter, ask: Ask) -> int:
    """+1 where the mode's current comes out of the lead on the first pad, −1 where it enters there.

    Raises MeterError where the meter lacks the mode.
    """
    ranges_of(meter, ask.mode)
    red: int = getattr(meter, ask.mode).red
    return -red if ask.swapped else red


def lanes_of(meter: Meter, asks: Sequence[Ask]) -> tuple[tuple[Lane, ...], dict[Ask, tuple[int, ...]]]:
    """The distinct source settings behind some asks, and for each ask its lanes, one a range."""
    lanes: dict[Lane, int] = {}
    use: dict[Ask, tuple[int, ...]] = {}
    for ask in asks:
        sign = direction(meter, ask)
        use[ask] = tuple(
            lanes.setdefault(Lane(r.source, sign), len(lanes)) for _, r in asked_ranges(meter, ask)
        )
    return tuple(lanes), use


def measure(network: Network, values: Values, meter: Meter, asks: Sequence[Ask],
            errors: Noise, celsius: float | None = None) -> Bench:
    """Readings on all boards (columns of `values`; errors give their number).

    Column 0 should be the nominal board: the others start their search from it. With `celsius`, the
    nominal board's temperature [°C], column 0 is solved by ngspice and the others by the own engine.
    """
    boards = len(errors.leads)
    lanes, use = lanes_of(meter, asks)
    leads = meter.lead_resistance * (1.0 + LEAD_SPREAD * errors.leads)
    solution = solve_lanes(network, values, lanes, leads)
    if celsius is not None:
        _replace_nominal(solution, solve_by_ngspice(
            network, values.take(slice(0, 1)), _drives(lanes, leads[:1]), celsius), boards)
    volts = solution.pad_voltage.reshape(len(lanes), boards)
    amps = solution.current.reshape(len(lanes), boards)
    sign = np.array([lane.sign for lane in lanes], dtype=np.float64)[:, None]
    terminal = sign * volts + sign * amps * leads
    shows = {ask: _show(meter, ask, use[ask], terminal, sign * amps, errors.meter) for ask in asks}
    return Bench(shows, lanes, solution, boards)


def solve_lanes(network: Network, values: Values, lanes: Sequence[Lane], leads: Floats) -> Solution:
    """Operating points, lane by lane and board by board; column = lane·boards + board."""
    boards = len(leads)
    nominal = solve(network, values.take(slice(0, 1)), _drives(lanes, leads[:1]))
    if boards == 1:
        return nominal
    tiled = values.take(np.tile(np.arange(boards), len(lanes)))
    first = values.take(slice(0, 1))
    return solve(network, tiled, _drives(lanes, leads), guess_of(nominal),
                 before=Before(first.nvt, first.is_, np.repeat(np.arange(len(lanes)), boards)))


def _replace_nominal(solution: Solution, nominal: Solution, boards: int) -> None:
    """Put another engine's nominal board into column 0 of every lane."""
    solution.v[:, ::boards] = nominal.v
    solution.vd[:, ::boards] = nominal.vd
    solution.current[::boards] = nominal.current
    solution.residual[::boards] = nominal.residual
    solution.tolerance[::boards] = nominal.tolerance


def _drives(lanes: Sequence[Lane], leads: Floats) -> Drive:
    boards = len(leads)

    def over_boards(numbers: list[float]) -> Floats:
        return np.repeat(np.array(numbers, dtype=np.float64), boards)

    behind = over_boards([lane.source.resistance for lane in lanes]) + np.tile(leads, len(lanes))
    return Drive(over_boards([lane.source.current for lane in lanes]),
                 over_boards([lane.source.open_circuit for lane in lanes]), behind,
                 over_boards([float(lane.sign) for lane in lanes]))


def _show(meter: Meter, ask: Ask, lanes: tuple[int, ...], terminal: Floats, amps: Floats,
          error: Floats) -> Shows:
    """The lowest range that fits, with the meter's error and rounding."""
    boards = terminal.shape[1]
    exact = np.full(boards, np.inf)
    value = np.full(boards, np.inf)
    scales = asked_ranges(meter, ask)
    chosen = np.full(boards, scales[-1][0], dtype=np.intp)
    lane = np.full(boards, lanes[-1], dtype=np.intp)
    for at, (k, scale) in reversed(list(zip(lanes, scales, strict=True))):
        v, i = terminal[at], amps[at]
        raw = v if ask.mode == "diode" else _ratio(v, i)
        known = np.isfinite(raw)
        finite = np.where(known, raw, 0.0)
        read = quantise(finite + error * range_half_width(scale, finite), scale.resolution)
        if ask.mode != "diode":
            read = np.maximum(read, 0.0)  # an ohms display has no sign
        slack = 1e-9 * scale.resolution
        end = scale.full_scale - slack if ask.mode == "diode" else scale.full_scale + slack
        fits = known & ((read < end) if ask.mode == "diode" else (read <= end))
        exact = np.where(fits, raw, exact)
        value = np.where(fits, read, value)
        chosen = np.where(fits, k, chosen)
        lane = np.where(fits, at, lane)
    return Shows(exact, value, chosen, lane)


def _ratio(volts: Floats, amps: Floats) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(amps > 0.0, volts / np.where(amps > 0.0, amps, 1.0), np.inf)


def show(meter: Meter, mode: str, value: float, at: int) -> Shown:
    """The display for a value [V or ohm] on range number `at`; infinite is overload."""
    scale = ranges_of(meter, mode)[at]
    if mode == "diode" and meter.diode is not None:
        return show_diode(meter.diode, value)
    if mode == "continuity" and meter.continuity is not None:
        return show_continuity(meter.continuity, value)
    if mode in ("farads", "esr", "volts"):
        return show_plain(scale, value, UNIT[mode])
    return show_ohms(scale, value)
