"""What the compiled kernel does to packs of devices: exponentials, the laws, their slopes, and limits.

Importing this needs numba, the extra ``fast``. The laws are those of `incircuit.circuit.laws`, the limits
those of `incircuit.circuit.devices`; what is rare is worked out only for packs in which it occurs.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from incircuit.circuit.laws import EXPONENT_CAP
from incircuit.circuit.packs import (
    everywhere,
    exponent,
    fraction,
    greater,
    inlined,
    lesser,
    power_of_two,
    size_of,
    somewhere,
    where,
)
from incircuit.circuit.values import GMIN

_LN2_HIGH, _LN2_LOW = 6.93147180369123816490e-01, 1.90821492927058770002e-10
_LOG2E = 1.4426950408889634
_E, _ROOT2 = float(np.e), float(np.sqrt(2.0))
_LOG2 = float(np.log(2.0))
_REST = float(np.exp(-3.0))
_SHIFT = 6755399441055744.0  # 1.5·2^52: adding it rounds to a whole number and leaves that in the low bits


@inlined
def exponential(x: Any) -> Any:
    """exp for −700 < x < 700 to two units in the last place: 2^k·exp(r), a Taylor series for |r| < 0.35."""
    whole = (x * _LOG2E + _SHIFT) - _SHIFT
    r = x - whole * _LN2_HIGH - whole * _LN2_LOW
    p = r * 2.08767569878681e-09 + 2.505210838544172e-08  # 1/12!, 1/11!, …
    p = p * r + 2.755731922398589e-07
    p = p * r + 2.7557319223985893e-06
    p = p * r + 2.48015873015873e-05
    p = p * r + 1.984126984126984e-04
    p = p * r + 1.388888888888889e-03
    p = p * r + 8.333333333333333e-03
    p = p * r + 4.1666666666666664e-02
    p = p * r + 0.16666666666666666
    p = p * r + 0.5
    p = p * r + 1.0
    return (p * r + 1.0) * power_of_two(whole + (_SHIFT + 1023.0))


@inlined
def logarithm(x: Any) -> Any:
    """ln of a positive normal number to 1e-13: k·ln 2 + 2·artanh((m − 1)/(m + 1)), the series of artanh."""
    m = fraction(x)
    s = (m - 1.0) / (m + 1.0)
    z = s * s
    p = z * (1.0 / 27.0) + 1.0 / 25.0
    p = p * z + 1.0 / 23.0
    p = p * z + 1.0 / 21.0
    p = p * z + 1.0 / 19.0
    p = p * z + 1.0 / 17.0
    p = p * z + 1.0 / 15.0
    p = p * z + 1.0 / 13.0
    p = p * z + 1.0 / 11.0
    p = p * z + 1.0 / 9.0
    p = p * z + 1.0 / 7.0
    p = p * z + 0.2
    p = p * z + 1.0 / 3.0
    p = p * z + 1.0
    return exponent(x) * _LOG2 + (s + s) * p


@inlined
def junction(vd: Any, inverse: Any, is_: Any, knee: Any) -> Any:
    """`junction_law` of a pack: current [A] and slope [S]; `inverse` is 1/nvt."""
    at = vd * inverse
    e = everywhere(_REST)
    if somewhere(at >= -3.0):
        e = exponential(lesser(greater(at, -3.0), EXPONENT_CAP))
    shape = e - 1.0
    back = at < -3.0
    if somewhere(back):
        third = (3.0 / _E) / lesser(at, -3.0)
        cubic = third * third * third
        shape = where(back, -1.0 - cubic, shape)
        e = where(back, cubic * third * _E, e)
        broken = back & (vd < 0.0 - knee)
        if somewhere(broken):
            past = where(broken, 0.0 - (vd + knee) * inverse, 0.0)
            grown = exponential(lesser(past, EXPONENT_CAP))
            shape = where(broken, 0.0 - grown * (1.0 + greater(past - EXPONENT_CAP, 0.0)), shape)
            e = where(broken, grown, e)
    far = at > EXPONENT_CAP
    if somewhere(far):
        shape = where(far, shape + e * (at - EXPONENT_CAP), shape)
    return is_ * shape, is_ * inverse * e


@inlined
def carried(vd: Any, nvt: Any, is_: Any, before: Any) -> Any:
    """`newton.carried` of a pack; `before` are n·Vt and saturation current the voltages were found with."""
    old_nvt, old_is = before
    ratio = old_is / is_
    near = (ratio > 1e-30) & (ratio < 1e30)
    moved = nvt * logarithm(where(near, ratio, 1.0)) + vd * (nvt / old_nvt)
    return where(near & (vd > 3.0 * old_nvt), moved, vd)


@inlined
def channel(vgs: Any, vds: Any, vto: Any, kp: Any) -> Any:
    """`channel_law` of a pack: current [A], its slopes by vgs and vds [S]."""
    back = vds < 0.0
    over = greater(where(back, vgs - vds, vgs) - vto, 0.0)
    held = lesser(size_of(vds), over)
    current = kp * held * (over - 0.5 * held)
    gate, drain = kp * held, kp * (over - held)
    turned = where(back, 0.0 - current, current)
    return turned, where(back, 0.0 - gate, gate), where(back, gate + drain, drain)


@inlined
def channel_leak(kp: Any) -> Any:
    """`channel_gmin` of a pack [S]."""
    return where(kp > 0.0, GMIN, 0.0)


@inlined
def _limited(new: Any, old: Any, nvt: Any, is_: Any) -> Any:
    """Junction voltages after `incircuit.circuit.devices.limit`, forward only."""
    rise = (new - old) / nvt
    far = (rise > 2.0) & (new > 0.0)
    moved = new
    if somewhere(far):
        up = where(old > 0.0, 1.0 + rise, greater(new / nvt, 1.0))
        far = far & (is_ > 0.0)
        critical = nvt * logarithm(where(far, nvt / (_ROOT2 * is_), 1.0))
        held = greater(old, 0.0) + nvt * logarithm(where(far, up, 1.0))
        moved = where(far & (new > critical), held, moved)
    idle = (rise < -0.5) & (rise > -1.1) & (old > 3.0 * nvt)
    if somewhere(idle):
        left = logarithm(where(idle, greater(1.0 + rise, 1e-12), 1.0))
        moved = where(idle, greater(old + nvt * left, lesser(new, 0.0)), moved)
    return moved


@inlined
def limit(new: Any, old: Any, nvt: Any, is_: Any, knee: Any) -> Any:
    """Junction voltages moved from `old` towards `new`, forward and into breakdown by logarithmic steps."""
    moved = _limited(new, old, nvt, is_)
    broken = moved < 0.0 - knee
    if somewhere(broken):
        mirrored = _limited(0.0 - (moved + knee), 0.0 - (old + knee), nvt, is_)
        moved = where(broken, 0.0 - mirrored - knee, moved)
    return moved
