"""What the compiled kernel does to rows of devices: linearised at a guess, and moved towards the next.

Importing this needs numba, the extra ``fast``. `devices` are the rows of vd, vgs, vds, nvt, 1/nvt, is, what
a start was found with, rs, knee, gmin, gain, vto, kp, charge, gc, ec, conductance, constant, pure, slope;
`sizes` how many junctions, couplings, channels and companions there are. See `incircuit.circuit.devices`.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from incircuit.circuit.lane_laws import channel, channel_leak, junction, limit
from incircuit.circuit.lanes import LANES, row
from incircuit.circuit.packs import (
    WIDTH,
    get,
    greater,
    inlined,
    lane_function,
    lesser,
    put,
    size_of,
    somewhere,
    where,
)
from incircuit.circuit.values import GATE_LEAK


@lane_function
def junctions(devices: Any, sizes: Any) -> None:
    """Junctions behind their series resistance, gmin across them, linearised."""
    vd, inverse, is_, rs, knee, gmin = (devices[0], devices[4], devices[5], devices[7], devices[8],
                                        devices[9])
    conductance, constant, pure, slope = devices[16], devices[17], devices[18], devices[19]
    for j in range(sizes[0]):
        at, first = j * LANES, (j + 1) * LANES
        for k in range(at, first, WIDTH):
            v = get(vd, k)
            current, steep = junction(v, get(inverse, k), get(is_, k), get(knee, k))
            g = steep + get(gmin, k)
            split = 1.0 / (1.0 + g * get(rs, k))
            put(conductance, k, g * split)
            put(constant, k, (current - steep * v) * split)
            if sizes[1]:
                put(pure, k, current)
                put(slope, k, steep)


@lane_function
def couplings(devices: Any, sizes: Any, follows: Any) -> None:
    """Couplings linearised at the junctions they follow."""
    vd, rs, gain = devices[0], devices[7], devices[10]
    conductance, constant, pure, slope = devices[16], devices[17], devices[18], devices[19]
    g, amps = row(conductance, sizes[0]), row(constant, sizes[0])
    for c in range(sizes[1]):
        j = follows[c]
        for k in range(0, LANES, WIDTH):
            steep, ohms, part = get(row(slope, j), k), get(row(rs, j), k), get(row(gain, c), k)
            left = get(row(pure, j), k) - steep * (get(row(vd, j), k) + ohms * get(row(constant, j), k))
            put(row(g, c), k, part * (steep * (1.0 - ohms * get(row(conductance, j), k))))
            put(row(amps, c), k, part * left)


@lane_function
def channels(devices: Any, sizes: Any, signs: Any) -> None:
    """Channels linearised, their gates' leak, and the capacitances."""
    vgs, vds, vto, kp, charge, gc, ec = (devices[1], devices[2], devices[11], devices[12], devices[13],
                                         devices[14], devices[15])
    count, done = sizes[2], sizes[0] + sizes[1]
    g, amps = row(devices[16], done), row(devices[17], done)
    for c in range(count):
        sign = float(signs[c])
        for k in range(0, LANES, WIDTH):
            at, across, strength = get(row(vgs, c), k), get(row(vds, c), k), get(row(kp, c), k)
            current, gate, drain = channel(at, across, get(row(vto, c), k), strength)
            put(row(g, c), k, gate)
            put(row(g, count + c), k, drain + channel_leak(strength))
            put(row(g, 2 * count + c), k, GATE_LEAK)
            put(row(amps, c), k, (current - gate * at - drain * across) * sign)
            put(row(amps, count + c), k, get(row(charge, c), k) * (0.0 - GATE_LEAK))
    g, amps = row(g, 3 * count), row(amps, 2 * count)
    for x in range(sizes[3]):
        for k in range(0, LANES, WIDTH):
            held = get(row(gc, x), k)
            put(row(g, x), k, held)
            put(row(amps, x), k, 0.0 - held * get(row(ec, x), k))


@inlined
def _move(wanted: Any, old: Any, slope: Any, still: Any, moved: Any) -> Any:
    """The largest move so far, where a device's current would change by more than is still."""
    step = size_of(wanted - old)
    most = greater(where(step * slope > still, step, 0.0), moved)
    return where(step == step, most, np.inf)


@lane_function
def moves(solver: Any, devices: Any, sizes: Any, lists: Any) -> None:
    """Controlling voltages moved as `devices.limit` allows, in scenarios that are not done."""
    v, moved, still, done = solver[2], solver[9], solver[10], solver[11]
    vd, vgs, vds, nvt, is_ = devices[0], devices[1], devices[2], devices[3], devices[5]
    rs, knee, kp, conductance, constant = devices[7], devices[8], devices[12], devices[16], devices[17]
    anode, cathode, drain, gate, origin, _, signs = lists
    for j in range(sizes[0]):
        a, b = row(v, anode[j]), row(v, cathode[j])
        for k in range(0, LANES, WIDTH):
            i = j * LANES + k
            old, scale, g = get(vd, i), get(nvt, i), get(conductance, i)
            outer = get(a, k) - get(b, k)
            new = outer - get(rs, i) * (get(constant, i) + g * outer)
            put(moved, k, _move(new, old, g, get(still, k), get(moved, k)))
            wild = size_of(new - old) > 0.5 * scale
            if somewhere(wild):
                new = where(wild, limit(new, old, scale, get(is_, i), get(knee, i)), new)
            put(vd, i, where(get(done, k) != 0.0, old, new))
    g = row(conductance, sizes[0] + sizes[1])
    for c in range(sizes[2]):
        sign = float(signs[c])
        for k in range(0, LANES, WIDTH):
            low, i = get(row(v, origin[c]), k), c * LANES + k
            up, over = (get(row(v, gate[c]), k) - low) * sign, (get(row(v, drain[c]), k) - low) * sign
            most, own = get(moved, k), get(row(g, sizes[2]), i) - channel_leak(get(kp, i))
            most = _move(up, get(vgs, i), size_of(get(g, i)), get(still, k), most)
            put(moved, k, _move(over, get(vds, i), own, get(still, k), most))
            for at, new in ((vgs, up), (vds, over)):
                old, stays = get(at, i), get(done, k) != 0.0
                put(at, i, where(stays, old, old + lesser(greater(new - old, -2.0), 2.0)))
