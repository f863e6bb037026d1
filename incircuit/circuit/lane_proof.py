"""The proof as the compiled kernel does it: `kirchhoff.proof` of a block.

Importing this needs numba, the extra ``fast``. `devices` and `sizes` as in `incircuit.circuit.lane_devices`.
"""

from __future__ import annotations

from typing import Any

from incircuit.circuit.lane_laws import channel, channel_leak, junction
from incircuit.circuit.lanes import LANES, at_least, row
from incircuit.circuit.packs import WIDTH, everywhere, get, inlined, lane_function, put, size_of
from incircuit.circuit.values import GATE_LEAK, NODE_LEAK


@inlined
def _between(net: Any, a: int, b: int, k: int, flow: Any) -> None:
    put(row(net, a), k, get(row(net, a), k) + flow)
    put(row(net, b), k, get(row(net, b), k) - flow)


@lane_function
def proof(point: Any, devices: Any, sizes: Any, follows: Any, signs: Any, ends: Any) -> None:
    """`kirchhoff.proof` of a block, from its node voltages and the current out of the red lead: the largest
    residual and the largest current of a capacitance [A]."""
    red, nodes, pair_count, v, net, pairs, current, residual, charging = point
    pure, first, second = devices[18], ends[9], ends[10]
    for k in range(0, LANES, WIDTH):
        for n in range(nodes + 1):
            put(row(net, n), k, get(row(v, n), k) * NODE_LEAK)
        put(row(net, red), k, get(row(net, red), k) - get(current, k))
        for p in range(pair_count):
            wide = get(row(v, first[p]), k) - get(row(v, second[p]), k)
            _between(net, first[p], second[p], k, wide * get(row(pairs, p), k))
        put(residual, k, _junction_gaps(k, sizes[0], v, net, devices, ends))
        for c in range(sizes[1]):
            led = get(row(devices[10], c), k) * get(row(pure, follows[c]), k)
            _between(net, ends[2][c], ends[3][c], k, led)
        put(charging, k, 0.0)
    if sizes[2] + sizes[3]:
        _channel_flows(v, net, charging, devices, sizes, signs, ends)
    for k in range(0, LANES, WIDTH):
        most = get(residual, k)
        for n in range(nodes):
            most = at_least(most, size_of(get(row(net, n), k)))
        put(residual, k, most)


@lane_function
def _junction_gaps(k: int, junctions: int, v: Any, net: Any, devices: Any, ends: Any) -> Any:
    """Currents of junctions at their inner voltages, to the nodes; how far inner and outer are apart [A]."""
    vd, inverse, is_, rs, knee, gmin = (devices[0], devices[4], devices[5], devices[7], devices[8],
                                        devices[9])
    most = everywhere(0.0)
    for j in range(junctions):
        i = j * LANES + k
        at, leak, ohms = get(vd, i), get(gmin, i), get(rs, i)
        alone, slope = junction(at, get(inverse, i), get(is_, i), get(knee, i))
        put(devices[18], i, alone)
        flow, g = alone + leak * at, slope + leak
        wide = get(row(v, ends[0][j]), k) - get(row(v, ends[1][j]), k)
        most = at_least(most, size_of((wide - at - ohms * flow) * g / (1.0 + g * ohms)))
        _between(net, ends[0][j], ends[1][j], k, flow)
    return most


@lane_function
def _channel_flows(v: Any, net: Any, charging: Any, devices: Any, sizes: Any, signs: Any, ends: Any) -> None:
    """Currents of channels, of their gates and of capacitances, to the nodes."""
    vto, kp, charge, gc, ec = devices[11], devices[12], devices[13], devices[14], devices[15]
    drain, gate, origin, xa, xb = ends[4], ends[5], ends[6], ends[7], ends[8]
    for c in range(sizes[2]):
        sign = float(signs[c])
        for k in range(0, LANES, WIDTH):
            low, strength = get(row(v, origin[c]), k), get(row(kp, c), k)
            up, over = get(row(v, gate[c]), k) - low, get(row(v, drain[c]), k) - low
            current, _, _ = channel(up * sign, over * sign, get(row(vto, c), k), strength)
            _between(net, drain[c], origin[c], k, current * sign + channel_leak(strength) * over)
            _between(net, gate[c], origin[c], k, (up - get(row(charge, c), k)) * GATE_LEAK)
    for x in range(sizes[3]):
        for k in range(0, LANES, WIDTH):
            wide = get(row(v, xa[x]), k) - get(row(v, xb[x]), k) - get(row(ec, x), k)
            flow = wide * get(row(gc, x), k)
            put(charging, k, at_least(get(charging, k), size_of(flow)))
            _between(net, xa[x], xb[x], k, flow)
