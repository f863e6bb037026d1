"""What the compiled kernel does to rows of equations: loading, elimination, substitution, reduction.

Importing this needs numba, the extra ``fast``. Plans are those of `incircuit.circuit.elimination`, as lists
of integers, see `incircuit.circuit.compiled`.
"""

from __future__ import annotations

from typing import Any

from incircuit.circuit.elimination import SMALLEST
from incircuit.circuit.lanes import LANES, add, ask_for, copy, fill, row
from incircuit.circuit.packs import WIDTH, beyond, get, lane_function, numbers_at, put, size_of, where
from incircuit.circuit.values import NODE_LEAK


@lane_function
def load(out: Any, array: Any, begin: int, first: int, last: int) -> None:
    """Columns from `begin` of an array (address, rows, columns) into rows of lanes.

    A single column serves all and is loaded once, at the `first` scenario; a short block repeats its last.
    """
    numbers, rows, columns = numbers_at(array[0]), array[1], array[2]
    if columns == 1 and begin > first:
        return
    for i in range(rows):
        into, here = row(out, i), beyond(numbers, i * columns)
        if columns == 1:
            fill(into, here[0])
        elif begin + LANES <= last:
            copy(into, beyond(here, begin))
            ask_for(beyond(here, begin + LANES))
        else:
            for k in range(LANES):
                into[k] = here[min(begin + k, last - 1)]


@lane_function
def gather(out: Any, array: Any, column: Any, begin: int, last: int) -> None:
    """Columns `column[begin]` … `column[last − 1]` of an array into rows of lanes, LANES at most."""
    numbers, rows, columns = numbers_at(array[0]), array[1], array[2]
    end = min(begin + LANES, last)
    alike = True
    for k in range(begin, end):
        alike = alike and column[k] == column[begin]
    for i in range(rows):
        into, here = row(out, i), beyond(numbers, i * columns)
        if alike or columns == 1:
            fill(into, here[0 if columns == 1 else column[begin]])
        else:
            for k in range(LANES):
                into[k] = here[column[min(begin + k, end - 1)]]


@lane_function
def keep(array: Any, rows: Any, begin: int, last: int) -> None:
    """Rows of lanes into the columns of an array from `begin`."""
    numbers, columns = numbers_at(array[0]), array[2]
    for i in range(array[1]):
        into, here = beyond(numbers, i * columns + begin), row(rows, i)
        if begin + LANES <= last:
            copy(into, here)
        else:
            for k in range(last - begin):
                into[k] = here[k]


@lane_function
def _pivot(w: Any, plan: Any, s: int, own: Any, mine: Any, inverse: Any) -> None:
    """1/D of step `s`, and the diagonals of rows that it wakes."""
    size, spots = plan[4][s + 1] - plan[4][s], plan[16]
    excess, diagonal = row(w, spots[0]), row(w, spots[1])
    if plan[1][s]:
        pivot = row(diagonal, plan[0][s])
        for k in range(0, LANES, WIDTH):
            d = get(pivot, k)
            put(inverse, k, 1.0 / where(size_of(d) > SMALLEST, d, SMALLEST))
    else:
        for k in range(0, LANES, WIDTH):
            total = get(own, k)
            for q in range(size):
                total = total + get(row(mine, q), k)
            put(inverse, k, 1.0 / total)
    wake_at, wake, wake_row_at, wake_row = plan[10], plan[11], plan[12], plan[13]
    for q in range(wake_at[s], wake_at[s + 1]):
        copy(row(diagonal, wake[q]), row(excess, wake[q]))
        for e in range(wake_row_at[q], wake_row_at[q + 1]):
            add(row(diagonal, wake[q]), row(w, wake_row[e]))


@lane_function
def _spread(out: Any, carried: Any, scaled: Any) -> None:
    """out += carried·scaled."""
    for k in range(0, LANES, WIDTH):
        put(out, k, get(out, k) + get(carried, k) * get(scaled, k))


@lane_function
def eliminate(w: Any, plan: Any, inverse: Any, scaled: Any, b: Any, loaded: bool) -> None:
    """`elimination.eliminate` on slots `w`; where `loaded`, `elimination.forward` on the injected currents
    `b` as well. `scaled` is room for a column over its pivot."""
    node, rows, columns, at, later = plan[0], plan[2], plan[3], plan[4], plan[5]
    target_at, target, first, second, live_at, live = plan[6], plan[7], plan[8], plan[9], plan[14], plan[15]
    excess, diagonal = row(w, plan[16][0]), row(w, plan[16][1])
    for s in range(plan[16][4]):
        own, inv, mine, column = row(excess, node[s]), row(inverse, s), row(w, rows[s]), row(w, columns[s])
        _pivot(w, plan, s, own, mine, inv)
        for q in range(at[s + 1] - at[s]):
            part, here, into = row(column, q), row(scaled, q), row(excess, later[at[s] + q])
            for k in range(0, LANES, WIDTH):
                share = get(part, k) * get(inv, k)
                put(here, k, share)
                put(into, k, get(into, k) + share * get(own, k))
            if loaded:
                _spread(row(b, later[at[s] + q]), row(b, node[s]), here)
        for q in range(live_at[s], live_at[s + 1]):
            kept = row(diagonal, later[at[s] + live[q]])
            share, back = row(scaled, live[q]), row(mine, live[q])
            for k in range(0, LANES, WIDTH):
                put(kept, k, get(kept, k) - get(share, k) * get(back, k))
        for q in range(target_at[s], target_at[s + 1]):
            _spread(row(w, target[q]), row(mine, second[q]), row(scaled, first[q]))


@lane_function
def backward(w: Any, plan: Any, inverse: Any, v: Any) -> None:
    """Voltages of the eliminated nodes, where the currents injected into them are."""
    node, rows, at, later, spots = plan[0], plan[2], plan[4], plan[5], plan[16]
    for s in range(spots[4] - 1, -1, -1):
        into, mine = row(v, node[s]), row(w, rows[s])
        for k in range(0, LANES, WIDTH):
            total = get(into, k)
            for q in range(at[s + 1] - at[s]):
                total = total + get(row(mine, q), k) * get(row(v, later[at[s] + q]), k)
            put(into, k, total * get(row(inverse, s), k))


@lane_function
def stamped(out: Any, rows: int, base: Any, stack: Any, stamp: Any) -> None:
    """The first `rows` slots: a base, and the rows of a stack that go there, + or −."""
    at, sources, signs = stamp
    for slot in range(rows):
        into, under = row(out, slot), row(base, slot)
        for k in range(0, LANES, WIDTH):
            total = get(under, k)
            for e in range(at[slot], at[slot + 1]):
                total = total + get(row(stack, sources[e]), k) * float(signs[e])
            put(into, k, total)


@lane_function
def _pairs(g: Any, begin: int, last: int, of: Any, pair_count: int, pairs: Any) -> None:
    """Conductances summed up between the same two nodes, straight from memory."""
    numbers, columns = numbers_at(g[0]), g[2]
    for p in range(pair_count):
        fill(row(pairs, p), 0.0)
    for r in range(g[1]):
        into, here = row(pairs, of[r]), beyond(numbers, r * columns)
        if columns > 1 and begin + LANES <= last:
            add(into, beyond(here, begin))
            ask_for(beyond(here, begin + LANES))
        else:
            for k in range(LANES):
                into[k] += here[min(begin + k, last - 1) if columns > 1 else 0]


@lane_function
def reduce(g: Any, begin: int, last: int, linear: Any, plan: Any, rooms: Any) -> None:
    """`newton.reduce_linear` of a block: pairs, linear factors and the ports' base."""
    of, pair_count, stamp, moves, base_from, base_to, base_count, sums, diagonals, members = linear
    pairs, w, inverse, scaled, base = rooms
    spots = plan[16]
    _pairs(g, begin, last, of, pair_count, pairs)
    for i in range(spots[3]):
        fill(row(w, i), 0.0)
    for n in range(spots[2]):
        fill(row(w, spots[0] + n), NODE_LEAK)
    stamped(w, spots[3], w, pairs, stamp)
    eliminate(w, plan, inverse, scaled, w, False)
    for i in range(base_count):
        fill(row(base, i), 0.0)
    for m in range(moves):
        copy(row(base, base_to[m]), row(w, base_from[m]))
    for m in range(sums):  # diagonals start as the sums of their rows
        add(row(base, diagonals[m]), row(base, members[m]))
