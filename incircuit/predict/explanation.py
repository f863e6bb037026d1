"""Why a reading is what it is: who can matter, who carries the current, what stays dark."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from incircuit.circuit.network import compile_network
from incircuit.circuit.kirchhoff import branch_currents
from incircuit.circuit.solve import Solution
from incircuit.circuit.values import nominal_values
from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter
from incircuit.parts.elements import Capacitance
from incircuit.paths.blocks import meters_block, parts_of
from incircuit.paths.shares import LEAST_CURRENT, Path, current_paths, part_shares
from incircuit.predict.blindness import Sight, sight
from incircuit.predict.measure import Ask, Bench, measure, quiet
from incircuit.predict.prediction import display
from incircuit.predict.question import Question

CONDUCTS = 0.02
"""A junction conducts when it carries at least this share of the meter's current."""


@dataclass(frozen=True, slots=True)
class JunctionPoint:
    """A junction at the operating point: forward voltage [V] and current [A] of the element."""

    part: str
    element: str
    anode: str
    cathode: str
    volts: float
    amps: float
    conducts: bool


@dataclass(frozen=True, slots=True)
class Explanation:
    """Everything `explain` shows for one reading.

    `amps` and `volts` are what the meter drives into the red pad and finds between the pads, seen in
    the direction of its current. `moving` are capacitors that make the display move before it settles.
    """

    mode: str
    red: str
    black: str
    shown: Shown
    amps: float
    volts: float
    can_matter: tuple[str, ...]
    cannot_matter: tuple[str, ...]
    paths: tuple[Path, ...]
    path_nodes: tuple[tuple[str, ...], ...]
    shares: tuple[tuple[str, float], ...]
    junctions: tuple[JunctionPoint, ...]
    sights: tuple[Sight, ...]
    moving: tuple[str, ...]


def operating_point(question: Question, meter: Meter, ask: Ask, engine: str = "own") -> tuple[Bench, Solution]:
    """The nominal board under one reading, and the solution on the range the meter uses, one column."""
    network = compile_network(question.block, question.red_node, question.black_node)
    celsius = question.circuit.state.celsius
    values = nominal_values(network, celsius)
    bench = measure(network, values, meter, [ask], quiet(1), celsius if engine == "ngspice" else None)
    column = bench.column(ask)
    whole = bench.solution
    one = Solution(network, values, whole.v[:, [column]], whole.vd[:, [column]], whole.current[[column]],
                   whole.residual[[column]], whole.tolerance[[column]], whole.iterations,
                   whole.steps[[column]])
    return bench, one


def explain(question: Question, meter: Meter, ask: Ask, engine: str = "own") -> Explanation:
    """Explain one reading on the board as described."""
    bench, solution = operating_point(question, meter, ask, engine)
    can = parts_of(question.block)
    every = [p.ref for p in question.circuit.board.parts]
    paths = current_paths(solution)
    names = solution.network.node_names()
    lane = bench.lanes[bench.column(ask)]
    red, black = (question.black, question.red) if ask.swapped else (question.red, question.black)
    asked = _around(question, can)
    return Explanation(
        mode=ask.mode, red=red, black=black, shown=display(meter, ask.mode, bench.shows[ask], 0),
        amps=float(solution.current[0]) * lane.sign, volts=float(solution.pad_voltage[0]) * lane.sign,
        can_matter=tuple(r for r in every if r in can),
        cannot_matter=tuple(r for r in every if r not in can),
        paths=paths,
        path_nodes=tuple(tuple(_label(names[n]) for n in path.nodes) for path in paths),
        shares=part_shares(paths),
        junctions=junction_points(question, solution),
        sights=sight(question, meter, ask, asked),
        moving=moving_parts(question),
    )


def _around(question: Question, can: tuple[str, ...]) -> tuple[str, ...]:
    """Parts to ask about: those between the pads, then all that can matter."""
    first = (question.part.ref,) if question.part else ()
    return tuple(dict.fromkeys([*first, *question.others, *can]))


def _label(names: tuple[str, ...]) -> str:
    """The net's name for people: a net before an inner node."""
    nets = [n for n in names if " " not in n]
    return nets[0] if nets else (names[0] if names else "?")


def junction_points(question: Question, solution: Solution) -> tuple[JunctionPoint, ...]:
    """Every junction that can matter, with the voltage across it and whether it conducts."""
    network = solution.network
    currents = branch_currents(network, solution.values, solution.v, solution.vd)
    drive = abs(float(solution.current[0]))
    names = solution.network.node_names()
    found = []
    for k, junction in enumerate(network.junctions):
        volts = float((solution.v[network.ends.ja[k]] - solution.v[network.ends.jk[k]])[0])
        amps = float(currents.junctions[k, 0])
        conducts = drive > LEAST_CURRENT and abs(amps) >= CONDUCTS * drive
        found.append(JunctionPoint(junction.part, junction.name, _label(names[network.ends.ja[k]]),
                                   _label(names[network.ends.jk[k]]), volts, amps, conducts))
    return tuple(found)


def moving_parts(question: Question) -> tuple[str, ...]:
    """Capacitors in the meter's block: their charging moves the display before it settles."""
    block = meters_block(question.circuit.elements, question.red_node, question.black_node, moving=True)
    return parts_of(e for e in block if isinstance(e, Capacitance))


def worst_residual(bench: Bench) -> float:
    """The largest Kirchhoff residual behind a bench [A], the proof that came with the answer."""
    return float(np.max(bench.solution.residual))
