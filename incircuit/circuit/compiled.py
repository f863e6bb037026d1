"""Where the compiled kernel serves: very large batches, where numba is installed (the extra ``fast``).

Its answers are those of `incircuit.circuit.newton` to the last few digits, and go through the same proof.
Loading takes half a second, compiling some twenty, once: a command does not pay for that, a process that
stays does, and asks for it with INCIRCUIT_COMPILED=1. What serves depends on the input alone.
"""

from __future__ import annotations

import importlib.util
import os
from functools import cache

import numpy as np

from incircuit.circuit.elimination import Floats, Ints, Plan
from incircuit.circuit.layout import Stamp
from incircuit.circuit.network import Network
from incircuit.circuit.source import Branches
from incircuit.circuit.values import Values, channel_sign

LARGE = 10_000_000
"""Scenarios times ports from which the kernel serves by itself."""


@cache
def installed() -> bool:
    """Whether numba is here."""
    return importlib.util.find_spec("numba") is not None


def wanted(network: Network, scenarios: int) -> bool:
    """Whether the compiled kernel should search; INCIRCUIT_COMPILED=1 says always, 0 never."""
    wish = os.environ.get("INCIRCUIT_COMPILED", "")
    if wish == "0" or not installed():
        return False
    return wish == "1" or scenarios * len(network.layout.ports) >= LARGE


Arrays = tuple[Floats, ...]


def search_compiled(network: Network, values: Values, source: Branches, base: Floats, start: Arrays,
                    most: int, tolerances: tuple[float, float, float]) -> tuple[Arrays, Floats, Floats, int]:
    """The search of `incircuit.circuit.newton`: the guess's arrays, limited, done, the most steps taken."""
    from incircuit.circuit.kernel import newton

    helper, count = network.layout.tables, len(source.sign)
    layout, ports = network.layout, len(network.layout.ports)
    sizes = ports, len(network.junctions), len(network.channels), len(network.channels)
    found = (*(np.zeros((rows, count)) for rows in sizes),
             np.zeros(count, dtype=bool), np.zeros(count, dtype=bool))
    devices = (values.is_, values.nvt, values.rs, values.knee, values.gmin, values.gain,
               values.vto, values.kp, values.charge, values.gc, values.ec)
    ends = (helper.anode, helper.cathode, helper.drain, helper.gate, helper.origin, network.ends.cj,
            channel_sign(network).ravel())
    red = int(helper.local[network.red])
    stamps = (_stamp(layout.port_stamp, helper.conductance.shape[1]),
              (helper.injection.rows, helper.injection.columns, helper.injection.signs,
               helper.injection.shape[1]))
    taken = newton(count, most, *tolerances, np.ascontiguousarray(base),
                   tuple(np.ascontiguousarray(a) for a in devices),
                   tuple(np.ascontiguousarray(a) for a in (source.knee, source.behind, source.g, source.free,
                                                           source.sign)),
                   tuple(np.ascontiguousarray(a) for a in start),
                   (red, ports, sizes[1], sizes[2]), ends, stamps, _plan(layout.port), found)
    return found[:4], found[4], found[5], int(taken)


def _stamp(stamp: Stamp, stack: int) -> tuple[Ints, Ints, Floats, int]:
    return stamp.slot, stamp.source, stamp.sign.astype(np.float64), stack


def _plan(plan: Plan) -> tuple[Ints | int, ...]:
    """The plan as index arrays, in the order the kernel unpacks them."""
    steps = plan.steps

    def joined(parts: list[Ints]) -> Ints:
        return np.concatenate([np.zeros(0, dtype=np.intp), *parts]).astype(np.intp)

    def starts(sizes: list[int]) -> Ints:
        return np.concatenate([[0], np.cumsum(np.array(sizes, dtype=np.intp))]).astype(np.intp)

    wakes = [wake for step in steps for wake in step.wakes]
    first = plan.diagonal_of[0] if plan.diagonal_of else 0
    return (
        np.array([s.node for s in steps], dtype=np.intp), np.array([s.active for s in steps], dtype=bool),
        np.array([s.row.start for s in steps], dtype=np.intp),
        np.array([s.column.start for s in steps], dtype=np.intp),
        starts([len(s.later) for s in steps]), joined([s.later for s in steps]),
        plan.excesses.start, first,
        starts([len(s.target) for s in steps]), joined([s.target for s in steps]),
        joined([s.target_i for s in steps]), joined([s.target_j for s in steps]),
        starts([len(s.wakes) for s in steps]),
        np.array([wake.diagonal - first for wake in wakes], dtype=np.intp),
        starts([len(wake.row) for wake in wakes]), joined([wake.row for wake in wakes]),
        starts([len(s.live) for s in steps]), joined([s.live for s in steps]),
    )
