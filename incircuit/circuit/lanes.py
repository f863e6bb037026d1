"""What the compiled kernel does to scenarios side by side: rows of numbers, their sums and products.

Importing this needs numba, the extra ``fast``. All the kernel works on are rows of `LANES` numbers, one
number a scenario; a row is handed on as a pointer to its first number. Loops are short and plain and never
read a row they write through another name, so that the compiler turns each into vector instructions.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba
from numba import extending, types
from numba.core import cgutils

LANES = 128

Function = TypeVar("Function", bound=Callable[..., Any])

jit: Any = numba.njit
_intrinsic: Any = extending.intrinsic
_pointer: Any = types.CPointer
_declared: Any = cgutils.get_or_insert_function
_ir: Any = vars(cgutils)["ir"]  # llvmlite's, as numba itself uses it


def lane_function(function: Function) -> Function:
    """Compiled as a part of the kernel that calls it; a·b + c may be rounded once, in every lane alike."""
    made: Function = jit(nogil=True, error_model="numpy", fastmath={"contract"})(function)
    return made


def _pointer_to(kind: Any) -> Any:
    """An address as a pointer. Arrays would do, but numba counts who holds them: a fifth of all time."""
    pointer = _pointer(kind)

    def taken(_context: Any, address: Any) -> Any:
        def code(context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
            return builder.inttoptr(arguments[0], context.get_value_type(pointer))

        return pointer(address), code

    return _intrinsic(taken)


numbers_at = _pointer_to(types.float64)
integers_at = _pointer_to(types.int64)


def _beyond(_context: Any, pointer: Any, numbers: Any) -> Any:
    """The pointer so many numbers further on."""
    def code(_context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
        return builder.gep(arguments[0], [arguments[1]])

    return pointer(pointer, numbers), code


beyond = _intrinsic(_beyond)


def _as_integers(_context: Any, pointer: Any) -> Any:
    """The same numbers taken as integers, bit by bit."""
    integers = _pointer(types.int64)

    def code(context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
        return builder.bitcast(arguments[0], context.get_value_type(integers))

    return integers(pointer), code


as_integers = _intrinsic(_as_integers)


def _prefetch(_context: Any, pointer: Any) -> Any:
    """Asks the processor for what the pointer shows before it is needed; does nothing else."""
    def code(_context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
        number = cgutils.int32_t
        kind = _ir.FunctionType(_ir.VoidType(), [cgutils.voidptr_t, number, number, number])
        asked = _declared(builder.module, kind, "llvm.prefetch.p0")
        flags = [number(0), number(3), number(1)]  # read, keep in all caches, data
        builder.call(asked, [builder.bitcast(arguments[0], cgutils.voidptr_t), *flags])

    return types.void(pointer), code


prefetch = _intrinsic(_prefetch)


@lane_function
def ask_for(first: Any) -> None:
    """Ask for a whole row."""
    for k in range(0, LANES, 8):
        prefetch(beyond(first, k))


@lane_function
def row(first: Any, number: int) -> Any:
    """The row so many rows after the first."""
    return beyond(first, number * LANES)


@lane_function
def fill(out: Any, number: float) -> None:
    """One number everywhere."""
    for k in range(LANES):
        out[k] = number


@lane_function
def copy(out: Any, a: Any) -> None:
    """out = a."""
    for k in range(LANES):
        out[k] = a[k]


@lane_function
def add(out: Any, a: Any) -> None:
    """out += a."""
    for k in range(LANES):
        out[k] += a[k]


@lane_function
def subtract(out: Any, a: Any) -> None:
    """out −= a."""
    for k in range(LANES):
        out[k] -= a[k]


@lane_function
def difference(out: Any, a: Any, b: Any) -> None:
    """out = a − b."""
    for k in range(LANES):
        out[k] = a[k] - b[k]


@lane_function
def multiply(out: Any, a: Any, b: Any) -> None:
    """out = a·b."""
    for k in range(LANES):
        out[k] = a[k] * b[k]


@lane_function
def scale(out: Any, a: Any, number: float) -> None:
    """out = number·a."""
    for k in range(LANES):
        out[k] = number * a[k]


@lane_function
def add_product(out: Any, a: Any, b: Any) -> None:
    """out += a·b."""
    for k in range(LANES):
        out[k] += a[k] * b[k]


@lane_function
def subtract_product(out: Any, a: Any, b: Any) -> None:
    """out −= a·b."""
    for k in range(LANES):
        out[k] -= a[k] * b[k]


@lane_function
def multiply_by(out: Any, a: Any) -> None:
    """out *= a."""
    for k in range(LANES):
        out[k] *= a[k]


@lane_function
def scale_by(out: Any, number: float) -> None:
    """out *= number."""
    for k in range(LANES):
        out[k] *= number


@lane_function
def invert(out: Any) -> None:
    """out = 1/out."""
    for k in range(LANES):
        out[k] = 1.0 / out[k]


@lane_function
def choose(out: Any, a: Any, b: Any, which: Any) -> None:
    """`a` where `which` is set (not zero), else `b`."""
    for k in range(LANES):
        out[k] = a[k] if which[k] != 0.0 else b[k]


@lane_function
def replace(out: Any, a: Any, which: Any) -> None:
    """`a` takes its place where `which` is set."""
    for k in range(LANES):
        out[k] = a[k] if which[k] != 0.0 else out[k]


@lane_function
def replace_not(out: Any, a: Any, which: Any) -> None:
    """`a` takes its place where `which` is not set."""
    for k in range(LANES):
        out[k] = out[k] if which[k] != 0.0 else a[k]


@lane_function
def largest(most: Any, a: Any) -> None:
    """`most` is at least the size of `a`; what is not a number stays so."""
    for k in range(LANES):
        size = abs(a[k])
        most[k] = most[k] if size <= most[k] else size


@lane_function
def count(a: Any) -> int:
    """In how many scenarios `a` is set."""
    found = 0
    for k in range(LANES):
        found += 1 if a[k] != 0.0 else 0
    return found
