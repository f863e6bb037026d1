"""Voltages on a powered board: a supply on two pads, a meter of some megohms on two others.

At rest, with chips as they are without their supply: what dividers, rails and pulldowns show when a safe
voltage is put in, not what the board does when it works.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.build import Circuit
from incircuit.circuit.elimination import Floats
from incircuit.circuit.network import Network
from incircuit.circuit.newton import Before
from incircuit.circuit.sampling import uniforms
from incircuit.circuit.solve import Solution, guess_of, solve
from incircuit.circuit.source import Drive
from incircuit.circuit.values import Values
from incircuit.errors import MeterError, StateError
from incircuit.meter.profile import Meter, VoltsMode
from incircuit.parts.elements import Capacitance, Change, Coupling, Element, Resistance
from incircuit.paths.blocks import branches
from incircuit.predict.variants import NO_CHANGE, compile_variants, values_of

INNER = 0.2
"""Resistance of a supply and its leads [ohm]; from memory."""
TIE, LOOSE = 1e8, 1e11
"""From the supply's minus to every isolated piece of the board, and to what a fault cuts off [ohm]: good
insulation has a hundred megohms and more (from memory)."""
MAINS_TOLERANCE = 0.10
"""Mains voltage stays within this part of its nominal value (EN 50160, from memory)."""


@dataclass(frozen=True, slots=True)
class Supply:
    """A direct voltage [V] from `minus` to `plus`, with a current limit [A] (infinite for none).

    `spread` is a part of the voltage it may differ by, half width.
    """

    plus: str
    minus: str
    volts: float
    limit: float = math.inf
    spread: float = 0.0


def volts_mode(meter: Meter) -> VoltsMode:
    """The mode. Raises MeterError where the meter lacks it."""
    if meter.volts is None:
        raise MeterError(f"meter {meter.name} has no volts mode; it has: {', '.join(meter.all_modes)}")
    return meter.volts


def supplies_of(circuit: Circuit, limit: float = math.inf) -> tuple[Supply, ...]:
    """The supplies that stand in the board's state. Raises StateError where there is none."""
    if not circuit.state.power:
        raise StateError("volts: the board has no supply: say where and how much, such as power BUS RTN 30")
    return tuple(Supply(plus, minus, volts, limit) for plus, minus, volts in circuit.state.power)


def peak(rms: float, spread: float = MAINS_TOLERANCE) -> tuple[float, float]:
    """Peak [V] of a sine of that effective value, and its spread: √2 times."""
    return math.sqrt(2.0) * rms, spread


def voltages(circuit: Circuit, changes: Sequence[Change], supplies: Sequence[Supply],
             pairs: Sequence[tuple[str, str]], load: float, boards: int) -> Floats:
    """Voltages [V] red against black of each pair of nodes, (pairs, 1 + changes, boards + 1).

    The meter's `load` [ohm] lies across the pair it reads; infinite for none. The first supply has the
    current limit. Raises SolveError where nothing could be proven.
    """
    rounds: list[Sequence[int]] = [range(len(pairs))]
    if math.isfinite(load):
        # a meter that joins two pieces of the board is a case of its own
        held = _held(circuit, supplies)
        rounds = [[k for k, pair in enumerate(pairs) if held.issuperset(pair)],
                  *([k] for k, pair in enumerate(pairs) if not held.issuperset(pair))]
    found = np.empty((len(pairs), len(changes) + 1, boards + 1))
    for some in rounds:
        if len(some):
            found[some] = _round(circuit, changes, supplies, [pairs[k] for k in some], load, boards)
    return found


def _held(circuit: Circuit, supplies: Sequence[Supply]) -> set[str]:
    """The nodes that something conducting joins to the minus of the first supply."""
    ground = supplies[0].minus
    fed = [*direct(circuit.elements), *behind(supplies)]
    return joined(fed, ground)


def joined(elements: Sequence[Element], node: str) -> set[str]:
    """The nodes that something conducting among these joins to one."""
    return next(piece for piece in _pieces(elements, node) if node in piece)


def direct(elements: Sequence[Element]) -> tuple[Element, ...]:
    """What carries direct current."""
    return tuple(e for e in elements if not isinstance(e, Capacitance))


def behind(supplies: Sequence[Supply], first: int = 1) -> list[Element]:
    """Supplies from number `first` on: for the solver, capacitances with a voltage behind a resistance."""
    return [Capacitance(f"supply {k}", "", s.plus, s.minus, 1.0, INNER, s.volts)
            for k, s in enumerate(supplies) if k >= first]


def _round(circuit: Circuit, changes: Sequence[Change], supplies: Sequence[Supply],
           pairs: Sequence[tuple[str, str]], load: float, boards: int) -> Floats:
    """The same, all pairs in one solution: a meter on each of them in turn, where it is a load."""
    cut = [NO_CHANGE, *(Change(c.remove, direct(c.add)) for c in changes)]
    probes = [Resistance(f"the meter on {a}, {b}", "", a, b, load) for a, b in pairs if a != b]
    fixed: list[Element] = [*direct(circuit.elements), *behind(supplies)]
    turns = cut
    if math.isfinite(load):
        if len(pairs) == 1:
            fixed += probes
        else:
            turns = [Change(c.remove, (*c.add, *(p for p in probes if (p.a, p.b) == pair)))
                     for pair in pairs for c in cut]
    fixed += ties(fixed, cut, supplies[0].minus)
    variants = compile_variants(fixed, turns, supplies[0].plus, supplies[0].minus, moving=True)
    values = values_of(variants, boards, circuit.state.celsius)
    found = _solved(variants.network, values, supplies, pairs, len(turns), boards)
    if len(turns) == len(cut):
        return found
    mine = np.arange(len(pairs))
    return np.asarray(found.reshape(len(pairs), len(pairs), len(cut), -1)[mine, mine])


def ties(elements: Sequence[Element], changes: Sequence[Change], ground: str) -> list[Element]:
    """A resistance from `ground` to every piece of the board that nothing conducting joins to it.

    One carries no current and changes no voltage within its piece; without it rounding alone would say how
    far an isolated side stands off, kilovolts. What a change cuts off is held far more loosely: on the other
    boards the resistance lies beside what the change takes away.
    """
    gone = {name for change in changes for name in change.remove}
    found: list[Element] = []
    held = {ground}
    for without, ohms in ((frozenset[str](), TIE), (frozenset(gone), LOOSE)):
        for piece in _pieces([e for e in elements if e.name not in without], ground):
            if not held & piece:
                node = min(piece)
                held.add(node)
                found.append(Resistance(f"tie {len(found)}", "", node, ground, ohms))
    return found


def _pieces(elements: Sequence[Element], ground: str) -> list[set[str]]:
    """Nodes that something conducting joins, piece by piece, by name."""
    import networkx as nx

    graph = nx.Graph()
    graph.add_node(ground)
    for e in elements:
        # the current of a coupling goes from source to sink; what steers it may be isolated from that
        graph.add_edges_from([(e.source, e.sink)] if isinstance(e, Coupling) else branches(e))
    return sorted(nx.connected_components(graph), key=min)


def _solved(network: Network, values: Values, supplies: Sequence[Supply], pairs: Sequence[tuple[str, str]],
            conditions: int, boards: int) -> Floats:
    count, first = conditions * (boards + 1), supplies[0]
    if network.shorted:
        raise StateError(f"power: {first.plus} and {first.minus} are one node: the supply would be shorted")
    one = np.ones(count)
    off = np.tile(uniforms("supply", boards), conditions)  # all that mains feeds is off as it is
    factor = 1.0 + first.spread * off
    spread = {e.name: s.spread for e, s in zip(behind(supplies, 0), supplies, strict=True)}
    held = np.array([e.volts * (1.0 + spread[e.name] * off) for e in network.companions])
    values = replace(values, gc=np.full((len(network.companions), 1), 1.0 / INNER),
                     ec=held.reshape(-1, count))
    sign = math.copysign(1.0, first.volts)
    drive = Drive(first.limit * one, abs(first.volts) * factor, INNER * one, sign * one)
    v = _from_nominal(network, values, drive, boards).v
    at = network.index  # a pad that nothing conducting touches stays at the minus of the supply
    across = [v[at.get(a, network.size)] - v[at.get(b, network.size)] for a, b in pairs]
    return np.stack(across).reshape(len(pairs), conditions, boards + 1)


def _from_nominal(network: Network, values: Values, drive: Drive, boards: int) -> Solution:
    """Drawn boards start their search where the nominal one of their condition rests."""
    if not boards:
        return solve(network, values, drive)
    nominal = np.arange(0, len(drive.sign), boards + 1)
    first = values.take(nominal)
    rest = guess_of(solve(network, first, drive.take(nominal)))
    of = np.repeat(np.arange(len(nominal)), boards + 1)
    return solve(network, values, drive, rest, before=Before(first.nvt, first.is_, of))
