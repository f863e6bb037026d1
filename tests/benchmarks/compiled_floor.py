"""The arithmetic of the floor as the compiled kernel does it; needs numba."""

from __future__ import annotations

from incircuit.circuit.kernel import _list, _plan
from incircuit.circuit.lane_equations import backward, eliminate, forward
from incircuit.circuit.lane_laws import exponential
from incircuit.circuit.lanes import fill, integers_at, lane_function, numbers_at, row


@lane_function
def grind(table: int, book: int, rounds: int) -> None:
    """So many iterations' exponentials and eliminations of one block, in rows of `compiled.book_of`'s table.

    The matrix is filled anew before each elimination, or it would grow without end.
    """
    lists = integers_at(book)
    size, at, plan, t = _list(lists, 0), _list(lists, 68), _plan(lists, 18), numbers_at(table)
    w, inverse, scaled, v, room = (row(t, at[4]), row(t, at[5]), row(t, at[6]), row(t, at[7]), row(t, at[31]))
    fill(room, 0.5)
    for _ in range(rounds):
        for slot in range(plan[16][3]):
            fill(row(w, slot), 0.5)
        for _ in range(size[4]):
            exponential(row(room, 1), room, row(room, 2))
        eliminate(w, plan, inverse, scaled)
        forward(w, plan, inverse, v, room)
        backward(w, plan, inverse, v)
        fill(room, 0.5)

