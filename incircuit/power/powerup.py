"""The first power-up after a repair, step by step: check in place, a safe voltage, then mains through a lamp.

Expected values are those of a healthy board at rest; what it does once its chips run is not predicted.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.board.kinds import kind_named
from incircuit.board.model import Board
from incircuit.board.model import Supply as Line
from incircuit.board.state import HEALTHY, State
from incircuit.circuit.build import Circuit, build
from incircuit.errors import StateError
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Change, Resistance
from incircuit.power.discharge import Bank, Stored, stored
from incircuit.power.expected import Expected, expected
from incircuit.power.limits import COMES_BACK, DEFER, LIMITS, METER, UNPLUG
from incircuit.power.rest import between_peaks, lowest_rating
from incircuit.power.working import blocked, kept, transistors, ways
from incircuit.predict.prediction import Prediction, predict
from incircuit.predict.question import ask_about
from incircuit.predict.volts import INNER, Supply, voltages, volts_mode
from incircuit.units import duration, format_value

SAFE = 30.0
"""A voltage put in for a test [V]: below all limits for touch in a dry place (IEC 61010-1: 60 V direct, from
memory), with room to spare."""
LEAST_LIMIT = 0.02
"""Lowest current limit [A] of a bench supply worth setting."""
MARGIN = 3.0
"""The current limit is so many times what a healthy board draws."""
BENCH = 1.0
"""What a board at rest draws beyond this [A] at a safe voltage is looked into."""
TURNS_ON = 0.1
"""A transistor that takes this part of it is told by name."""
LAMP_WATTS = 60.0
"""Series lamp for boards up to some hundred watts (common practice)."""
SMALL_MAINS, SMALL_LAMP_WATTS = 60.0, 10.0
"""Below so many volts a lamp of so many watts (common practice: one from a vehicle)."""
COLD = 0.1
"""A filament lamp's cold resistance as a part of its hot one (common practice)."""
MOST_BANKS = 4
ALIKE = 0.01
"""Two supplies about one net that differ by no more than this part of their volts are plus and minus."""
BRIDGES = ("bridge", "three-phase-bridge")


@dataclass(frozen=True, slots=True)
class Step:
    """One step, in order: what to do, what to find, when to stop, and its caution.

    `readings` are taken unpowered, `expected` under `volts` [V] from `minus` to `plus` (effective on mains);
    of a dual supply that is both halves together, `middle` the net between them.
    `limit` [A] is the current limit to set, `draws` [A] what a healthy board takes. `chips_set` names the
    nets whose voltage hangs on what chips draw: none is predicted.
    """

    title: str
    do: str
    stop: str
    caution: str
    plus: str = ""
    minus: str = ""
    volts: float = 0.0
    limit: float | None = None
    draws: float | None = None
    readings: tuple[Prediction, ...] = ()
    expected: tuple[Expected, ...] = ()
    chips_set: tuple[str, ...] = ()
    middle: str = ""


def powerup(board: Board, meter: Meter, state: State = HEALTHY, rms: float | None = None) -> tuple[Step, ...]:
    """The ordered list. `rms` [V] stands for the board file's mains where given.

    Raises StateError where the file says neither mains nor supply, MeterError for a meter without volts.
    """
    if not board.supplies:
        raise StateError("the board file does not say what powers the board: add a line such as "
                         "mains L N 230V or supply +15V RTN 15V")
    volts_mode(meter)
    circuit = build(board, state)
    steps = [_recheck(circuit, meter)]
    steps += [_low(circuit, meter, lines) for lines in _rails(board)]
    for line in board.supplies:
        if line.word == "mains":
            steps += [*_links(circuit, meter), *_mains(circuit, meter, line, rms)]
    lamp = any(line.word == "mains" for line in board.supplies)
    return (*steps, _after(stored(board, state, rms), lamp))


def _recheck(circuit: Circuit, meter: Meter) -> Step:
    """Ohms and diode test across everything that will be fed."""
    pairs: dict[tuple[str, str], None] = {}
    for line in circuit.board.supplies:
        pairs[line.nets[0], line.nets[1]] = None
    for _, plus, minus in _bridges(circuit):
        pairs[plus, minus] = None
    found: list[Prediction] = []
    for red, black in pairs:
        question = ask_about(circuit.board, circuit.state, red, black)
        modes = [m for m in ("diode", "ohms") if m in meter.modes]
        found += predict(question, meter, modes) if modes else ()
    return Step(
        "Read again in place, without power",
        "Every fed pair of nets both ways, settled. Go on only if each reading lies in its band.",
        "Any reading near 0 Ω or outside its band: find out why first.",
        f"{UNPLUG} Discharge and verify on volts before ohms or diode test.", readings=tuple(found))


def _rails(board: Board) -> Iterator[tuple[Line, ...]]:
    """Supplies by themselves, but plus and minus of the same voltage about one net together."""
    left = [line for line in board.supplies if line.word == "supply"]
    while left:
        line = left.pop(0)
        other = next((o for o in left if math.isclose(o.volts, line.volts, rel_tol=ALIKE)
                      and (o.nets[0] == line.nets[1] or o.nets[1] == line.nets[0])), None)
        if other is None:
            yield (line,)
        else:
            left.remove(other)
            yield (line, other) if other.nets[0] == line.nets[1] else (other, line)


def _low(circuit: Circuit, meter: Meter, lines: tuple[Line, ...]) -> Step:
    feed = tuple(Supply(plus, minus, min(line.volts, SAFE / len(lines)))
                 for line in lines for plus, minus in [line.nets])
    both = f"{lines[0].nets[0]} and {lines[-1].nets[1]} rails" if lines[1:] else f"{lines[0].nets[0]} rail"
    return _injected(circuit, meter, feed, both)


def _links(circuit: Circuit, meter: Meter) -> Iterator[Step]:
    """A safe direct voltage on each bridge's output, unless a supply line feeds it already."""
    fed = {line.nets for line in circuit.board.supplies}
    for ref, plus, minus in _bridges(circuit):
        if (plus, minus) not in fed:
            yield _injected(circuit, meter, (Supply(plus, minus, SAFE),), f"output of {ref}")


def _injected(circuit: Circuit, meter: Meter, feed: tuple[Supply, ...], what: str) -> Step:
    """From a bench supply; of two halves the plus one first."""
    plus, minus, volts = feed[0].plus, feed[-1].minus, feed[0].volts
    middle = feed[0].minus if feed[1:] else ""
    draws, held = _amps(circuit, feed), ""
    if _turns_on(circuit, [feed]):
        refs = _takers(circuit, feed, draws)
        held = (f" {' and '.join(refs)} would turn on by itself and load the supply: for this step join its "
                "gate or base to its source or emitter with a wire; take the wire out afterwards.")
        circuit = _held_off(circuit, refs)
        draws = _amps(circuit, feed)
    limit = max(LEAST_LIMIT, float(f"{MARGIN * draws:.1g}"))
    found = expected(circuit, meter, [feed], (), feed[0].minus)
    each, dual, between = (" each", " dual", f"the middle on {middle}, ") if middle else ("", "", "")
    return Step(
        f"{volts:g} V{each} on the {what} from a current-limited{dual} bench supply",
        f"Mains stays unplugged. Set {volts:g} V{each} and the current limit before you connect; plus on "
        f"{plus}, {between}minus on {minus}. Capacitors charge first, then the current falls.{held}",
        "The supply stays in its current limit, a part warms, or a voltage lies outside its band."
        + _ratings(circuit, found.set_at_work, feed[0].minus),
        f"{METER} Charge stays when the supply is off: discharge before you touch.",
        plus, minus, sum(s.volts for s in feed), limit, draws, expected=found.seen,
        chips_set=found.set_at_work, middle=middle)


def _mains(circuit: Circuit, meter: Meter, line: Line, rms: float | None) -> Iterator[Step]:
    volts = line.volts if rms is None else rms
    watts = LAMP_WATTS if volts >= SMALL_MAINS else SMALL_LAMP_WATTS
    cold = COLD * volts**2 / watts
    lamp = "in every phase" if len(line.nets) > 2 else "in the live lead"
    feeds = [f for f in ways(circuit.board, with_supplies=False, rms=rms)
             if {f[0].plus, f[0].minus} <= set(line.nets)]
    feeds = [(*feed, *more) for feed, more in zip(feeds, kept(circuit, line, feeds, rms), strict=True)]
    bridges = _bridges(circuit)
    outputs = [(plus, minus) for _, plus, minus in bridges]
    minus = bridges[0][2] if bridges else line.nets[1]
    resting, switches = circuit, None
    if _turns_on(circuit, feeds):
        circuit, switches = blocked(circuit), Change(add=transistors(circuit))
    between = [between_peaks(circuit, feed) for feed in feeds]
    found = expected(circuit, meter, feeds, between, minus, outputs, switches)
    yield Step(
        f"{volts:g} V mains through a series lamp",
        f"From an isolating transformer, if you can, with a {watts:g} W filament lamp {lamp} (about "
        f"{format_value(cold, 'Ω', 2)} cold: no more than {math.sqrt(2.0) * volts / cold:.1f} A can flow) or "
        "a variable supply turned up slowly. The lamp flashes while the link charges and goes dark.",
        "The lamp stays bright, anything smells, smokes or hums, or a voltage lies outside its band: switch "
        "off, unplug, discharge." + _ratings(resting, found.set_at_work, minus),
        f"The board is live against earth, its return too. {METER} Stand clear, cover the board, one hand "
        f"only, nobody alone. {_beyond(found.beyond)}{DEFER}",
        line.nets[0], line.nets[1], volts, expected=found.seen, chips_set=found.set_at_work)


def _turns_on(circuit: Circuit, feeds: Sequence[tuple[Supply, ...]]) -> bool:
    """Whether transistors that the resting board turns on by itself load one of the feeds."""
    quiet = blocked(circuit)
    return any(draws > BENCH and _amps(quiet, feed) < 0.5 * draws
               for feed in feeds for draws in [_amps(circuit, feed)])


def _takers(circuit: Circuit, feed: tuple[Supply, ...], draws: float) -> list[str]:
    """The transistors without which the feed has less to give than its `draws` [A]."""
    refs = list(dict.fromkeys(e.part for e in transistors(circuit)))
    each = [Change(frozenset(e.name for e in transistors(circuit) if e.part == ref)) for ref in refs]
    left = voltages(circuit, each, feed, [(s.plus, s.minus) for s in feed], math.inf, 0)[:, 1:, 0]
    amps = ((np.array([s.volts for s in feed])[:, None] - left) / INNER).max(axis=0)
    return [ref for ref, a in zip(refs, amps, strict=True) if a < (1.0 - TURNS_ON) * draws] or refs


def _held_off(circuit: Circuit, refs: Sequence[str]) -> Circuit:
    """The circuit with transistors blocking, and a wire from gate to source or base to emitter of `refs`."""
    wires = []
    for part in (circuit.board.part(ref) for ref in refs):
        nets = dict(part.pins)
        ends = [next((nets[pin] for pin in pins if pin in nets), "") for pins in ("GB", "SE")]
        if all(ends):
            wires.append(Resistance(f"wire at {part.ref}", "", ends[0], ends[1], 0.0))
    quiet = blocked(circuit)
    return replace(quiet, elements=(*quiet.elements, *wires))


def _beyond(found: Sequence[tuple[str, str, float]]) -> str:
    """What the meter must not be put to."""
    return "".join(f"{red} to {black} stands at about {abs(volts):.0f} V, more than this meter measures: "
                   "keep it off there. " for red, black, volts in found)


def _ratings(circuit: Circuit, nets: tuple[str, ...], minus: str) -> str:
    """What must not be exceeded where no voltage is predicted."""
    rated = [(net, *found) for net in nets if (found := lowest_rating(circuit.board, net, minus))]
    return "".join(f" {net} must stay below the {volts:g} V of {ref}." for net, ref, volts in rated)


def _after(left: Stored, lamp: bool) -> Step:
    """Off again: what then stands on the capacitors and how long that stays. `lamp`: one was in series."""
    every = [bank for bank in left.banks if not bank.slight]
    banks = every[:MOST_BANKS]
    told = "".join(f" {' and '.join(b.refs[:2])}{' and others' if len(b.refs) > 2 else ''} may hold "
                   f"{b.volts:.3g} V, {format_value(b.joules, 'J', 2)}{_by_itself(b)}." for b in banks)
    if every[MOST_BANKS:]:
        told += f" {len(every) - MOST_BANKS} more with less energy: see incircuit discharge."
    return Step("Off again, and once more", f"Unplug, wait, discharge, verify on volts.{told} Only then "
                f"{'take the lamp out and run it on its fuse' if lamp else 'run it from its own supply'}; "
                "watch voltages and warmth for some minutes.",
                "Whatever was not there before.", f"{COMES_BACK} {DEFER}")


def _by_itself(bank: Bank) -> str:
    """How long it takes to the highest limit it stands above."""
    if not bank.bleeders:
        return ", and keeps it"
    above = [(limit.volts, time) for limit, time in zip(LIMITS, bank.slowest, strict=True)
             if limit.volts < bank.volts]
    if not above:
        return ""
    volts, within = above[0]
    if within is None:
        return ", and keeps it"
    return f", down to {volts:g} V by itself in {duration(within)} at most, bleeders whole"


def _bridges(circuit: Circuit) -> tuple[tuple[str, str, str], ...]:
    """(ref, plus, minus) of each bridge rectifier on the board."""
    found = []
    for part in circuit.board.parts:
        spec = kind_named(part.kind)
        if spec and spec.name in BRIDGES and part.ref not in circuit.state.removed:
            found.append((part.ref, part.net("+"), part.net("-")))
    return tuple(found)


def _amps(circuit: Circuit, feed: tuple[Supply, ...]) -> float:
    """What the board at rest draws [A], the most of what is fed, by the drop inside the supplies."""
    left = voltages(circuit, (), feed, [(s.plus, s.minus) for s in feed], math.inf, 0)[:, 0, 0]
    return max(0.0, *((s.volts - float(volts)) / INNER for s, volts in zip(feed, left, strict=True)))
