"""What the compiled kernel does to rows of devices: exponentials, the laws, their slopes, and limits.

Importing this needs numba, the extra ``fast``. The laws are those of `incircuit.circuit.laws`, the limits
those of `incircuit.circuit.devices`; what is rare is looked for once a row, see `incircuit.circuit.lanes`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from incircuit.circuit.lanes import (
    LANES,
    as_integers,
    difference,
    fill,
    lane_function,
    multiply,
    multiply_by,
    replace_not,
    row,
)
from incircuit.circuit.laws import EXPONENT_CAP
from incircuit.circuit.values import GATE_LEAK, GMIN

_LN2_HIGH, _LN2_LOW = 6.93147180369123816490e-01, 1.90821492927058770002e-10
_LOG2E = 1.4426950408889634
_E, _ROOT2 = float(np.e), float(np.sqrt(2.0))
_SHIFT = 6755399441055744.0  # 1.5·2^52: adding it rounds to a whole number and leaves that in the low bits


@lane_function
def exponential(out: Any, x: Any, power: Any) -> None:
    """exp for −700 < x < 700 to two units in the last place: 2^k·exp(r), a Taylor series for |r| < 0.35.

    `power` is room for a row.
    """
    bits = as_integers(power)
    for k in range(LANES):
        whole = (x[k] * _LOG2E + _SHIFT) - _SHIFT
        power[k] = whole + (_SHIFT + 1023.0)
        r = x[k] - whole * _LN2_HIGH - whole * _LN2_LOW
        p = 2.08767569878681e-09  # 1/12!
        p = p * r + 2.505210838544172e-08
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
        out[k] = p * r + 1.0
    for k in range(LANES):
        bits[k] <<= 52
    multiply_by(out, power)


@lane_function
def junction(vd: Any, p: Any, pure: Any, slope: Any, room: Any) -> None:
    """`junction_law` on one row; `p` are the rows of nvt, 1/nvt, is, is/nvt and knee, `room` the first of
    three rows."""
    nvt, inverse, is_, steep, knee = p
    x, e, power = room, row(room, 1), row(room, 2)
    for k in range(LANES):
        at = vd[k] * inverse[k]
        slope[k] = at
        x[k] = min(max(at, -3.0), EXPONENT_CAP)
    back = far = broken = 0
    for k in range(LANES):
        back += 1 if slope[k] < -3.0 else 0
        far += 1 if slope[k] > EXPONENT_CAP else 0
        broken += 1 if vd[k] < -knee[k] else 0
    if back < LANES:
        exponential(e, x, power)
    else:
        fill(e, np.exp(-3.0))
    for k in range(LANES):
        pure[k] = is_[k] * (e[k] - 1.0)
    if back:
        _reverse(slope, is_, pure, e)
    if far:
        for k in range(LANES):
            past = max(slope[k] - EXPONENT_CAP, 0.0)
            pure[k] += is_[k] * e[k] * past
    multiply(slope, e, steep)
    if broken:
        for k in range(LANES):
            if vd[k] < -knee[k] and vd[k] < -3.0 * nvt[k]:
                past = -(vd[k] + knee[k]) * inverse[k]
                grown = np.exp(min(past, EXPONENT_CAP))
                pure[k] = -is_[k] * grown * (1.0 + max(past - EXPONENT_CAP, 0.0))
                slope[k] = grown * steep[k]


@lane_function
def _reverse(at: Any, is_: Any, pure: Any, e: Any) -> None:
    """The cubic below −3·n·Vt, into the current and what takes the place of the exponential."""
    for k in range(LANES):
        third = (3.0 / _E) / min(at[k], -3.0)
        cubic = third * third * third
        pure[k] = is_[k] * (-1.0 - cubic) if at[k] < -3.0 else pure[k]
        e[k] = cubic * third * _E if at[k] < -3.0 else e[k]


@lane_function
def behind_resistance(vd: Any, law: Any, p: Any, conductance: Any, constant: Any) -> None:
    """One row of junctions with gmin across and their series resistance before them, linearised."""
    pure, slope = law
    gmin, rs = p
    for k in range(LANES):
        conductance[k] = slope[k] + gmin[k]
        constant[k] = pure[k] - slope[k] * vd[k]
    for k in range(LANES):
        split = 1.0 / (1.0 + conductance[k] * rs[k])
        conductance[k] *= split
        constant[k] *= split


@lane_function
def follow(vd: Any, gain: Any, rs: Any, law: Any, outer: Any, out: Any) -> None:
    """One row of couplings, linearised at the junctions they follow; `law` is those junctions' current and
    slope, `outer` their conductance and constant behind the series resistance."""
    pure, slope = law
    conductance, constant = outer
    gm, current = out
    for k in range(LANES):
        gm[k] = gain[k] * (slope[k] * (1.0 - rs[k] * conductance[k]))
    for k in range(LANES):
        current[k] = gain[k] * (pure[k] - slope[k] * (vd[k] + rs[k] * constant[k]))


@lane_function
def gap(wide: Any, vd: Any, law: Any, p: Any) -> None:
    """One row of junctions: into the slope's row the current [A], into `wide` what outer and inner voltage
    are apart, as a current."""
    pure, slope = law
    gmin, rs = p
    for k in range(LANES):
        g = slope[k] + gmin[k]
        current = pure[k] + gmin[k] * vd[k]
        wide[k] = (wide[k] - vd[k] - rs[k] * current) * g / (1.0 + g * rs[k])
    for k in range(LANES):
        slope[k] = pure[k] + gmin[k] * vd[k]


@lane_function
def channel(controls: Any, p: Any, sign: float, out: Any) -> None:
    """`channel_law` linearised on one row; into `out`: gm with its sign, gds, constant [A]."""
    vgs, vds = controls
    vto, kp = p
    gm, gds, constant = out
    for k in range(LANES):
        back = vds[k] < 0.0
        over = max((vgs[k] - vds[k] if back else vgs[k]) - vto[k], 0.0)
        held = min(abs(vds[k]), over)
        current = kp[k] * held * (over - 0.5 * held)
        gate, drain = kp[k] * held, kp[k] * (over - held)
        turned = -1.0 if back else 1.0
        slope = gate + drain if back else drain
        gm[k] = turned * gate
        gds[k] = slope + (GMIN if kp[k] > 0.0 else 0.0)
        constant[k] = sign * (turned * current - turned * gate * vgs[k] - slope * vds[k])


@lane_function
def channel_currents(ends: Any, p: Any, sign: float, through: Any, leak: Any) -> None:
    """Currents [A] of one row of channels from drain to source, from gate to source, at node voltages."""
    drain, gate, origin = ends
    vto, kp, charge = p
    for k in range(LANES):
        to_gate, across = gate[k] - origin[k], drain[k] - origin[k]
        vgs, vds = sign * to_gate, sign * across
        over = max((vgs - vds if vds < 0.0 else vgs) - vto[k], 0.0)
        held = min(abs(vds), over)
        current = kp[k] * held * (over - 0.5 * held)
        through[k] = sign * (-current if vds < 0.0 else current) + (GMIN if kp[k] > 0.0 else 0.0) * across
        leak[k] = GATE_LEAK * (to_gate - charge[k])


@lane_function
def _limited(new: Any, old: Any, nvt: Any, is_: Any) -> Any:
    """One junction voltage after `incircuit.circuit.devices.limit`, forward only."""
    rise = (new - old) / nvt
    if rise > 2.0 and new > 0.0:
        critical = nvt * np.log(nvt / (_ROOT2 * is_)) if is_ > 0.0 else np.inf
        if new > critical:
            return old + nvt * np.log1p(rise) if old > 0.0 else nvt * np.log(max(new / nvt, 1.0))
    elif -1.1 < rise < -0.5 and old > 3.0 * nvt:
        return max(old + nvt * np.log(max(1.0 + rise, 1e-12)), min(new, 0.0))
    return new


@lane_function
def _held(new: Any, old: Any, nvt: Any, is_: Any, knee: Any) -> Any:
    moved = _limited(new, old, nvt, is_)
    if moved < -knee:
        return -_limited(-(moved + knee), -(old + knee), nvt, is_) - knee
    return moved


@lane_function
def move_junction(vd: Any, ends: Any, p: Any, law: Any, judged: Any, room: Any) -> None:
    """One row of inner voltages moved as `devices.limit` allows, towards what the `ends` have.

    `p` are nvt, is, rs, knee, `law` conductance and constant, `judged` what current is still [A], the largest
    move so far [V], and who is done: those stay; `room` is the first of two rows.
    """
    nvt, is_, rs, knee = p
    conductance, constant = law
    still, moved, done = judged
    new, step = room, row(room, 1)
    difference(new, ends[0], ends[1])
    for k in range(LANES):
        new[k] -= rs[k] * (constant[k] + conductance[k] * new[k])
    wild = 0
    for k in range(LANES):
        step[k] = abs(new[k] - vd[k])
    for k in range(LANES):
        wild += 1 if step[k] > 0.5 * nvt[k] else 0
    for k in range(LANES):
        far = step[k] if step[k] * conductance[k] > still[k] else 0.0
        moved[k] = max(moved[k], far) if far == far else np.inf
    for k in range(LANES):
        moved[k] = moved[k] if step[k] == step[k] else np.inf
    if wild:
        for k in range(LANES):
            if done[k] == 0.0:
                vd[k] = _held(new[k], vd[k], nvt[k], is_[k], knee[k])
    else:
        replace_not(vd, new, done)


@lane_function
def move_channel(controls: Any, ends: Any, kp: Any, sign: float, slopes: Any, judged: Any) -> None:
    """One row of channels' voltages moved towards what the `ends` (drain, gate, source) have, 2 V at most."""
    drain, gate, origin = ends
    vgs, vds = controls
    gm, gds = slopes
    still, moved, done = judged
    for k in range(LANES):
        up = sign * (gate[k] - origin[k]) - vgs[k]
        over = sign * (drain[k] - origin[k]) - vds[k]
        own = gds[k] - (GMIN if kp[k] > 0.0 else 0.0)
        most = max(moved[k], abs(up) if abs(up) * abs(gm[k]) > still[k] else 0.0)
        most = max(most, abs(over) if abs(over) * own > still[k] else 0.0)
        moved[k] = most if (up == up) & (over == over) else np.inf
        vgs[k] += 0.0 if done[k] != 0.0 else min(max(up, -2.0), 2.0)
        vds[k] += 0.0 if done[k] != 0.0 else min(max(over, -2.0), 2.0)
