"""Why a reading is what it is: who can matter, who carries the current, what stays dark."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.circuit.kirchhoff import branch_currents
from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import Solution
from incircuit.circuit.values import nominal_values
from incircuit.meter.display import Shown
from incircuit.meter.profile import Meter
from incircuit.paths.shares import LEAST_CURRENT, Path, current_paths, part_shares
from incircuit.predict.blindness import Sight, sight
from incircuit.predict.measure import Ask, Bench, direction, measure, quiet
from incircuit.predict.prediction import Prediction, display, predict
from incircuit.predict.question import Question
from incircuit.predict.reach import can_matter, moving_parts

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

    The meter drives `amps` [A] into the pad `source`, takes them back at `sink` and finds `volts`
    [V] between the two. `red` and `black` are where the leads go; `red_is_minus` where this meter's
    red lead is the negative one. `path_nodes` names the nodes of each path. `shares` are the parts
    with their share of the meter's current. `moving` are capacitors that make the display move
    before it settles. `prediction` is the healthy board's band and the part alone.
    """

    mode: str
    red: str
    black: str
    shown: Shown
    source: str
    sink: str
    red_is_minus: bool
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
    prediction: Prediction


def operating_point(question: Question, meter: Meter, ask: Ask,
                    engine: str = "own") -> tuple[Bench, Solution]:
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
    """Explain one reading on the board as described.

    Raises MeterError for a mode the meter lacks, SolveError or EngineError where nothing could be
    proven.
    """
    (prediction,) = predict(question, meter, [ask.mode], [ask.swapped], engine)
    bench, solution = operating_point(question, meter, ask, engine)
    can = can_matter(question)
    paths = current_paths(solution)
    shares = part_shares(paths)
    forward = float(solution.current[0]) >= 0.0
    pads = (question.red, question.black)
    removed = question.circuit.state.removed
    return Explanation(
        mode=ask.mode, red=prediction.red, black=prediction.black,
        shown=display(meter, ask.mode, bench.shows[ask], 0),
        source=pads[0 if forward else 1], sink=pads[1 if forward else 0],
        red_is_minus=direction(meter, Ask(ask.mode)) < 0,
        amps=abs(float(solution.current[0])),
        volts=float(solution.pad_voltage[0]) * (1.0 if forward else -1.0),
        can_matter=can,
        cannot_matter=tuple(p.ref for p in question.circuit.board.parts
                            if p.ref not in can and p.ref not in removed),
        paths=paths,
        path_nodes=tuple(tuple(_label(question, solution, n) for n in path.nodes) for path in paths),
        shares=shares,
        junctions=junction_points(question, solution),
        sights=sight(question, meter, ask, _asked(question, shares, can), prediction),
        moving=moving_parts(question),
        prediction=prediction,
    )


def _asked(question: Question, shares: tuple[tuple[str, float], ...],
           can: tuple[str, ...]) -> tuple[str, ...]:
    """Parts to ask about: those between the pads, those that carry the current, then all others in reach."""
    first = (question.part.ref,) if question.part else ()
    return tuple(dict.fromkeys([*first, *question.others, *(part for part, _ in shares), *can]))


def _label(question: Question, solution: Solution, number: int) -> str:
    """The node's name for people: a pad as typed, a net, a lifted pin ``D3.K``, an inner node last."""
    names = solution.network.node_names()[number]
    for pad, node in ((question.red, question.red_node), (question.black, question.black_node)):
        if node in names:
            return pad
    nets = [n for n in names if " " not in n]
    if nets:
        return nets[0]
    lifted = [f"{ref}.{pin}" for ref, pin in sorted(question.circuit.state.lifted) if f"{ref} {pin}" in names]
    return (lifted or [*names, "?"])[0]


def junction_points(question: Question, solution: Solution) -> tuple[JunctionPoint, ...]:
    """Every junction that can matter, with the voltage across it and whether it conducts."""
    network = solution.network
    currents = branch_currents(network, solution.values, solution.v, solution.vd)
    drive = abs(float(solution.current[0]))
    found = []
    for k, junction in enumerate(network.junctions):
        volts = float((solution.v[network.ends.ja[k]] - solution.v[network.ends.jk[k]])[0])
        amps = float(currents.junctions[k, 0])
        conducts = drive > LEAST_CURRENT and abs(amps) >= CONDUCTS * drive
        anode, cathode = (_label(question, solution, int(at[k])) for at in (network.ends.ja, network.ends.jk))
        found.append(JunctionPoint(junction.part, junction.name, anode, cathode, volts, amps, conducts))
    return tuple(found)
