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

from incircuit.circuit import lane_equations, lane_laws, lanes
from incircuit.circuit.lane_equations import backward, eliminate, forward, keep, load, reduce, stamped
from incircuit.circuit.lane_laws import (
    behind_resistance,
    channel,
    channel_currents,
    follow,
    gap,
    junction,
    move_channel,
    move_junction,
)
from incircuit.circuit.lanes import (
    LANES,
    add,
    beyond,
    choose,
    copy,
    count,
    difference,
    fill,
    integers_at,
    invert,
    jit,
    lane_function,
    largest,
    multiply,
    multiply_by,
    numbers_at,
    replace,
    row,
    scale,
    scale_by,
    subtract,
)
from incircuit.circuit.newton import HIGH
from incircuit.circuit.values import GATE_LEAK, NODE_LEAK

_PLACE = (0, 16, 14, 18, 19, 20, 21, 22, 23, 24, 25, 26)
"""Where in the list of rows the arrays go that are loaded: is, nvt, rs, knee, … ec."""
_CONTROLS, _SOURCE = 11, 32
"""Where in the list of rows vd, vgs, vds are, and the source."""


@lane_function
def _stack(devices: Any, sizes: Any, follows: Any, signs: Any) -> None:
    """Conductances and constants of all devices but the source, in the order of the layout's stacks."""
    (vd, vgs, vds, nvt, inverse, is_, steep, rs, knee, gmin, gain, vto, kp, charge, gc, ec, conductance,
     constant, pure, slope, room) = devices
    junctions, couplings, channels, companions = sizes
    for j in range(junctions):
        law = row(pure, j), row(slope, j)
        junction(row(vd, j), (row(nvt, j), row(inverse, j), row(is_, j), row(steep, j), row(knee, j)), law[0],
                 law[1], room)
        behind_resistance(row(vd, j), law, (row(gmin, j), row(rs, j)), row(conductance, j), row(constant, j))
    g, amps = row(conductance, junctions), row(constant, junctions)
    for c in range(couplings):
        j = follows[c]
        follow(row(vd, j), row(gain, c), row(rs, j), (row(pure, j), row(slope, j)),
               (row(conductance, j), row(constant, j)), (row(g, c), row(amps, c)))
    g, amps = row(g, couplings), row(amps, couplings)
    for c in range(channels):
        channel((row(vgs, c), row(vds, c)), (row(vto, c), row(kp, c)), float(signs[c]),
                (row(g, c), row(g, channels + c), row(amps, c)))
        fill(row(g, 2 * channels + c), GATE_LEAK)
        scale(row(amps, channels + c), row(charge, c), -GATE_LEAK)
    g, amps = row(g, 3 * channels), row(amps, 2 * channels)
    for x in range(companions):
        copy(row(g, x), row(gc, x))
        multiply(row(amps, x), row(gc, x), row(ec, x))
        scale_by(row(amps, x), -1.0)


@lane_function
def _step(solver: Any, devices: Any, sizes: Any, lists: Any, stamps: Any, plan: Any, still_current: float,
          typical: float) -> None:
    """One step of a block from its controlling voltages and the source's current and conductance; leaves
    port voltages, controlling voltages and the largest move."""
    red, ports, v, base, w, inverse, scaled, flow, load, moved, still, done, rounding = solver
    vd, vgs, vds, nvt, is_ = devices[0], devices[1], devices[2], devices[3], devices[5]
    rs, knee, kp, conductance, constant = devices[7], devices[8], devices[12], devices[16], devices[17]
    room = devices[20]
    anode, cathode, drain, gate, origin, follows, signs = lists
    junctions, couplings, channels, companions = sizes
    now = row(v, red)
    _stack(devices, sizes, follows, signs)
    copy(row(conductance, junctions + couplings + 3 * channels + companions), load)
    copy(moved, now)
    for i in range(plan[16][3]):
        copy(row(w, i), row(base, i))
    for p in range(ports + 1):
        fill(row(v, p), 0.0)
    stamped(w, conductance, stamps[0])
    stamped(v, constant, stamps[1])
    add(now, flow)
    eliminate(w, plan, inverse, scaled)
    forward(w, plan, inverse, v, room)
    backward(w, plan, inverse, v)
    fill(room, 0.0)
    for p in range(ports):
        largest(room, row(v, p))
    for k in range(LANES):
        step = abs(now[k] - moved[k]) / max(room[k] * (1.0 / HIGH), 1.0)
        moved[k] = step if step == step else np.inf
    for k in range(LANES):
        still[k] = still_current * (1.0 + abs(flow[k] - load[k] * now[k]) / typical) + rounding[k] * room[k]
    for j in range(junctions):
        move_junction(row(vd, j), (row(v, anode[j]), row(v, cathode[j])),
                      (row(nvt, j), row(is_, j), row(rs, j), row(knee, j)),
                      (row(conductance, j), row(constant, j)), (still, moved, done), room)
    g = row(conductance, junctions + couplings)
    for c in range(channels):
        move_channel((row(vgs, c), row(vds, c)), (row(v, drain[c]), row(v, gate[c]), row(v, origin[c])),
                     row(kp, c), float(signs[c]), (row(g, c), row(g, channels + c)), (still, moved, done))


@lane_function
def _between(net: Any, a: int, b: int, flow: Any) -> None:
    add(row(net, a), flow)
    subtract(row(net, b), flow)


@lane_function
def _proof(point: Any, devices: Any, sizes: Any, follows: Any, signs: Any, ends: Any) -> None:
    """`kirchhoff.proof` of a block, from its node voltages and the current out of the red lead: the largest
    residual and the largest current of a capacitance [A]."""
    red, nodes, pair_count, v, net, pairs, current, residual, charging, flow = point
    (vd, _, _, nvt, inverse, is_, steep, rs, knee, gmin, gain, vto, kp, charge, gc, ec, _, _, pure, _,
     room) = devices
    ja, jk, cs, ck, md, mg, ms, xa, xb, first, second = ends
    junctions, couplings, channels, companions = sizes
    for n in range(nodes + 1):
        scale(row(net, n), row(v, n), NODE_LEAK)
    subtract(row(net, red), current)
    fill(residual, 0.0)
    fill(charging, 0.0)
    for p in range(pair_count):
        difference(flow, row(v, first[p]), row(v, second[p]))
        multiply_by(flow, row(pairs, p))
        _between(net, first[p], second[p], flow)
    for j in range(junctions):
        junction(row(vd, j), (row(nvt, j), row(inverse, j), row(is_, j), row(steep, j), row(knee, j)),
                 row(pure, j), flow, room)
        difference(room, row(v, ja[j]), row(v, jk[j]))
        gap(room, row(vd, j), (row(pure, j), flow), (row(gmin, j), row(rs, j)))
        largest(residual, room)
        _between(net, ja[j], jk[j], flow)
    for c in range(couplings):
        multiply(flow, row(gain, c), row(pure, follows[c]))
        _between(net, cs[c], ck[c], flow)
    for c in range(channels):
        channel_currents((row(v, md[c]), row(v, mg[c]), row(v, ms[c])),
                         (row(vto, c), row(kp, c), row(charge, c)), float(signs[c]), flow, room)
        _between(net, md[c], ms[c], flow)
        _between(net, mg[c], ms[c], room)
    for x in range(companions):
        difference(flow, row(v, xa[x]), row(v, xb[x]))
        subtract(flow, row(ec, x))
        multiply_by(flow, row(gc, x))
        largest(charging, flow)
        _between(net, xa[x], xb[x], flow)
    for n in range(nodes):
        largest(residual, row(net, n))


@lane_function
def _search(most: int, tolerances: Any, solver: Any, source: Any, marks: Any, devices: Any, sizes: Any,
            lists: Any, stamps: Any, plan: Any) -> int:
    """Newton's iteration of a block, at most `most` steps; the steps taken."""
    red, ports, v, _, _, _, _, flow, load, moved, _, done, _ = solver
    seen, limited, fresh, zero = marks
    tolerance, still_current, typical, _ = tolerances
    knee, behind, g, free, sign = source, row(source, 1), row(source, 2), row(source, 3), row(source, 4)
    now = row(v, red)
    fill(done, 0.0)
    for k in range(LANES):
        limited[k] = 1.0 if sign[k] * now[k] > knee[k] else 0.0
    for step in range(1, most + 1):
        choose(flow, behind, free, limited)
        choose(load, g, zero, limited)
        _step(solver, devices, sizes, lists, stamps, plan, still_current, typical)
        before = count(done)
        for k in range(LANES):
            fresh[k] = 1.0 - done[k]
        for k in range(LANES):
            load[k] = 1.0 if sign[k] * now[k] > knee[k] else 0.0
        for k in range(LANES):
            calm = 1.0 if load[k] == limited[k] else 0.0
            done[k] = max(done[k], calm if moved[k] <= tolerance else 0.0)
        replace(limited, load, fresh)
        after = count(done)
        if after > before or step == most:
            for p in range(ports):
                replace(row(seen, p), row(v, p), fresh)
        if after == LANES:
            return step
    return most


@lane_function
def _current(out: Any, v: Any, source: Any, limited: Any) -> None:
    """`Drive.law`: current out of the red lead [A]."""
    free, sign, open_circuit, resistance = row(source, 3), row(source, 4), row(source, 5), row(source, 6)
    for k in range(LANES):
        out[k] = sign[k] * ((open_circuit[k] - sign[k] * v[k]) / resistance[k])
    for k in range(LANES):
        out[k] = out[k] if limited[k] != 0.0 else free[k]


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
    linear = (_list(book, 35), size[8], (size[10], *_three(book, 36)), size[13], _list(book, 39),
              _list(book, 40), size[9], size[14], _list(book, 41), _list(book, 42))
    stamps = (size[11], *_three(book, 43)), (size[12], *_three(book, 46))
    return linear, _seven(book, 50), stamps, (*_seven(book, 57), *_three(book, 64), _list(book, 67))


@lane_function
def _seven_rows(table: Any, at: Any, n: int) -> Any:
    return (row(table, at[n]), row(table, at[n + 1]), row(table, at[n + 2]), row(table, at[n + 3]),
            row(table, at[n + 4]), row(table, at[n + 5]), row(table, at[n + 6]))


@lane_function
def _branches(source: Any) -> None:
    """`Drive.branches`: knee, both branches and the conductance before current, sign, open circuit and
    resistance; the current becomes that of its branch."""
    knee, behind, g, free = source, row(source, 1), row(source, 2), row(source, 3)
    sign, open_circuit, resistance = row(source, 4), row(source, 5), row(source, 6)
    for k in range(LANES):
        knee[k] = open_circuit[k] - free[k] * resistance[k] if abs(free[k]) < np.inf else -np.inf
    for k in range(LANES):
        g[k] = 1.0 / resistance[k]
    for k in range(LANES):
        behind[k] = sign[k] * open_circuit[k] / resistance[k]
    for k in range(LANES):
        free[k] = sign[k] * free[k] if abs(free[k]) < np.inf else 0.0


@lane_function
def _load_block(table: Any, at: Any, arrays: Any, red: Any, devices: Any, junctions: int, span: Any) -> None:
    """All but the resistances; at the junctions 1/nvt and is/nvt too."""
    begin, first, last = span
    for n in range(1, 12):
        load(row(table, at[_PLACE[n]]), beyond(arrays, 3 * n), begin, first, last)
    source = row(table, at[_SOURCE])
    for n in range(4):
        load(row(source, 3 + n), beyond(arrays, 36 + 3 * n), begin, begin, last)
    _branches(source)
    load(red, beyond(arrays, 48), begin, begin, last)
    for n in range(3):
        load(row(table, at[_CONTROLS + n]), beyond(arrays, 51 + 3 * n), begin, begin, last)
    nvt, inverse, is_, steep = devices[3], devices[4], devices[5], devices[6]
    for j in range(junctions):
        copy(row(inverse, j), row(nvt, j))
        invert(row(inverse, j))
        multiply(row(steep, j), row(is_, j), row(inverse, j))


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
    source, room = row(table, at[_SOURCE]), row(table, at[33])
    current, residual, charging, limited, done = room, row(room, 1), row(room, 2), row(room, 3), row(room, 4)
    fresh, moved, still, flow, load = row(room, 5), row(room, 6), row(room, 7), row(room, 8), row(room, 9)
    zero, rounding = row(room, 10), row(room, 11)
    solver = red, ports, v, base, w, inverse, scaled, flow, load, moved, still, done, rounding
    point = red_node, nodes, size[8], full, net, pairs, current, residual, charging, flow
    fill(zero, 0.0)
    taken = 0
    for begin in range(first, last, LANES):
        if begin == first or arrays[2] > 1:
            reduce(arrays, begin, last, linear, linear_plan, (pairs, linear_w, linear_inverse, scaled, base))
            fill(rounding, 0.0)
            for i in range(size[9]):
                largest(rounding, row(base, i))
            scale_by(rounding, tolerances[3])
        _load_block(table, at, arrays, row(v, red), devices, sizes[0], (begin, first, last))
        steps = _search(most, tolerances, solver, source, (seen, limited, fresh, zero), devices, sizes, lists,
                        stamps, plan)
        taken = max(taken, steps)
        for n in range(nodes + 1):
            fill(row(full, n), 0.0)
        for p in range(ports):
            copy(row(full, ports_of[p]), row(seen, p))
        backward(linear_w, linear_plan, linear_inverse, full)
        _current(current, row(full, red_node), source, limited)
        _proof(point, devices, sizes, lists[5], lists[6], ends)
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


_TEXTS = b"".join(Path(str(module.__file__)).read_bytes() for module in (lanes, lane_equations, lane_laws))
solve_blocks = _entry(zlib.crc32(_TEXTS) | 1)
