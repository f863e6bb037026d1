"""What each state word does to the bench, and when it cannot have been done."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

from incircuit.board.model import Board
from incircuit.board.pads import resolve_pad
from incircuit.board.state import HEALTHY, State
from incircuit.story.model import Entry, StateEntry
from incircuit.story.names import Wrong, meter_named


@dataclass(slots=True)
class Bench:
    """What has been done so far; the numbers are those of the lines that did it."""

    board: Board
    file: str
    lifted: dict[tuple[str, str], int] = field(default_factory=dict)
    removed: dict[str, int] = field(default_factory=dict)
    wires: dict[tuple[str, str], int] = field(default_factory=dict)
    charge: dict[str, float] = field(default_factory=dict)
    hot: dict[str, float] = field(default_factory=dict)
    power: dict[tuple[str, str], float] = field(default_factory=dict)
    replaced: dict[str, int] = field(default_factory=dict)
    celsius: float = HEALTHY.celsius
    meter: str = ""
    line: int = 0  # being read
    right: set[Entry] = field(default_factory=set)  # entries whose names were looked up
    now: State | None = None  # the state, until the next statement


def state_of(bench: Bench) -> State:
    """The state in force. A wire stays on the pin it was laid to, also when that is lifted."""
    if bench.now is None:
        bare = State(frozenset(bench.lifted), frozenset(bench.removed))
        pairs = (tuple(resolve_pad(bench.board, bare, pad) for pad in wire) for wire in bench.wires)
        bench.now = State(bare.lifted, bare.removed, tuple((a, b) for a, b in pairs if a != b),
                          charge=tuple(bench.charge.items()), celsius=bench.celsius,
                          hot=tuple(bench.hot.items()))
        bench.now = replace(bench.now, power=tuple(
            (node_of(bench, a), node_of(bench, b), volts) for (a, b), volts in bench.power.items()))
    return bench.now


def node_of(bench: Bench, pad: str) -> str:
    """The node of a pad as things are."""
    return resolve_pad(bench.board, state_of(bench), pad)


def done(bench: Bench, entry: StateEntry, line: int) -> Wrong | None:
    """Do what a statement says, in this line of the file; what is wrong where it cannot be."""
    bench.line = line
    wrong = _STEPS[entry.word](bench, entry)
    bench.now = None
    return wrong


def _off_board(bench: Bench, ref: str) -> Wrong | None:
    if ref not in bench.removed:
        return None
    since = f"{ref} is off the board since line {bench.removed[ref]}"
    return 1, since, f"write fit {ref} or resolder {ref} where a part went back in"


def _meter(bench: Bench, entry: StateEntry) -> Wrong | None:
    bench.meter = meter_named(entry.args[0], bench.file)
    return None


def _lift(bench: Bench, entry: StateEntry) -> Wrong | None:
    ref, _, pin = entry.args[0].partition(".")
    if (ref, pin) in bench.lifted:
        since = f"since line {bench.lifted[ref, pin]}"
        return 1, f"{entry.args[0]} is lifted already, {since}", "one of the two is enough"
    if wrong := _off_board(bench, ref):
        return wrong
    bench.lifted[ref, pin] = bench.line
    return None


def _resolder(bench: Bench, entry: StateEntry) -> Wrong | None:
    ref, dot, pin = entry.args[0].partition(".")
    if not dot:
        if ref not in bench.removed:
            return 1, f"{ref} is on the board", f"resolder {ref} puts the same part back after remove {ref}"
        del bench.removed[ref]
        return None
    if wrong := _off_board(bench, ref):
        return wrong
    if (ref, pin) not in bench.lifted:
        return 1, f"{entry.args[0]} is not lifted", "write lift where it was"
    del bench.lifted[ref, pin]
    return None


def _clear(bench: Bench, ref: str) -> None:
    """The part leaves: its lifted pins, charge and heat go with it."""
    for key in [key for key in bench.lifted if key[0] == ref]:
        del bench.lifted[key]
    bench.charge.pop(ref, None)
    bench.hot.pop(ref, None)


def _remove(bench: Bench, entry: StateEntry) -> Wrong | None:
    ref = entry.args[0]
    if wrong := _off_board(bench, ref):
        return wrong
    _clear(bench, ref)
    bench.removed[ref] = bench.line
    return None


def _fit(bench: Bench, entry: StateEntry) -> Wrong | None:
    ref = entry.args[0]
    _clear(bench, ref)  # where it was not removed first, old and new were changed in one go
    bench.removed.pop(ref, None)
    bench.replaced[ref] = bench.replaced.get(ref, 0) + 1
    return None


def _wire(bench: Bench, entry: StateEntry) -> tuple[str, str] | None:
    """The wire laid between the two nodes of a statement, either way round."""
    ends = {node_of(bench, pad) for pad in entry.args}
    return next((wire for wire in bench.wires if {node_of(bench, pad) for pad in wire} == ends), None)


def _short(bench: Bench, entry: StateEntry) -> Wrong | None:
    a, b = entry.args
    if node_of(bench, a) == node_of(bench, b):
        return 2, f"{a} and {b} are one net already", "a wire joins two nets"
    if wire := _wire(bench, entry):
        return 1, f"this wire is laid already, in line {bench.wires[wire]}", f"unshort {a} {b} takes it off"
    bench.wires[a, b] = bench.line
    return None


def _unshort(bench: Bench, entry: StateEntry) -> Wrong | None:
    a, b = entry.args
    wire = (a, b) if (a, b) in bench.wires else (b, a) if (b, a) in bench.wires else _wire(bench, entry)
    if wire is None:
        return 1, f"no wire is laid between {a} and {b}", f"write short {a} {b} where it was"
    del bench.wires[wire]
    return None


def _charge(bench: Bench, entry: StateEntry) -> Wrong | None:
    ref = entry.args[0]
    if wrong := _off_board(bench, ref):
        return wrong
    bench.charge.pop(ref, None)
    if entry.number:
        bench.charge[ref] = entry.number
    return None


def _discharge(bench: Bench, entry: StateEntry) -> Wrong | None:
    """Good practice with or without a charge said before, so nothing is wrong with a second one."""
    ref = entry.args[0]
    if wrong := _off_board(bench, ref):
        return wrong
    bench.charge.pop(ref, None)
    return None


def _power(bench: Bench, entry: StateEntry) -> Wrong | None:
    a, b, _ = entry.args
    if not entry.number:
        if bench.power.pop((a, b), None) is None and bench.power.pop((b, a), None) is None:
            return 1, f"no supply is on {a} and {b}", "0 volts takes a supply off"
        return None
    if node_of(bench, a) == node_of(bench, b):
        return 2, f"{a} and {b} are one net", "a supply needs two"
    bench.power.pop((b, a), None)  # the leads were changed over
    bench.power[a, b] = entry.number
    return None


def _hot(bench: Bench, entry: StateEntry) -> Wrong | None:
    ref = entry.args[0]
    if wrong := _off_board(bench, ref):
        return wrong
    bench.hot.pop(ref, None)
    if entry.number is not None and entry.number != bench.celsius:
        bench.hot[ref] = entry.number
    return None


def _ambient(bench: Bench, entry: StateEntry) -> Wrong | None:
    if entry.number is not None:
        bench.celsius = entry.number
    return None


_STEPS: dict[str, Callable[[Bench, StateEntry], Wrong | None]] = {
    "meter": _meter, "lift": _lift, "resolder": _resolder, "remove": _remove, "fit": _fit, "short": _short,
    "unshort": _unshort, "charge": _charge, "discharge": _discharge, "power": _power, "hot": _hot,
    "ambient": _ambient,
}
