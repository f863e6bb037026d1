"""What the compiled kernel does to rows of equations: loading, elimination, substitution, reduction.

Importing this needs numba, the extra ``fast``. Plans are those of `incircuit.circuit.elimination`, as lists
of integers, see `incircuit.circuit.compiled`.
"""

from __future__ import annotations

from typing import Any

from incircuit.circuit.elimination import SMALLEST
from incircuit.circuit.lanes import (
    LANES,
    add,
    add_product,
    ask_for,
    beyond,
    copy,
    fill,
    invert,
    lane_function,
    multiply,
    multiply_by,
    numbers_at,
    row,
    subtract,
    subtract_product,
)
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
def eliminate(w: Any, plan: Any, inverse: Any, scaled: Any) -> None:
    """`elimination.eliminate` on slots `w`; `scaled` is room for a row over its pivot."""
    (node, active, rows, columns, at, later, target_at, target, first, second, wake_at, wake, wake_row_at,
     wake_row, live_at, live, spots) = plan
    excess, diagonal = row(w, spots[0]), row(w, spots[1])
    for s in range(spots[4]):
        size, own, inv = at[s + 1] - at[s], row(excess, node[s]), row(inverse, s)
        mine, column = row(w, rows[s]), row(w, columns[s])
        if active[s]:
            pivot = row(diagonal, node[s])
            for k in range(LANES):
                inv[k] = 1.0 / (pivot[k] if abs(pivot[k]) > SMALLEST else SMALLEST)
        else:
            copy(inv, own)
            for q in range(size):
                add(inv, row(mine, q))
            invert(inv)
        for q in range(wake_at[s], wake_at[s + 1]):
            copy(row(diagonal, wake[q]), row(excess, wake[q]))
            for e in range(wake_row_at[q], wake_row_at[q + 1]):
                add(row(diagonal, wake[q]), row(w, wake_row[e]))
        for q in range(size):
            multiply(row(scaled, q), row(column, q), inv)
            add_product(row(excess, later[at[s] + q]), row(scaled, q), own)
        for q in range(live_at[s], live_at[s + 1]):
            kept = row(diagonal, later[at[s] + live[q]])
            subtract_product(kept, row(scaled, live[q]), row(mine, live[q]))
        for q in range(target_at[s], target_at[s + 1]):
            add_product(row(w, target[q]), row(scaled, first[q]), row(mine, second[q]))


@lane_function
def forward(w: Any, plan: Any, inverse: Any, b: Any, carried: Any) -> None:
    """Injected currents `b` carried to the nodes eliminated later; `carried` is room for a row."""
    node, columns, at, later, spots = plan[0], plan[3], plan[4], plan[5], plan[16]
    for s in range(spots[4]):
        multiply(carried, row(b, node[s]), row(inverse, s))
        for q in range(at[s + 1] - at[s]):
            add_product(row(b, later[at[s] + q]), row(w, columns[s] + q), carried)


@lane_function
def backward(w: Any, plan: Any, inverse: Any, v: Any) -> None:
    """Voltages of the eliminated nodes, where the currents injected into them are."""
    node, rows, at, later, spots = plan[0], plan[2], plan[4], plan[5], plan[16]
    for s in range(spots[4] - 1, -1, -1):
        into = row(v, node[s])
        for q in range(at[s + 1] - at[s]):
            add_product(into, row(w, rows[s] + q), row(v, later[at[s] + q]))
        multiply_by(into, row(inverse, s))


@lane_function
def stamped(out: Any, stack: Any, stamp: Any) -> None:
    """Rows of a stack added to the slots they go to."""
    entries, slots, sources, signs = stamp
    for e in range(entries):
        if signs[e] > 0:
            add(row(out, slots[e]), row(stack, sources[e]))
        else:
            subtract(row(out, slots[e]), row(stack, sources[e]))


@lane_function
def reduce(g: Any, begin: int, last: int, linear: Any, plan: Any, rooms: Any) -> None:
    """`newton.reduce_linear` of a block: pairs, linear factors and the ports' base."""
    of, pair_count, stamp, moves, base_from, base_to, base_count, sums, diagonals, members = linear
    pairs, w, inverse, scaled, base = rooms
    spots = plan[16]
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
    for i in range(spots[3]):
        fill(row(w, i), 0.0)
    for n in range(spots[2]):
        fill(row(w, spots[0] + n), NODE_LEAK)
    stamped(w, pairs, stamp)
    eliminate(w, plan, inverse, scaled)
    for i in range(base_count):
        fill(row(base, i), 0.0)
    for m in range(moves):
        copy(row(base, base_to[m]), row(w, base_from[m]))
    for m in range(sums):  # diagonals start as the sums of their rows
        add(row(base, diagonals[m]), row(base, members[m]))
