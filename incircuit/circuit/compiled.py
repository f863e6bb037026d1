"""Where the compiled kernel serves: very large batches, where numba is installed (the extra ``fast``).

Its answers are those of `incircuit.circuit.newton` to the last few digits, and go through the same proof.
Loading takes half a second, compiling some twenty, once: a command does not pay for that, a process that
stays does, and asks for it with INCIRCUIT_COMPILED=1. What serves depends on the input alone.
"""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Iterable, Sized
from dataclasses import dataclass
from functools import cache
from itertools import accumulate

import numpy as np

from incircuit.circuit.cores import on_all_cores
from incircuit.circuit.elimination import Floats, Ints, Plan
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Before, Guess
from incircuit.circuit.source import Drive
from incircuit.circuit.sums import Sums
from incircuit.circuit.values import Values, channel_sign

LARGE = 10_000_000
"""Scenarios times ports from which the kernel serves by itself."""


@cache
def installed() -> bool:
    """Whether numba is here."""
    return importlib.util.find_spec("numba") is not None


def wanted(network: Network, scenarios: int) -> bool:
    """Whether the compiled kernel should search; INCIRCUIT_COMPILED=1 says always, 0 never."""
    wish = os.environ.get("INCIRCUIT_COMPILED", "")
    if wish == "0" or not installed():
        return False
    return wish == "1" or scenarios * len(network.layout.ports) >= LARGE


TASK = 4096
"""Scenarios of one call of the kernel; a multiple of its lanes."""


@dataclass(frozen=True, slots=True)
class Solved:
    """What the kernel found: `v` (size + 1, scenarios) [V], `vd` inner junction voltages [V], `current`,
    `residual` and `charging` [A], `limited` and `done` 1 or 0, the most `iterations` taken."""

    v: Floats
    vd: Floats
    current: Floats
    residual: Floats
    charging: Floats
    limited: Floats
    done: Floats
    iterations: int


def solve_compiled(network: Network, values: Values, drive: Drive, start: Guess, before: Before | None,
                   most: int, tolerances: tuple[float, float, float, float]) -> Solved:
    """Start, reduction, search and proof of all scenarios by the compiled kernel, on all cores.

    `before` is what the start was found with, see `newton.Before`; `tolerances` a step that ends the search
    [V], the current [A] that is still, the typical one, and the part of all currents lost in rounding. What
    is not proven is left to the caller.
    """
    from incircuit.circuit.kernel import solve_blocks

    count, helper = len(drive.sign), network.layout.tables
    key = "book", tuple(c.sign for c in network.channels)  # all else is the layout's, which others may share
    if key not in helper.kept:
        helper.kept[key] = book_of(network)
    book: Ints = helper.kept[key]
    red = int(helper.local[network.red])
    source = [a[None, :] for a in (drive.current, drive.sign, drive.open_circuit, drive.resistance)]
    out = np.empty((network.size + 1, count)), np.empty((len(network.junctions), count)), np.empty((5, count))
    of: Ints = before.of if before else np.empty(0, dtype=np.intp)
    with_ = (before.nvt, before.is_) if before else ()
    given = (values.g, values.is_, values.nvt, values.rs, values.knee, values.gmin, values.gain, values.vto,
             values.kp, values.charge, values.gc, values.ec, *source, start.v[red:red + 1],
             *start.arrays()[1:], *out, *with_)
    held = [_plain(a) for a in given]  # what memory is read stays alive
    columns = np.ascontiguousarray(of, dtype=np.int64)
    listed = [[a.ctypes.data, *a.shape] for a in held]
    arrays = np.array([*listed[:23], [columns.ctypes.data, len(columns), 0], *listed[23:]], dtype=np.int64)

    def task(begin: int) -> int:
        _room, table = room_for(book)
        return int(solve_blocks(table, book.ctypes.data, arrays.ctypes.data, begin,
                                min(begin + TASK, count), most, *tolerances))

    taken = max(on_all_cores(task, range(0, count, TASK)), default=0)
    current, residual, charging, limited, done = out[2]
    return Solved(out[0], out[1], current, residual, charging, limited, done, taken)


def room_for(book: Ints) -> tuple[Floats, int]:
    """Room for the kernel's table, and where in it the table begins: at a multiple of 64, or every pack lies
    in two lines of the cache, which costs a quarter of all time."""
    from incircuit.circuit.lanes import LANES

    room = np.empty((int(book[book[0] - 1]) + 1) * LANES)
    return room, -(-room.ctypes.data // 64) * 64


def _plain(array: Floats) -> Floats:
    """Numbers side by side in memory; a single column where one and the same is only repeated."""
    if array.strides[1] == 0 and array.shape[1] > 1:
        array = array[:, :1]
    return np.ascontiguousarray(array, dtype=np.float64)


def book_of(network: Network) -> Ints:
    """What the kernel reads of a network, lists of integers one after the other; first, where each begins.

    The number of rows of its table stands before the first list.
    """
    layout, helper, ends = network.layout, network.layout.tables, network.ends
    merge = np.zeros(len(network.resistances), dtype=np.intp)
    merge[helper.merge.columns] = helper.merge.rows
    counts = [len(some) for some in (network.junctions, network.couplings, network.channels,
                                     network.companions)]
    sizes = [int(helper.local[network.red]), network.red, len(layout.ports), network.size, *counts,
             len(helper.first), _used(layout.port), len(layout.base_from), len(helper.whole.rows)]
    lists: list[Iterable[int]] = [
        sizes, *_plan(layout.linear), *_plan(layout.port), merge,
        *_stamp(helper.linear, _used(layout.linear)), layout.base_from, layout.base_to,
        helper.diagonals[helper.whole.rows], helper.whole.columns,
        *_stamp(helper.conductance, _used(layout.port)), *_stamp(helper.injection, len(layout.ports)),
        layout.ports, helper.anode, helper.cathode, helper.drain, helper.gate, helper.origin, ends.cj,
        channel_sign(network).ravel(), ends.ja, ends.jk, ends.cs, ends.ck, ends.md, ends.mg, ends.ms, ends.xa,
        ends.xb, helper.first, helper.second]
    *starts, rows = _rows(network)
    arrays = [np.array(list(some), dtype=np.int64) for some in (*lists, starts)]
    begins = np.cumsum([len(arrays) + 1, *(len(a) for a in arrays[:-1])])
    return np.concatenate([begins, [rows], *arrays])


def _rows(network: Network) -> list[int]:
    """Where things lie in the kernel's table: the first row of each, then the number of rows."""
    layout, ports = network.layout, len(network.layout.ports)
    j, k, c, x = (len(some) for some in (network.junctions, network.couplings, network.channels,
                                         network.companions))
    widest = max([1, *(len(s.later) for p in (layout.linear, layout.port) for s in p.steps)])
    sizes = (len(layout.tables.first), layout.linear.slots, len(layout.linear.steps), layout.port.slots,
             layout.port.slots, ports, widest, ports + 1, ports, network.size + 1, network.size + 1, j, c, c,
             j, j, j, 2 * j, j, j, j, k, c, c, c, x, x, j + k + 3 * c + x + 1, j + k + 2 * c + x, j, j, 7, 10)
    return [0, *np.cumsum(sizes).tolist()]


def _used(plan: Plan) -> int:
    """Slots in use: the diagonals, which come last, only where rows keep theirs."""
    return plan.slots - len(plan.diagonal_of) if plan.symmetric else plan.slots


def _stamp(sums: Sums, rows: int) -> tuple[Ints, Ints, Floats]:
    """Row by row where its entries begin; their columns and signs."""
    order = np.argsort(sums.rows, kind="stable")
    return np.searchsorted(sums.rows[order], np.arange(rows + 1)), sums.columns[order], sums.signs[order]


def _plan(plan: Plan) -> list[Iterable[int]]:
    """The plan as lists, in the order the kernel takes them."""
    steps = plan.steps
    wakes = [wake for step in steps for wake in step.wakes]
    first = plan.diagonal_of[0] if plan.diagonal_of else 0
    return [
        [s.node for s in steps], [s.active for s in steps], [s.row.start for s in steps],
        [s.column.start for s in steps], _starts(s.later for s in steps), _joined(s.later for s in steps),
        _starts(s.target for s in steps), _joined(s.target for s in steps),
        _joined(s.target_i for s in steps), _joined(s.target_j for s in steps),
        _starts(s.wakes for s in steps),
        [wake.diagonal - first for wake in wakes], _starts(wake.row for wake in wakes),
        _joined(wake.row for wake in wakes), _starts(s.live for s in steps), _joined(s.live for s in steps),
        [plan.excesses.start, first, len(plan.excess_of), _used(plan), len(steps)],
    ]


def _joined(parts: Iterable[Ints]) -> list[int]:
    return [int(number) for part in parts for number in part]


def _starts(parts: Iterable[Sized]) -> list[int]:
    return list(accumulate((len(part) for part in parts), initial=0))
