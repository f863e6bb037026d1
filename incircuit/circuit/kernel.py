"""Newton's iteration compiled by numba: the same steps as `incircuit.circuit.newton`, block by block.

Importing this needs numba, the extra ``fast``; `incircuit.circuit.compiled` decides where it is used. A
block is `LANES` scenarios side by side. Plans and stamps are index arrays: one compiled function serves
every network. All in one file: numba's cache on disk notices changes in no other.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numba
import numpy as np

from incircuit.circuit.elimination import SMALLEST
from incircuit.circuit.laws import EXPONENT_CAP
from incircuit.circuit.values import GATE_LEAK, GMIN

LANES = 128
_LN2_HIGH, _LN2_LOW = 6.93147180369123816490e-01, 1.90821492927058770002e-10
_LOG2E = 1.4426950408889634
_E, _ROOT2 = float(np.e), float(np.sqrt(2.0))

Function = TypeVar("Function", bound=Callable[..., Any])


_jit: Any = numba.njit


def _inline(function: Function) -> Function:
    """Compiled into the function that calls it."""
    made: Function = _jit(nogil=True, error_model="numpy", inline="always")(function)
    return made


def _compiled(function: Function) -> Function:
    """Compiled when first called, and kept on disk where there is a place for it."""
    made: Function
    try:
        made = _jit(nogil=True, error_model="numpy", cache=True)(function)
    except RuntimeError:  # no folder that can be written
        made = _jit(nogil=True, error_model="numpy")(function)
    return made


@_inline
def _exponential(x: Any, out: Any, bits: Any, power: Any) -> None:
    """exp for −700 < x < 700 to a unit in the last place: 2^k·exp(r), a Taylor series for |r| < 0.35."""
    for k in range(LANES):
        whole = np.floor(x[k] * _LOG2E + 0.5)
        r = x[k] - whole * _LN2_HIGH - whole * _LN2_LOW
        bits[k] = (np.int64(whole) + 1023) << 52
        p = 1.6059043836821613e-10  # 1/13!
        p = p * r + 2.08767569878681e-09
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
        out[k] *= power[k]


@_inline
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


@_inline
def _load(block: Any, rows: Any, first: int, last: int) -> None:
    """Columns of some rows into a block; a single column serves all, a short block repeats its last."""
    single = rows.shape[1] == 1
    for i in range(rows.shape[0]):
        for k in range(LANES):
            block[i, k] = rows[i, 0 if single else min(first + k, last - 1)]


@_inline
def _add(out: Any, a: Any) -> None:
    for k in range(LANES):
        out[k] += a[k]


@_inline
def _add_product(out: Any, a: Any, b: Any, c: Any, sign: float) -> None:
    for k in range(LANES):
        out[k] += sign * a[k] * b[k] * c[k]


@_inline
def _eliminate(w: Any, b: Any, inverse: Any, plan: Any) -> None:
    """`incircuit.circuit.elimination.eliminate` and `forward` on one block."""
    (node, active, row, column, at, later, excess, diagonal, target_at, target, first, second,
     wake_at, wake, wake_row_at, wake_row, live_at, live) = plan
    for s in range(len(node)):
        count = at[s + 1] - at[s]
        inv, own, current = inverse[s], w[excess + node[s]], b[node[s]]
        if active[s]:
            pivot = w[diagonal + node[s]]
            for k in range(LANES):
                inv[k] = 1.0 / (pivot[k] if abs(pivot[k]) > SMALLEST else SMALLEST)
        else:
            inv[:] = own
            for q in range(count):
                _add(inv, w[row[s] + q])
            for k in range(LANES):
                inv[k] = 1.0 / inv[k]
        for q in range(wake_at[s], wake_at[s + 1]):
            woken = w[diagonal + wake[q]]
            woken[:] = w[excess + wake[q]]
            for e in range(wake_row_at[q], wake_row_at[q + 1]):
                _add(woken, w[wake_row[e]])
        for q in range(count):
            other = later[at[s] + q]
            _add_product(w[excess + other], w[column[s] + q], inv, own, 1.0)
            _add_product(b[other], w[column[s] + q], inv, current, 1.0)
        for q in range(live_at[s], live_at[s + 1]):
            _add_product(w[diagonal + later[at[s] + live[q]]], w[column[s] + live[q]], inv,
                         w[row[s] + live[q]], -1.0)
        for q in range(target_at[s], target_at[s + 1]):
            _add_product(w[target[q]], w[column[s] + first[q]], inv, w[row[s] + second[q]], 1.0)


@_inline
def _substitute(w: Any, b: Any, inverse: Any, plan: Any, v: Any) -> None:
    """`incircuit.circuit.elimination.backward` on one block."""
    node, row, at, later = plan[0], plan[2], plan[4], plan[5]
    for s in range(len(node) - 1, -1, -1):
        into, inv = v[node[s]], inverse[s]
        into[:] = b[node[s]]
        for q in range(at[s + 1] - at[s]):
            a, c = w[row[s] + q], v[later[at[s] + q]]
            for k in range(LANES):
                into[k] += a[k] * c[k]
        for k in range(LANES):
            into[k] *= inv[k]


@_inline
def _junctions(vd: Any, p: Any, conductance: Any, constant: Any, pure: Any, slope: Any, scratch: Any) -> None:
    """`junction_law` and the junctions' part of `linearise` on one block."""
    is_, nvt, rs, knee, gmin = p
    x, e, bits, power = scratch
    for j in range(vd.shape[0]):
        for k in range(LANES):
            x[k] = min(max(vd[j, k] / nvt[j, k], -3.0), EXPONENT_CAP)
        _exponential(x, e, bits, power)
        for k in range(LANES):
            at = vd[j, k] / nvt[j, k]
            third = (3.0 / _E) / min(at, -3.0)
            cubic = third * third * third
            shape = e[k] - 1.0 if at >= -3.0 else -1.0 - cubic
            steep = e[k] * (1.0 + (at - EXPONENT_CAP)) - 1.0
            pure[j, k] = is_[j, k] * (steep if at > EXPONENT_CAP else shape)
            slope[j, k] = (e[k] if at >= -3.0 else cubic * third * _E) * (is_[j, k] / nvt[j, k])
        for k in range(LANES):
            if vd[j, k] < -knee[j, k] and vd[j, k] < -3.0 * nvt[j, k]:
                beyond = -(vd[j, k] + knee[j, k]) / nvt[j, k]
                grown = np.exp(min(beyond, EXPONENT_CAP))
                pure[j, k] = -is_[j, k] * grown * (1.0 + max(beyond - EXPONENT_CAP, 0.0))
                slope[j, k] = grown * (is_[j, k] / nvt[j, k])
        for k in range(LANES):
            g = slope[j, k] + gmin[j, k]
            split = 1.0 / (1.0 + g * rs[j, k])
            conductance[j, k] = g * split
            constant[j, k] = (pure[j, k] - slope[j, k] * vd[j, k]) * split


@_inline
def _couplings(vd: Any, rs: Any, gain: Any, follows: Any, conductance: Any, constant: Any, pure: Any,
               slope: Any, first: int) -> None:
    for c in range(len(follows)):
        j = follows[c]
        for k in range(LANES):
            keep = slope[j, k] * (1.0 - rs[j, k] * conductance[j, k])
            conductance[first + c, k] = gain[c, k] * keep
            inner = vd[j, k] + rs[j, k] * constant[j, k]
            constant[first + c, k] = gain[c, k] * (pure[j, k] - slope[j, k] * inner)


@_inline
def _channels(vgs: Any, vds: Any, p: Any, sign: Any, conductance: Any, constant: Any, first: int) -> None:
    """`channel_law` and the channels' part of `linearise`; gm as it is, with its sign."""
    vto, kp, charge = p
    count = len(sign)
    for c in range(count):
        for k in range(LANES):
            back = vds[c, k] < 0.0
            wide = abs(vds[c, k])
            over = max((vgs[c, k] - vds[c, k] if back else vgs[c, k]) - vto[c, k], 0.0)
            held = min(wide, over)
            current = kp[c, k] * held * (over - 0.5 * held)
            gate, drain = kp[c, k] * held, kp[c, k] * (over - held)
            turned = -1.0 if back else 1.0
            gm, gds = turned * gate, gate + drain if back else drain
            conductance[first + c, k] = gm
            conductance[first + count + c, k] = gds + (GMIN if kp[c, k] > 0.0 else 0.0)
            conductance[first + 2 * count + c, k] = GATE_LEAK
            constant[first + c, k] = sign[c] * (turned * current - gm * vgs[c, k] - gds * vds[c, k])
            constant[first + count + c, k] = -GATE_LEAK * charge[c, k]


@_inline
def _move_junctions(v: Any, vd: Any, p: Any, ends: Any, conductance: Any, constant: Any, still: Any,
                    moved: Any, done: Any) -> None:
    is_, nvt, rs, knee, _ = p
    anode, cathode = ends
    for j in range(len(anode)):
        a, c = anode[j], cathode[j]
        calm = True
        for k in range(LANES):
            wide = v[a, k] - v[c, k]
            new = wide - rs[j, k] * (constant[j, k] + conductance[j, k] * wide)
            step = abs(new - vd[j, k])
            calm &= not step > 0.5 * nvt[j, k]
            moved[k] = max(moved[k], step if step * conductance[j, k] > still[k] else 0.0)
            if step != step:
                moved[k] = np.inf
            constant[j, k] = new
        for k in range(LANES):
            new, old = constant[j, k], vd[j, k]
            if not calm:
                new = _limited(new, old, nvt[j, k], is_[j, k])
                if new < -knee[j, k]:
                    far = _limited(-(new + knee[j, k]), -(old + knee[j, k]), nvt[j, k], is_[j, k])
                    new = -far - knee[j, k]
            vd[j, k] = old if done[k] else new


@_inline
def _move_channels(v: Any, vgs: Any, vds: Any, kp: Any, sign: Any, ends: Any, conductance: Any, first: int,
                   still: Any, moved: Any, done: Any) -> None:
    drain, gate, origin = ends
    count = len(sign)
    for c in range(count):
        for k in range(LANES):
            to_gs = sign[c] * (v[gate[c], k] - v[origin[c], k])
            to_ds = sign[c] * (v[drain[c], k] - v[origin[c], k])
            step, other = abs(to_gs - vgs[c, k]), abs(to_ds - vds[c, k])
            gm = abs(conductance[first + c, k])
            gds = conductance[first + count + c, k] - (GMIN if kp[c, k] > 0.0 else 0.0)
            moved[k] = max(moved[k], step if step * gm > still[k] else 0.0)
            moved[k] = max(moved[k], other if other * gds > still[k] else 0.0)
            if step != step or other != other:
                moved[k] = np.inf
            if not done[k]:
                vgs[c, k] += min(max(to_gs - vgs[c, k], -2.0), 2.0)
                vds[c, k] += min(max(to_ds - vds[c, k], -2.0), 2.0)


@_inline
def _stack(devices: Any, signs: Any, follows: Any, state: Any, work: Any, scratch: Any) -> None:
    """Conductances and constants of all devices but the source, in the order of the layout's stacks."""
    junctions, gain, channels, gc, ec = devices
    vd, vgs, vds = state
    conductance, constant, pure, slope = work
    _junctions(vd, junctions, conductance, constant, pure, slope, scratch)
    first = vd.shape[0]
    _couplings(vd, junctions[2], gain, follows, conductance, constant, pure, slope, first)
    first += len(follows)
    count = len(signs)
    _channels(vgs, vds, channels, signs, conductance, constant, first)
    for x in range(gc.shape[0]):
        for k in range(LANES):
            conductance[first + 3 * count + x, k] = gc[x, k]
            constant[first + 2 * count + x, k] = -gc[x, k] * ec[x, k]


@_inline
def _stamped(out: Any, stack: Any, stamp: Any) -> None:
    rows, sources, turns, _ = stamp
    for e in range(len(rows)):
        for k in range(LANES):
            out[rows[e], k] += turns[e] * stack[sources[e], k]


@_inline
def _step(v: Any, state: Any, devices: Any, branch: Any, shape: Any, ends: Any, stamps: Any, plan: Any,
          room: Any, own: Any, judged: Any, still_current: float, typical: float) -> None:
    """One step of a block; `branch` the source's current [A] and conductance [S], `judged` moved and done."""
    red, _, junctions, _ = shape
    stamp, injection = stamps
    vd, vgs, vds = state
    flow, load = branch
    moved, done = judged
    w, b, inverse, conductance, constant, pure, slope, scratch, still = room
    _stack(devices, ends[6], ends[5], state, (conductance, constant, pure, slope), scratch)
    for k in range(LANES):
        conductance[stamp[3] - 1, k] = load[k]
        moved[k] = v[red, k]
    w[:] = own
    b[:] = 0.0
    _stamped(w, conductance, stamp)
    _stamped(b, constant, injection)
    for k in range(LANES):
        b[red, k] += flow[k]
    _eliminate(w, b, inverse, plan)
    _substitute(w, b, inverse, plan, v)
    for k in range(LANES):
        moved[k] = abs(v[red, k] - moved[k])
        if moved[k] != moved[k]:
            moved[k] = np.inf
        still[k] = still_current * (1.0 + abs(flow[k] - load[k] * v[red, k]) / typical)
    _move_junctions(v, vd, devices[0], (ends[0], ends[1]), conductance, constant, still, moved, done)
    _move_channels(v, vgs, vds, devices[2][1], ends[6], (ends[2], ends[3], ends[4]), conductance,
                   junctions + len(ends[5]), still, moved, done)


@_inline
def _keep(found: Any, block: Any, first: int, last: int) -> None:
    for i in range(block.shape[0]):
        for k in range(last - first):
            found[i, first + k] = block[i, k]


@_compiled
def newton(count: int, most: int, tolerance: float, still_current: float, typical: float, base: Any,
           devices: Any, source: Any, start: Any, shape: Any, ends: Any, stamps: Any, plan: Any,
           found: Any) -> int:
    """Newton's iteration for `count` scenarios from `start`, at most `most` steps; returns the most taken.

    All arrays are (rows, scenarios or 1), contiguous; `devices` are the junctions' five, the couplings'
    gain, the channels' three, the companions' two arrays; `source` knee, both branches and the sign;
    `shape` (red port, ports, junctions, channels); `ends` ports of junctions, of channels, junctions that
    couplings follow, signs of channels; `stamps` of conductances and constants. Into `found` go v, vd, vgs,
    vds, limited and done.
    """
    red, ports, junctions, channels = shape
    own, seen = np.empty((base.shape[0], LANES)), np.empty((ports, LANES))
    v = np.zeros((ports + 1, LANES))
    state = np.empty((junctions, LANES)), np.empty((channels, LANES)), np.empty((channels, LANES))
    loaded = [np.empty((rows.shape[0], LANES)) for rows in devices]
    bits = np.empty(LANES, dtype=np.int64)
    room = (np.empty((base.shape[0], LANES)), np.empty((ports, LANES)), np.empty((len(plan[0]), LANES)),
            np.empty((stamps[0][3], LANES)), np.empty((stamps[1][3], LANES)), np.empty((junctions, LANES)),
            np.empty((junctions, LANES)), (np.empty(LANES), np.empty(LANES), bits, bits.view(np.float64)),
            np.empty(LANES))
    limited, done = np.empty(LANES, dtype=np.bool_), np.empty(LANES, dtype=np.bool_)
    judged, branch = (np.empty(LANES), done), (np.empty(LANES), np.empty(LANES))
    knee, behind, g, free, sign = source
    taken = 0
    for first in range(0, count, LANES):
        last = min(first + LANES, count)
        _load(own, base, first, last)
        for r in range(len(devices)):
            _load(loaded[r], devices[r], first, last)
        _load(v[:ports], start[0], first, last)
        _load(state[0], start[1], first, last)
        _load(state[1], start[2], first, last)
        _load(state[2], start[3], first, last)
        for k in range(LANES):
            at = min(first + k, last - 1)
            limited[k] = sign[at] * v[red, k] > knee[at]
            done[k] = False
        for step in range(1, most + 1):
            taken = max(taken, step)
            for k in range(LANES):
                at = min(first + k, last - 1)
                branch[0][k] = behind[at] if limited[k] else free[at]
                branch[1][k] = g[at] if limited[k] else 0.0
            _step(v, state, ((loaded[0], loaded[1], loaded[2], loaded[3], loaded[4]), loaded[5],
                             (loaded[6], loaded[7], loaded[8]), loaded[9], loaded[10]),
                  branch, shape, ends, stamps, plan, room, own, judged, still_current, typical)
            over = True
            for k in range(LANES):
                at = min(first + k, last - 1)
                if not done[k]:
                    now = sign[at] * v[red, k] > knee[at]
                    done[k] = judged[0][k] <= tolerance and now == limited[k]
                    limited[k] = now
                    for p in range(ports):
                        seen[p, k] = v[p, k]
                over &= done[k]
            if over:
                break
        _keep(found[0], seen, first, last)
        _keep(found[1], state[0], first, last)
        _keep(found[2], state[1], first, last)
        _keep(found[3], state[2], first, last)
        for k in range(last - first):
            found[4][first + k] = limited[k]
            found[5][first + k] = done[k]
    return taken
