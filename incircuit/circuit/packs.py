"""Packs of numbers, one number a scenario, as the compiled kernel holds them in vector registers.

Importing this needs numba, the extra ``fast``. A pack is a vector of the compiler underneath, which takes as
many registers for it as the processor needs. What is written with packs is vector instructions as it stands:
loops over rows are, too, but only where the compiler can prove that no two rows overlap.
"""

from __future__ import annotations

import operator
from collections.abc import Callable
from typing import Any, TypeVar

import numba
from numba import extending, types
from numba.core import cgutils

WIDTH = 16
"""Numbers of a pack; a power of two."""

Function = TypeVar("Function", bound=Callable[..., Any])

jit: Any = numba.njit
_extending: Any = extending
_types: Any = types
_intrinsic: Any = _extending.intrinsic
_declared: Any = cgutils.get_or_insert_function
_ir: Any = vars(cgutils)["ir"]  # llvmlite's, as numba itself uses it
_NUMBERS = _ir.VectorType(_ir.DoubleType(), WIDTH)
_TRUTHS = _ir.VectorType(_ir.IntType(1), WIDTH)
_BITS = _ir.VectorType(_ir.IntType(64), WIDTH)
_PLACES = _ir.VectorType(_ir.IntType(32), WIDTH)
_ONCE = ("contract",)
"""a·b + c may be rounded once, in every lane alike."""


def lane_function(function: Function) -> Function:
    """Compiled as a part of the kernel that calls it; a·b + c may be rounded once, in every lane alike."""
    made: Function = jit(nogil=True, error_model="numpy", fastmath={"contract"})(function)
    return made


def inlined(function: Function) -> Function:
    """The same, and always a part of the function that calls it."""
    made: Function = jit(nogil=True, error_model="numpy", fastmath={"contract"}, forceinline=True)(function)
    return made


class _Pack(_types.Type):  # type: ignore[misc]
    """Numbers."""


class _Mask(_types.Type):  # type: ignore[misc]
    """Truths."""


PACK, MASK = _Pack("pack"), _Mask("mask")


def _model(shape: Any) -> Any:
    class Model(_extending.models.PrimitiveModel):  # type: ignore[misc]
        def __init__(self, manager: Any, kind: Any) -> None:
            super().__init__(manager, kind, shape)

    return Model


_extending.register_model(_Pack)(_model(_NUMBERS))
_extending.register_model(_Mask)(_model(_TRUTHS))


def _pointer_to(kind: Any) -> Any:
    """An address as a pointer. Arrays would do, but numba counts who holds them: a fifth of all time."""
    pointer = _types.CPointer(kind)

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


def _prefetch(_context: Any, pointer: Any) -> Any:
    """Asks the processor for what the pointer shows before it is needed; does nothing else."""
    def code(_context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
        number = cgutils.int32_t
        kind = _ir.FunctionType(_ir.VoidType(), [cgutils.voidptr_t, number, number, number])
        asked = _declared(builder.module, kind, "llvm.prefetch.p0")
        flags = [number(0), number(3), number(1)]  # read, keep in all caches, data
        builder.call(asked, [builder.bitcast(arguments[0], cgutils.voidptr_t), *flags])

    return types.void(pointer), code


def _get(_context: Any, pointer: Any, at: Any) -> Any:
    """The pack from number `at`."""
    def code(_context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
        found = builder.load(_place(builder, *arguments))
        found.align = 8
        return found

    return PACK(pointer, at), code


def _put(_context: Any, pointer: Any, at: Any, _numbers: Any) -> Any:
    """A pack written from number `at`."""
    def code(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        numbers = _wide(builder, signature.args[2], arguments[2])
        builder.store(numbers, _place(builder, *arguments[:2])).align = 8
        return context.get_dummy_value()

    return types.void(pointer, at, _numbers), code


def _place(builder: Any, pointer: Any, at: Any) -> Any:
    return builder.bitcast(builder.gep(pointer, [at]), _NUMBERS.as_pointer())


def _wide(builder: Any, kind: Any, value: Any) -> Any:
    """A pack as it is, a number everywhere."""
    if kind in (PACK, MASK):
        return value
    one = builder.insert_element(_ir.Constant(_NUMBERS, _ir.Undefined), value, _ir.IntType(32)(0))
    return builder.shuffle_vector(one, one, _ir.Constant(_PLACES, [0] * WIDTH))


beyond, prefetch, get, put = (_intrinsic(f) for f in (_beyond, _prefetch, _get, _put))


def _one(build: Callable[..., Any], result: Any, takes: Any = PACK) -> Any:
    """What is done to one pack or mask."""
    def typed(_context: Any, a: Any) -> Any:
        def code(_context: Any, builder: Any, _signature: Any, arguments: Any) -> Any:
            return build(builder, arguments[0])

        return (result(a), code) if a == takes else None

    return _intrinsic(typed)


def _two(build: Callable[..., Any], result: Any) -> Any:
    """What is done to two packs, or masks, or a pack and a number."""
    def typed(_context: Any, a: Any, b: Any) -> Any:
        def code(_context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
            return build(builder, *(_wide(builder, kind, value)
                                    for kind, value in zip(signature.args, arguments, strict=True)))

        return result(a, b), code

    return _intrinsic(typed)


def _on(operation: Callable[..., Any], does: Any, of: Any) -> None:
    """An operator of Python's on packs (or masks)."""
    def chosen(a: Any, b: Any) -> Any:
        return (lambda a, b: does(a, b)) if of in (a, b) else None

    _extending.overload(operation, strict=False)(chosen)


def _arithmetic(name: str) -> Callable[..., Any]:
    def build(builder: Any, a: Any, b: Any) -> Any:
        return getattr(builder, name)(a, b, flags=_ONCE)

    return build


def _ordered(sign: str) -> Callable[..., Any]:
    def build(builder: Any, a: Any, b: Any) -> Any:
        return builder.fcmp_ordered(sign, a, b)

    return build


for _operation, _name in ((operator.add, "fadd"), (operator.sub, "fsub"), (operator.mul, "fmul"),
                          (operator.truediv, "fdiv")):
    _on(_operation, _two(_arithmetic(_name), PACK), PACK)
for _operation, _name in ((operator.lt, "<"), (operator.le, "<="), (operator.gt, ">"), (operator.ge, ">="),
                          (operator.eq, "=="), (operator.ne, "!=")):
    _on(_operation, _two(_ordered(_name), MASK), PACK)
_on(operator.and_, _two(lambda builder, a, b: builder.and_(a, b), MASK), MASK)
_on(operator.or_, _two(lambda builder, a, b: builder.or_(a, b), MASK), MASK)


def _lesser(builder: Any, a: Any, b: Any) -> Any:
    return builder.select(builder.fcmp_ordered("<", a, b), a, b)


def _greater(builder: Any, a: Any, b: Any) -> Any:
    return builder.select(builder.fcmp_ordered(">", a, b), a, b)


def _size(builder: Any, a: Any) -> Any:
    kind = _ir.FunctionType(_NUMBERS, [_NUMBERS])
    return builder.call(_declared(builder.module, kind, f"llvm.fabs.v{WIDTH}f64"), [a])


def _somewhere(builder: Any, a: Any) -> Any:
    narrow = _ir.IntType(WIDTH)
    return builder.icmp_unsigned("!=", builder.bitcast(a, narrow), narrow(0))


def _bits_up(builder: Any, a: Any) -> Any:
    up = builder.shl(builder.bitcast(a, _BITS), _ir.Constant(_BITS, [52] * WIDTH))
    return builder.bitcast(up, _NUMBERS)


def _exponent(builder: Any, a: Any) -> Any:
    down = builder.lshr(builder.bitcast(a, _BITS), _ir.Constant(_BITS, [52] * WIDTH))
    biased = builder.or_(down, _ir.Constant(_BITS, [0x4330000000000000] * WIDTH))  # the bits of 2^52
    return builder.fsub(builder.bitcast(biased, _NUMBERS), _ir.Constant(_NUMBERS, [2.0**52 + 1023.0] * WIDTH))


def _fraction(builder: Any, a: Any) -> Any:
    low = builder.and_(builder.bitcast(a, _BITS), _ir.Constant(_BITS, [0x000FFFFFFFFFFFFF] * WIDTH))
    return builder.bitcast(builder.or_(low, _ir.Constant(_BITS, [0x3FF0000000000000] * WIDTH)), _NUMBERS)


lesser, greater = _two(_lesser, PACK), _two(_greater, PACK)
"""The smaller and the larger of two; the second where either is no number."""
size_of = _one(_size, PACK)
somewhere = _one(_somewhere, types.boolean, MASK)
"""Whether a mask is true in any scenario."""
power_of_two = _one(_bits_up, PACK)
"""2^k of k + 1023 + 1.5·2^52."""
exponent = _one(_exponent, PACK)
"""k of 2^k·m, 1 ≤ m < 2."""
fraction = _one(_fraction, PACK)
"""m of 2^k·m, 1 ≤ m < 2."""
everywhere = _one(lambda builder, a: _wide(builder, types.float64, a), PACK, types.float64)
"""One number everywhere."""


def _where(_context: Any, condition: Any, a: Any, b: Any) -> Any:
    """`a` where a mask is true, else `b`."""
    def code(_context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        pair = [_wide(builder, kind, value)
                for kind, value in zip(signature.args[1:], arguments[1:], strict=True)]
        return builder.select(arguments[0], *pair)

    return PACK(condition, a, b), code


where = _intrinsic(_where)
