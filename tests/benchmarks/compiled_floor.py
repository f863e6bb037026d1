"""The arithmetic of the floor as the compiled kernel does it; needs numba."""

from __future__ import annotations

from incircuit.circuit.kernel import _list, _plan
from incircuit.circuit.lane_equations import backward, eliminate
from incircuit.circuit.lane_laws import exponential
from incircuit.circuit.lanes import LANES, fill, row
from incircuit.circuit.packs import WIDTH, get, integers_at, lane_function, numbers_at, put


@lane_function
def grind(table: int, book: int, rounds: int) -> None:
    """So many iterations' exponentials and eliminations of one block, in rows of `compiled.book_of`'s table.

    The matrix is filled anew before each elimination, or it would grow without end.
    """
    lists = integers_at(book)
    size, at, plan, t = _list(lists, 0), _list(lists, 68), _plan(lists, 18), numbers_at(table)
    w, inverse, scaled, v, devices = (row(t, at[4]), row(t, at[5]), row(t, at[6]), row(t, at[7]),
                                      row(t, at[11]))
    fill(devices, 0.5)
    for _ in range(rounds):
        for slot in range(plan[16][3]):
            fill(row(w, slot), 0.5)
        for j in range(size[4]):
            for k in range(0, LANES, WIDTH):
                put(row(devices, j + 1), k, exponential(get(devices, k)))
        eliminate(w, plan, inverse, scaled, v, True)
        backward(w, plan, inverse, v)
        fill(devices, 0.5)
