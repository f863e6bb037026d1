"""Operating points with their proof: the call everything else uses.

`solve` returns voltages whose Kirchhoff residual has been checked on the full network with the
devices' own laws, or raises `SolveError`; it never returns an unproven number.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from incircuit.circuit.compiled import Solved, solve_compiled, wanted
from incircuit.circuit.descent import descend
from incircuit.circuit.elimination import Floats, Ints, backward
from incircuit.circuit.kirchhoff import proof
from incircuit.circuit.network import Network
from incircuit.circuit.newton import (
    CALM,
    ROUNDING,
    STEP_TOLERANCE,
    STEPS,
    STILL_CURRENT,
    TYPICAL_CURRENT,
    Before,
    Guess,
    Outcome,
    Ports,
    cold_guess,
    reduce_linear,
    search,
    settle,
    with_gmin,
)
from incircuit.circuit.refine import correct
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values, channel_sign
from incircuit.errors import SolveError

ABSOLUTE_TOLERANCE = 1e-12  # [A]
RELATIVE_TOLERANCE = 1e-9  # of the test current
LAST_BITS = 4.0
"""A voltage behind a resistance gives a current known to so many units in the last place of that voltage: at
two kilovolts and 0.2 ohm that is more than `ABSOLUTE_TOLERANCE`."""
_REFINEMENTS = 5
_CHUNK_NUMBERS = 300_000  # numbers in the working set of one chunk; the same on every machine


@dataclass(frozen=True, slots=True)
class Solution:
    """Proven operating points of one network, one column per scenario.

    `v` [V] (size + 1, scenarios), the last row the black pad, 0; `vd` [V] inner junction voltages;
    `current` [A] out of the red lead; `residual` and `tolerance` [A] the largest Kirchhoff residual
    and what was allowed; `steps` which rescue was needed (0 none, 1 a cold
    start with patience, 2 gmin stepping, 3 settling, 4 settling in leaps, 5 descent,
    6 source stepping, 7 settling with patience).
    """

    network: Network
    values: Values
    v: Floats
    vd: Floats
    current: Floats
    residual: Floats
    tolerance: Floats
    iterations: int
    steps: Ints

    @property
    def pad_voltage(self) -> Floats:
        """Red minus black [V], (scenarios,)."""
        return np.asarray(self.v[self.network.red])

    def voltage(self, node: str) -> Floats:
        """Voltage of a named node against the black pad [V]. Raises KeyError."""
        return np.asarray(self.v[self.network.index[node]])


def solve(network: Network, values: Values, drive: Drive, start: Guess | None = None,
          ports: Ports | None = None, before: Before | None = None) -> Solution:
    """Operating points for all scenarios of `drive`.

    Columns of `values` are either one for all or one per scenario of `drive`. `start` is an earlier
    guess (one column or one per scenario, or those that `before` says), `ports` what `reduce_linear` gave
    for one column of resistances. Raises SolveError where no point could be proven.
    """
    count = len(drive.sign)
    if network.shorted:
        return _no_network(network, values, drive)
    shared = ports or (reduce_linear(network, values.g) if values.g.shape[1] == 1 else None)
    _reuse_memory()
    width = max(64, _CHUNK_NUMBERS // max(1, network.layout.port.slots + network.layout.linear.slots))
    chunks = [slice(i, min(i + width, count)) for i in range(0, count, width)]

    if wanted(network, count):
        return _compiled(network, values, drive, start or cold_guess(network, values), before)

    def piece(columns: slice) -> Solution:
        some, own = values.take(columns), start
        if start is not None:
            own = before.carry(start, some, columns) if before else start.take(columns)
        # what runs off to infinity on the way is caught by the proof
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            return _solve_chunk(network, some, drive.take(columns), shared, own)

    pieces = [piece(columns) for columns in chunks]
    if len(pieces) == 1:
        return pieces[0]
    return Solution(
        network, values,
        v=np.concatenate([p.v for p in pieces], axis=1),
        vd=np.concatenate([p.vd for p in pieces], axis=1),
        current=np.concatenate([p.current for p in pieces]),
        residual=np.concatenate([p.residual for p in pieces]),
        tolerance=np.concatenate([p.tolerance for p in pieces]),
        iterations=max(p.iterations for p in pieces),
        steps=np.concatenate([p.steps for p in pieces]),
    )


@cache
def _reuse_memory() -> None:
    """Once: the C library of Linux gives every large array back to the system and takes it anew, which costs
    more than the arithmetic on it; one freed array of 24 MB raises what it takes for large."""
    np.empty(3_000_000)


def _no_network(network: Network, values: Values, drive: Drive) -> Solution:
    """Both pads on one node: the source drives its own leads; everything else rests."""
    count = len(drive.sign)
    current, _ = drive.law(np.zeros(count))
    zeros = np.zeros(count)
    return Solution(network, values, np.zeros((network.size + 1, count)),
                    np.zeros((len(network.junctions), count)), current, zeros,
                    np.full(count, ABSOLUTE_TOLERANCE), 0, np.zeros(count, dtype=np.intp))


def _solve_chunk(network: Network, values: Values, drive: Drive, shared: Ports | None,
                 start: Guess | None) -> Solution:
    ports = shared or reduce_linear(network, values.g)
    solution = _certify(network, values, drive, ports,
                        search(network, values, drive, ports, start or cold_guess(network, values)))
    return _rescued(network, values, drive, ports, solution)


def _compiled(network: Network, values: Values, drive: Drive, start: Guess,
              before: Before | None) -> Solution:
    """All scenarios by the compiled kernel; those it could not prove as they would be without it."""
    found = _by_kernel(network, values, drive, start, STEPS, before)
    solution = _solution(network, values, drive, found)
    bad = np.flatnonzero(_unproven(solution))
    if len(bad):
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            some, sub = values.take(bad), drive.take(bad)
            ports = reduce_linear(network, some.g)
            outcome = Outcome(guess_of(solution).take(bad), found.limited[bad] > 0.0, found.done[bad] > 0.0,
                              0)
            certain = _certify(network, some, sub, ports, outcome)
            _put(solution, bad, _rescued(network, some, sub, ports, certain))
    return solution


def _by_kernel(network: Network, values: Values, drive: Drive, start: Guess, most: int,
               before: Before | None = None) -> Solved:
    return solve_compiled(network, values, drive, start, before, most,
                          (STEP_TOLERANCE, STILL_CURRENT, TYPICAL_CURRENT, ROUNDING))


def _solution(network: Network, values: Values, drive: Drive, found: Solved) -> Solution:
    tolerance = _allowed(drive, np.abs(found.current) + found.charging)
    return Solution(network, values, found.v, found.vd, found.current, found.residual, tolerance,
                    found.iterations, np.zeros(len(found.current), dtype=np.intp))


def _put(solution: Solution, columns: Ints, part: Solution) -> None:
    for whole, some in ((solution.v, part.v), (solution.vd, part.vd)):
        whole[:, columns] = some
    for one, few in ((solution.current, part.current), (solution.residual, part.residual),
                     (solution.tolerance, part.tolerance), (solution.steps, part.steps)):
        one[columns] = few


def _rescued(network: Network, values: Values, drive: Drive, ports: Ports, solution: Solution) -> Solution:
    """The solution, with what is not proven in it solved by one rescue after the other, in place."""
    bad = np.flatnonzero(_unproven(solution))
    for number, rescue in enumerate(_RESCUES, start=1):
        if not len(bad):
            return solution
        some, sub_values, sub_drive = ports.take(bad), values.take(bad), drive.take(bad)
        proven = _certify(network, sub_values, sub_drive, some, rescue(network, sub_values, sub_drive, some))
        proven.steps[:] = number
        _put(solution, bad, proven)
        bad = bad[_unproven(proven)]
    if not len(bad):
        return solution
    raise _failure(network, values, solution, bad)


def _failure(network: Network, values: Values, solution: Solution, bad: Ints) -> SolveError:
    """The error for the scenario with the largest residual: how much, allowed how much, at which node."""
    worst = int(bad[np.argmax(np.nan_to_num(solution.residual[bad], nan=np.inf))])
    one = slice(worst, worst + 1)
    net = proof(network, values.take(one), solution.v[:, one], solution.vd[:, one],
                solution.current[one]).closed(network)
    names = network.node_names()[int(np.argmax(np.nan_to_num(np.abs(net[:, 0]), nan=np.inf)))]
    node = next((n for n in names if " " not in n), names[0] if names else "?")
    residual, tolerance = float(solution.residual[worst]), float(solution.tolerance[worst])
    return SolveError(
        f"no operating point could be proven: at node {node} currents of {residual:.3g} A do not add up, "
        f"allowed are {tolerance:.3g} A (step {int(solution.steps[worst])} of {len(_RESCUES)})",
        residual, tolerance, node,
    )


def _unproven(solution: Solution) -> Floats:
    # `not (a <= b)` also catches NaN
    return np.asarray(~(solution.residual <= solution.tolerance))


def _found(network: Network, values: Values, drive: Drive, ports: Ports, start: Guess, most: int) -> Outcome:
    """`newton.search`, or the compiled kernel's where it is asked for."""
    if not wanted(network, len(drive.sign)):
        return search(network, values, drive, ports, start, most)
    found = _by_kernel(network, values, drive, start, most)
    guess = guess_of(_solution(network, values, drive, found))
    return Outcome(guess, found.limited > 0.0, found.done > 0.0, found.iterations)


def _by_gmin(network: Network, values: Values, drive: Drive, ports: Ports) -> Outcome:
    """Approach from a network whose junctions all leak, and take the leak away decade by decade."""
    guess = cold_guess(network, values)
    for exponent in np.arange(-2.0, -12.0, -0.5):
        guess = _found(network, with_gmin(values, 10.0**exponent), drive, ports, guess, most=60).guess
        guess = _finite(guess)
    return _found(network, values, drive, ports, guess, most=300)


def _by_source(network: Network, values: Values, drive: Drive, ports: Ports) -> Outcome:
    """Approach from a weak source and raise it step by step."""
    guess = _finite(cold_guess(network, values))
    guess = replace(guess, vd=np.zeros_like(guess.vd))
    for part in np.geomspace(1e-3, 1.0, 31)[:-1]:
        weak = Drive(drive.current * part, drive.open_circuit * part, drive.resistance, drive.sign)
        guess = _finite(_found(network, values, weak, ports, guess, most=60).guess)
    return _found(network, values, drive, ports, guess, most=300)


def _finite(guess: Guess) -> Guess:
    return Guess(*(np.clip(np.nan_to_num(a), -1e3, 1e3) for a in guess.arrays()))


def _by_settling(network: Network, values: Values, drive: Drive, ports: Ports,
                 calm: float = CALM, most: int = 400) -> Outcome:
    """Let the network settle from rest, as it would on the bench."""
    rest = _finite(cold_guess(network, values))
    rest = replace(rest, vd=np.zeros_like(rest.vd))
    settled = settle(network, values, drive, ports, rest, most, calm)
    return _found(network, values, drive, ports, settled, most=300)


def _by_leaps(network: Network, values: Values, drive: Drive, ports: Ports) -> Outcome:
    """The same in strides so long that the network leaps over a fold instead of creeping along it."""
    return _by_settling(network, values, drive, ports, 5.0 * CALM)


def _from_cold(network: Network, values: Values, drive: Drive, ports: Ports) -> Outcome:
    """Patience, and no guess from elsewhere."""
    return _found(network, values, drive, ports, cold_guess(network, values), most=300)


def _by_descent(network: Network, values: Values, drive: Drive, ports: Ports) -> Outcome:
    """Down the residual, transistors and channels first weak, then stronger step by step."""
    guess = replace(_finite(cold_guess(network, values)), v=np.zeros((len(network.layout.ports), 1)))
    for strength in (0.0, 1e-8, 1e-6, 1e-5, 1e-4, 1e-3, 1e-2, 0.1, 0.3, 1.0):
        weak = replace(values, kp=values.kp * strength, gain=values.gain * strength)
        guess = descend(network, weak, drive, ports, guess)
    return _found(network, values, drive, ports, guess, most=3)


def _by_patience(network: Network, values: Values, drive: Drive, ports: Ports) -> Outcome:
    """The same for as long as it takes: two seconds for the one network in half a million that needs it."""
    return _by_settling(network, values, drive, ports, 2.5 * CALM, 6000)


_RESCUES = (_from_cold, _by_gmin, _by_settling, _by_leaps, _by_descent, _by_source, _by_patience)


def _certify(network: Network, values: Values, drive: Drive, ports: Ports, outcome: Outcome) -> Solution:
    """Full voltages and their Kirchhoff residual by the devices' own laws, refined where it is too large."""
    count = len(drive.sign)
    v = np.zeros((network.size + 1, count))
    v[network.layout.ports] = outcome.guess.v
    backward(network.layout.linear, ports.linear, ports.inverse, np.zeros((network.size, 1)), v)
    vd, limited, low = outcome.guess.vd, outcome.limited, None
    for _ in range(_REFINEMENTS):
        at_red = v[network.red] if low is None else v[network.red] + low[network.red]
        current, _ = drive.law(at_red, limited)
        found = proof(network, values, v, vd, current, low, ports.pairs)
        carried = np.abs(current) + _charging(network, values, v)
        tolerance = _allowed(drive, carried)
        bad = np.flatnonzero(~(found.residual <= tolerance))
        if not len(bad):
            break
        low = np.zeros_like(v) if low is None else low
        some = (values.take(bad), drive.take(bad), ports.take(bad))
        low[:, bad], vd[:, bad] = correct(network, *some, v[:, bad], vd[:, bad], limited[bad],
                                          found.closed(network)[:, bad], low[:, bad])
    return Solution(network, values, v if low is None else v + low, vd, current, found.residual, tolerance,
                    outcome.iterations, np.zeros(count, dtype=np.intp))


def _allowed(drive: Drive, carried: Floats) -> Floats:
    """The largest residual [A] of scenarios that carry these currents [A]."""
    bits = np.where(np.isinf(drive.current), LAST_BITS * np.spacing(np.abs(drive.open_circuit)), 0.0)
    return np.maximum(ABSOLUTE_TOLERANCE + RELATIVE_TOLERANCE * carried, bits / drive.resistance)


def _charging(network: Network, values: Values, v: Floats) -> Floats | float:
    """Largest current [A] of a capacitance that carries one."""
    ends = network.ends
    if not len(ends.xa):
        return 0.0
    return np.asarray(np.abs(values.gc * (v[ends.xa] - v[ends.xb] - values.ec)).max(axis=0))


def guess_of(solution: Solution) -> Guess:
    """The solution as a start for a search on the same network."""
    network, v = solution.network, solution.v
    sign = channel_sign(network)
    return Guess(v[network.layout.ports], solution.vd, sign * (v[network.ends.mg] - v[network.ends.ms]),
                 sign * (v[network.ends.md] - v[network.ends.ms]))
