"""The whole of a solution compiled by numba: reduction, Newton's iteration and proof, block by block.

Importing this needs numba, the extra ``fast``; `incircuit.circuit.compiled` decides where it is used and
writes what it reads. The steps are those of `newton.reduce_linear`, `newton.search` and `kirchhoff.proof`,
on `LANES` scenarios at a time that stay in the caches from first to last. Plans and stamps are lists of
numbers of rows, so that one compiled function serves every network. A scenario's numbers do not depend on
those beside it.
"""

from __future__ import annotations

import zlib
from pathlib import Path
from typing import Any

import numpy as np

from incircuit.circuit import lane_devices, lane_equations, lane_laws, lane_proof, lanes, packs
from incircuit.circuit.lane_devices import channels, couplings, junctions, moves
from incircuit.circuit.lane_equations import backward, eliminate, gather, keep, load, reduce, stamped
from incircuit.circuit.lane_laws import carried
from incircuit.circuit.lane_proof import proof
from incircuit.circuit.lanes import LANES, add, at_least, copy, fill, row
from incircuit.circuit.newton import HIGH
from incircuit.circuit.packs import (
    WIDTH,
    beyond,
    everywhere,
    get,
    greater,
    integers_at,
    jit,
    lane_function,
    numbers_at,
    put,
    size_of,
    somewhere,
    where,
)

_PLACE = (0, 16, 14, 18, 19, 20, 21, 22, 23, 24, 25, 26)
"""Where in the list of rows the arrays go that are loaded: is, nvt, rs, knee, … ec."""
_CONTROLS, _BEFORE, _SOURCE = 11, 17, 31
"""Where in the list of rows vd, vgs, vds are, what they were found with, and the source."""


@lane_function
def _step(solver: Any, devices: Any, sizes: Any, lists: Any, stamps: Any, plan: Any, still_current: float,
          typical: float) -> None:
    """One step of a block from its controlling voltages and the source's current and conductance; leaves
    port voltages, controlling voltages and the largest move."""
    red, ports, v, base, w, inverse, scaled, flow, load, moved, still, _, rounding = solver
    now = row(v, red)
    junctions(devices, sizes)
    if sizes[1]:
        couplings(devices, sizes, lists[5])
    if sizes[2] + sizes[3]:
        channels(devices, sizes, lists[6])
    copy(row(devices[16], sizes[0] + sizes[1] + 3 * sizes[2] + sizes[3]), load)
    copy(moved, now)
    for p in range(ports + 1):
        fill(row(v, p), 0.0)
    stamped(w, plan[16][3], base, devices[16], stamps[0])
    stamped(v, ports, v, devices[17], stamps[1])
    add(now, flow)
    eliminate(w, plan, inverse, scaled, v, True)
    backward(w, plan, inverse, v)
    for k in range(0, LANES, WIDTH):
        highest = everywhere(0.0)
        for p in range(ports):
            highest = at_least(highest, size_of(get(row(v, p), k)))
        at = get(now, k)
        step = size_of(at - get(moved, k)) / greater(highest * (1.0 / HIGH), 1.0)
        put(moved, k, where(step == step, step, np.inf))
        carries = size_of(get(flow, k) - get(load, k) * at)
        put(still, k, still_current * (1.0 + carries / typical) + get(rounding, k) * highest)
    moves(solver, devices, sizes, lists)


@lane_function
def _source(solver: Any, source: Any, limited: Any) -> None:
    """Current [A] and conductance [S] of the source on the branch it is on."""
    flow, load, behind, g, free = solver[7], solver[8], row(source, 1), row(source, 2), row(source, 3)
    for k in range(0, LANES, WIDTH):
        held = get(limited, k) != 0.0
        put(flow, k, where(held, get(behind, k), get(free, k)))
        put(load, k, where(held, get(g, k), 0.0))


@lane_function
def _settled(solver: Any, source: Any, marks: Any, tolerance: float, last: bool) -> bool:
    """Marks what is done; voltages of what has only now become so are kept. Whether all is."""
    red, ports, v, moved, done = solver[0], solver[1], solver[2], solver[9], solver[11]
    seen, limited = marks
    left = False
    for k in range(0, LANES, WIDTH):
        before, was = get(done, k) != 0.0, get(limited, k)
        held = where(get(row(source, 4), k) * get(row(v, red), k) > get(source, k), 1.0, 0.0)
        calm = (held == was) & (get(moved, k) <= tolerance)
        now = before | calm
        put(limited, k, where(before, was, held))
        put(done, k, where(now, 1.0, 0.0))
        open_ = somewhere(where(now, 1.0, 0.0) == 0.0)
        left = left or open_
        if somewhere(calm) or last:
            for p in range(ports):
                put(row(seen, p), k, where(before, get(row(seen, p), k), get(row(v, p), k)))
    return not left


@lane_function
def _search(most: int, tolerances: Any, solver: Any, source: Any, marks: Any, devices: Any, sizes: Any,
            lists: Any, stamps: Any, plan: Any) -> int:
    """Newton's iteration of a block, at most `most` steps; the steps taken."""
    tolerance, still_current, typical, _ = tolerances
    now, limited = row(solver[2], solver[0]), marks[1]
    fill(solver[11], 0.0)
    for k in range(0, LANES, WIDTH):
        put(limited, k, where(get(row(source, 4), k) * get(now, k) > get(source, k), 1.0, 0.0))
    for step in range(1, most + 1):
        _source(solver, source, limited)
        _step(solver, devices, sizes, lists, stamps, plan, still_current, typical)
        if _settled(solver, source, marks, tolerance, step == most):
            return step
    return most


@lane_function
def _current(out: Any, v: Any, source: Any, limited: Any) -> None:
    """`Drive.law`: current out of the red lead [A]."""
    free, sign, open_circuit, resistance = row(source, 3), row(source, 4), row(source, 5), row(source, 6)
    for k in range(0, LANES, WIDTH):
        turned = get(sign, k)
        behind = turned * ((get(open_circuit, k) - turned * get(v, k)) / get(resistance, k))
        put(out, k, where(get(limited, k) != 0.0, behind, get(free, k)))


@lane_function
def _list(book: Any, n: int) -> Any:
    """List n of those that `compiled.book_of` has written: first where they begin, then they themselves."""
    return beyond(book, book[n])


@lane_function
def _three(book: Any, n: int) -> Any:
    return _list(book, n), _list(book, n + 1), _list(book, n + 2)


@lane_function
def _seven(book: Any, n: int) -> Any:
    return (*_three(book, n), *_three(book, n + 3), _list(book, n + 6))


@lane_function
def _plan(book: Any, n: int) -> Any:
    return (*_seven(book, n), *_seven(book, n + 7), *_three(book, n + 14))


@lane_function
def _lists(book: Any) -> Any:
    """What the steps below take as `linear`, `lists`, `stamps` and `ends`, in the order of `book_of`."""
    size = _list(book, 0)
    linear = (_list(book, 35), size[8], _three(book, 36), size[10], _list(book, 39), _list(book, 40), size[9],
              size[11], _list(book, 41), _list(book, 42))
    stamps = _three(book, 43), _three(book, 46)
    return linear, _seven(book, 50), stamps, (*_seven(book, 57), *_three(book, 64), _list(book, 67))


@lane_function
def _seven_rows(table: Any, at: Any, n: int) -> Any:
    return (row(table, at[n]), row(table, at[n + 1]), row(table, at[n + 2]), row(table, at[n + 3]),
            row(table, at[n + 4]), row(table, at[n + 5]), row(table, at[n + 6]))


@lane_function
def _branches(source: Any) -> None:
    """`Drive.branches`: knee, both branches and the conductance before current, sign, open circuit and
    resistance; the current becomes that of its branch."""
    for k in range(0, LANES, WIDTH):
        current, sign, resistance = get(row(source, 3), k), get(row(source, 4), k), get(row(source, 6), k)
        open_circuit, finite = get(row(source, 5), k), size_of(current) < np.inf
        put(source, k, where(finite, open_circuit - current * resistance, -np.inf))
        put(row(source, 1), k, sign * open_circuit / resistance)
        put(row(source, 2), k, 1.0 / resistance)
        put(row(source, 3), k, where(finite, sign * current, 0.0))


@lane_function
def _load_block(table: Any, at: Any, arrays: Any, red: Any, devices: Any, junctions: int, span: Any) -> None:
    """All but the resistances; of the junctions 1/nvt too."""
    begin, first, last = span
    for n in range(1, 12):
        load(row(table, at[_PLACE[n]]), beyond(arrays, 3 * n), begin, first, last)
    source = row(table, at[_SOURCE])
    for n in range(4):
        load(row(source, 3 + n), beyond(arrays, 36 + 3 * n), begin, begin, last)
    _branches(source)
    if begin == first or arrays[8] > 1:
        for k in range(0, junctions * LANES, WIDTH):
            put(devices[4], k, 1.0 / get(devices[3], k))
    controls = row(table, at[_CONTROLS]), row(table, at[_CONTROLS + 1]), row(table, at[_CONTROLS + 2])
    if arrays[70] == 0:
        load(red, beyond(arrays, 48), begin, begin, last)
        for n in range(3):
            load(controls[n], beyond(arrays, 51 + 3 * n), begin, begin, last)
        return
    column, before = integers_at(arrays[69]), row(table, at[_BEFORE])
    gather(red, beyond(arrays, 48), column, begin, last)
    for n in range(3):
        gather(controls[n], beyond(arrays, 51 + 3 * n), column, begin, last)
    for n in range(2):
        gather(row(before, n * junctions), beyond(arrays, 72 + 3 * n), column, begin, last)
    for k in range(0, junctions * LANES, WIDTH):
        found_with = get(before, k), get(row(before, junctions), k)
        put(devices[0], k, carried(get(devices[0], k), get(devices[3], k), get(devices[5], k), found_with))


@lane_function
def _solve_blocks(table: Any, book: Any, arrays: Any, first: int, last: int, most: int,
                  tolerances: Any) -> int:
    """See `solve_blocks`."""
    size, at, ports_of = _list(book, 0), _list(book, 68), _list(book, 49)
    red, red_node, ports, nodes = size[0], size[1], size[2], size[3]
    sizes = size[4], size[5], size[6], size[7]
    linear_plan, plan = _plan(book, 1), _plan(book, 18)
    linear, lists, stamps, ends = _lists(book)
    pairs, linear_w, linear_inverse, base, w, inverse, scaled = _seven_rows(table, at, 0)
    v, seen, full, net = row(table, at[7]), row(table, at[8]), row(table, at[9]), row(table, at[10])
    devices = (*_seven_rows(table, at, 11), *_seven_rows(table, at, 18), *_seven_rows(table, at, 25))
    source, room = row(table, at[_SOURCE]), row(table, at[32])
    current, residual, charging, limited, done = room, row(room, 1), row(room, 2), row(room, 3), row(room, 4)
    moved, still, flow, load_, rounding = row(room, 5), row(room, 6), row(room, 7), row(room, 8), row(room, 9)
    solver = red, ports, v, base, w, inverse, scaled, flow, load_, moved, still, done, rounding
    point = red_node, nodes, size[8], full, net, pairs, current, residual, charging
    taken = 0
    for begin in range(first, last, LANES):
        if begin == first or arrays[2] > 1:
            reduce(arrays, begin, last, linear, linear_plan, (pairs, linear_w, linear_inverse, scaled, base))
            for k in range(0, LANES, WIDTH):
                most_of_all = everywhere(0.0)
                for i in range(size[9]):
                    most_of_all = at_least(most_of_all, size_of(get(row(base, i), k)))
                put(rounding, k, most_of_all * tolerances[3])
        _load_block(table, at, arrays, row(v, red), devices, sizes[0], (begin, first, last))
        steps = _search(most, tolerances, solver, source, (seen, limited), devices, sizes, lists, stamps,
                        plan)
        taken = max(taken, steps)
        for n in range(nodes + 1):
            fill(row(full, n), 0.0)
        for p in range(ports):
            copy(row(full, ports_of[p]), row(seen, p))
        backward(linear_w, linear_plan, linear_inverse, full)
        _current(current, row(full, red_node), source, limited)
        proof(point, devices, sizes, lists[5], lists[6], ends)
        keep(beyond(arrays, 60), full, begin, last)
        keep(beyond(arrays, 63), devices[0], begin, last)
        keep(beyond(arrays, 66), current, begin, last)
    return taken


def _entry(sources: int) -> Any:
    """The kernel, compiled when first called and kept on disk where there is a place for it.

    numba knows what it keeps by the text of this file and by what the function closes over: `sources`
    stands for the text of the other files.
    """
    def solve_blocks(table: int, book: int, arrays: int, first: int, last: int, most: int, tolerance: float,
                     still_current: float, typical: float, rounding: float) -> Any:
        """Scenarios `first` … `last` − 1, at most `most` steps each; returns the most taken.

        All else is where things lie in memory: a `table` of rows of lanes to work in, the `book` of a
        network's lists, and `arrays`, see `incircuit.circuit.compiled`.
        """
        return sources and _solve_blocks(numbers_at(table), integers_at(book), integers_at(arrays), first,
                                         last, most, (tolerance, still_current, typical, rounding))

    try:
        return jit(nogil=True, error_model="numpy", cache=True)(solve_blocks)
    except RuntimeError:  # no folder that can be written
        return jit(nogil=True, error_model="numpy")(solve_blocks)


_FILES = packs, lanes, lane_equations, lane_laws, lane_devices, lane_proof
_TEXTS = b"".join(Path(str(module.__file__)).read_bytes() for module in _FILES)
solve_blocks = _entry(zlib.crc32(_TEXTS) | 1)
