"""The second engine: the same elements as a deck for ngspice, solved by its own device models.

The arithmetic is ngspice's throughout: D cards for junctions, M level 1 for channels, F cards for
couplings. Only names are ours: nodes become n1, n2 … (ngspice knows no upper case), black is node
0, numbers are written in full (`M` would be milli). What keeps both engines the same circuit:

* `gmin` lies across every junction, and nothing like it across a channel or in a coupling.
  ngspice puts it into D and M alike and an F card would multiply it, so a G card takes it out
  again there. (A native Q card does the same: its gmin is not multiplied by beta.)
* 1e15 Ω from every node to black, 1e13 Ω from an insulated gate to its source.
* The meter delivers i = min(current, (open_circuit − v)/resistance): first solved as a voltage
  behind its resistance, and if that gives more than `current`, as a current source.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from incircuit.circuit.ngspice import available, run_op, solve_deck
from incircuit.errors import EngineError
from incircuit.parts.elements import Capacitance, Channel, Coupling, Element, Junction, Resistance, nodes_of

__all__ = ["SpicePoint", "SpiceSource", "available", "deck", "operating_point", "run_op"]

NODE_SHUNT = 1e15  # [Ω] from every node to black
GATE_SHUNT = 1e13  # [Ω] from an insulated gate to its source

# Below this, a resistance is a branch with its current as an unknown (H card and sensing V), series
# resistances of junctions too: as a conductance of 1000 S on the diagonal it would swallow gmin and
# the leak of a floating piece of the board, and ngspice would wander. The entries ±1 cancel exactly.
_BRANCH_BELOW = 1.0  # [Ω]

_ONE_NODE = "rnone none 0 1"  # ngspice refuses a deck without any node

_PIVOT = "pivrel=0.9"  # or pivots chosen during gmin stepping ruin the last solve, in silence
_TIGHT = f"reltol=1e-6 abstol=1e-15 vntol=1e-9 itl1=500 itl2=500 {_PIVOT}"
_LOOSE = f"reltol=1e-4 abstol=1e-12 vntol=1e-6 itl1=1000 itl2=1000 {_PIVOT}"
_COARSE = f"reltol=1e-3 abstol=1e-12 vntol=1e-6 itl1=1000 itl2=1000 {_PIVOT}"  # ngspice's own tolerances
# Tolerances in the order tried; True: start from what the last coarse success found. A coarse success
# is only a start, or a witness. Never needed but where a node floats on femtoamperes.
_ATTEMPTS = ((_TIGHT, False), (_COARSE, False), (_TIGHT, True), (_LOOSE, True), (_LOOSE, False))


class SpiceSource(Protocol):
    """What drives the circuit: a meter's source as its terminals see it.

    `current` [A], infinite for a plain voltage behind a resistance; `open_circuit` [V];
    `resistance` [Ω] behind the open-circuit voltage; `lead_resistance` [Ω] outside, both leads
    together; `sign` +1 where red is positive, −1 where current comes out of black.
    """

    @property
    def current(self) -> float:
        """Largest current [A]; may be infinite."""

    @property
    def open_circuit(self) -> float:
        """Voltage with nothing connected [V]."""

    @property
    def resistance(self) -> float:
        """Behind the open-circuit voltage [Ω]."""

    @property
    def lead_resistance(self) -> float:
        """Both leads [Ω]."""

    @property
    def sign(self) -> int:
        """+1 or −1."""



@dataclass(frozen=True, slots=True)
class SpicePoint:
    """An operating point found by ngspice.

    `voltages` [V] of every node against black; `source_current` [A] that the meter delivers out of
    its positive terminal; `terminal_voltage` [V] at the meter's own terminals, positive terminal
    against negative, so lead resistance included; `log` what ngspice said.
    """

    voltages: dict[str, float]
    source_current: float
    terminal_voltage: float
    log: tuple[str, ...]


def operating_point(elements: Sequence[Element], red: str, black: str, source: SpiceSource, *,
                    celsius: float = 25.0, gmin: float = 1e-12) -> SpicePoint:
    """Solve the circuit with the meter at `red` and `black`.

    `elements` hold their values at 25 °C, the board is at `celsius` [°C]; `gmin` [S] lies across
    every junction. Charge on capacitances does not enter a resting point. Raises EngineError when
    ngspice is absent or finds nothing, naming the element where a value is no number.
    """
    names = _node_names(elements, red, black)
    # Not `.options rshunt`: that would load the nodes inside a branch and a junction as well.
    shunts = [f"rs{k} {name} 0 {NODE_SHUNT!r}" for k, name in enumerate(dict.fromkeys(names.values()))]
    cards = deck(elements, names, celsius=celsius, gmin=gmin) + shunts
    behind = source.resistance + source.lead_resistance
    lost: EngineError | None = None
    if behind > 0.0:
        volts = _number(source.sign * source.open_circuit, "meter open_circuit")
        ohms = _number(behind, "meter resistance")
        drive = [f"vmeter meter 0 {volts}", f"rmeter meter {names[red]} {ohms}"]
        try:
            nodes, log = _solve(cards, drive, celsius, gmin)
        except EngineError as error:  # within its limit the current source may still be solvable
            lost = error
        else:
            current = -source.sign * nodes["vmeter#branch"]
            if current <= source.current:
                return _point(names, nodes, current, source, red, log)
    if not math.isfinite(source.current):
        raise lost or EngineError("engine ngspice: a meter without current limit needs a resistance")
    drive = [f"imeter 0 {names[red]} {_number(source.sign * source.current, 'meter current')}"]
    nodes, log = _solve(cards, drive, celsius, gmin)
    point = _point(names, nodes, source.current, source, red, log)
    if lost and point.terminal_voltage > source.open_circuit - source.current * source.resistance:
        raise lost
    return point


def _point(names: Mapping[str, str], nodes: Mapping[str, float], current: float, source: SpiceSource,
           red: str, log: tuple[str, ...]) -> SpicePoint:
    voltages = {node: nodes.get(name, 0.0) for node, name in names.items()}
    terminal = source.sign * voltages[red] + current * source.lead_resistance
    return SpicePoint(voltages, current, terminal, log)


def _solve(cards: Sequence[str], drive: Sequence[str], celsius: float,
           gmin: float) -> tuple[dict[str, float], tuple[str, ...]]:
    log: tuple[str, ...] = ()
    start: dict[str, float] = {}
    rested: dict[str, float] = {}
    for options, warm in _ATTEMPTS:
        if warm and not start:
            continue
        nodeset = [f".nodeset v({n})={v!r}" for n, v in start.items() if "#" not in n] if warm else []
        text = "\n".join(["* incircuit", *cards, *drive, _ONE_NODE, *nodeset,
                          f".options {options} gmin={gmin!r}",
                          f".options temp={celsius!r} tnom=25", ".op", ".end"])
        values, said = solve_deck(text)
        log += said
        if values is None:
            continue
        # The transient rescue of ngspice stops after a while, not when all is at rest: it counts only
        # where Newton's method, with coarse tolerances, ended at the same voltages.
        if any("Transient op" in line for line in said):
            rested = values
        elif options is _COARSE:
            start = values
        else:
            return values, log
        if start and rested and _same(start, rested):
            return rested, log
    raise EngineError("engine ngspice: no operating point found at reltol 1e-4 or better; use the own engine")


def _same(one: Mapping[str, float], other: Mapping[str, float]) -> bool:
    """Whether all node voltages agree to a microvolt."""
    return all(abs(v - other[n]) <= 1e-6 for n, v in one.items() if "#" not in n)


def _node_names(elements: Iterable[Element], red: str, black: str) -> dict[str, str]:
    """Our node → ngspice's; nodes joined by a resistance of 0 share one name, black's is 0."""
    parent: dict[str, str] = {black: black, red: red}

    def root(node: str) -> str:
        while parent.setdefault(node, node) != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for element in elements:
        roots = [root(node) for node in nodes_of(element)]
        if isinstance(element, Resistance) and element.ohms == 0.0:
            parent[roots[1]] = roots[0]
    numbers = {root(black): "0"}
    for node in parent:
        numbers.setdefault(root(node), f"n{len(numbers)}")
    return {node: numbers[root(node)] for node in parent}


def deck(elements: Sequence[Element], names: Mapping[str, str], *, celsius: float = 25.0,
         gmin: float = 1e-12, branch_below: float = _BRANCH_BELOW) -> list[str]:
    """The element cards, without title, source, options and end. `names` maps nodes to ngspice's.

    Resistances under `branch_below` [Ω] are branches: floating pieces keep their leak, but ngspice takes a
    hundred times as long on thousands of parts.
    """
    couplings = [e for e in elements if isinstance(e, Coupling)]
    sensed = {c.junction for c in couplings}
    junctions = {e.name: (index, e) for index, e in enumerate(elements) if isinstance(e, Junction)}
    cards: list[str] = []
    for index, element in enumerate(elements):
        match element:
            case Resistance():
                cards += _resistance(index, element, names, celsius, branch_below)
            case Junction():
                cards += _junction(index, element, names, element.name in sensed, branch_below)
            case Channel():
                cards += _channel(index, element, names, gmin)
            case Coupling():
                if element.junction not in junctions:
                    raise EngineError(f"engine ngspice: {element.name} follows {element.junction}, "
                                      "which is not among the elements")
                cards += _coupling(index, element, names, *junctions[element.junction], gmin)
            case Capacitance():
                pass  # open for direct current
    return cards


def _resistance(index: int, element: Resistance, names: Mapping[str, str], celsius: float,
                below: float) -> list[str]:
    from incircuit.circuit.laws import resistance_at

    a, b = names[element.a], names[element.b]
    if a == b or element.ohms == math.inf:
        return []
    ohms = float(resistance_at(element.ohms, celsius + element.hotter, element.ntc_beta, element.tempco))
    return _branch(index, a, b, ohms, element.name, below)


def _branch(index: int, a: str, b: str, ohms: float, what: str, below: float) -> list[str]:
    text = _number(ohms, what)
    if ohms >= below:
        return [f"r{index} {a} {b} {text}"]
    return [f"h{index} {a} x{index} vr{index} {text}", f"vr{index} x{index} {b} 0"]


def _junction(index: int, element: Junction, names: Mapping[str, str], sensed: bool,
              below: float) -> list[str]:
    anode, cathode = names[element.anode], names[element.cathode]
    if anode == cathode:
        return []
    fields = {"is": element.is_, "n": element.n, "eg": element.eg, "xti": element.xti}
    if element.bv != math.inf:
        fields |= {"bv": element.bv, "ibv": element.ibv}
    model = " ".join(f"{key}={_number(value, element.name)}" for key, value in fields.items())
    cards = [f".model md{index} d {model}"]
    if element.rs:  # outside the D card: the node between is RS's own; gmin stays on the junction
        cards += _branch(index, anode, f"p{index}", element.rs, element.name, below)
        anode = f"p{index}"
    if sensed:
        cards.append(f"vs{index} {anode} s{index} 0")
        anode = f"s{index}"
    return [f"d{index} {anode} {cathode} md{index}{_hotter(element)}", *cards]


def _coupling(index: int, element: Coupling, names: Mapping[str, str], at: int, junction: Junction,
              gmin: float) -> list[str]:
    source, sink = names[element.source], names[element.sink]
    anode, cathode = names[junction.anode], names[junction.cathode]
    if source == sink or anode == cathode:
        return []
    gain = _number(element.gain, element.name)
    undo = _number(-element.gain * gmin, element.name)  # F carries the junction's gmin along too
    return [f"f{index} {source} {sink} vs{at} {gain}", f"g{index} {source} {sink} s{at} {cathode} {undo}"]


def _channel(index: int, element: Channel, names: Mapping[str, str], gmin: float) -> list[str]:
    d, g, s = names[element.d], names[element.g], names[element.s]
    cards: list[str] = []
    if d != s:
        kind = "nmos" if element.sign > 0 else "pmos"
        vto, kp = _number(element.vto, element.name), _number(element.kp, element.name)
        # The bulk sits on the source: is=1e-200 makes its junctions nothing, G takes out their gmin.
        cards += [f"m{index} {d} {g} {s} {s} mm{index} l=1e-4 w=1e-4{_hotter(element)}",
                  f".model mm{index} {kind} level=1 vto={vto} kp={kp} gamma=0 lambda=0 is=1e-200",
                  f"g{index} {d} {s} {d} {s} {_number(-gmin, element.name)}"]
    if g != s:
        cards.append(f"rg{index} {g} {s} {GATE_SHUNT!r}")
        if element.charge:
            cards.append(f"ig{index} {s} {g} {_number(element.charge / GATE_SHUNT, element.name)}")
    return cards


def _hotter(element: Junction | Channel) -> str:
    return f" dtemp={element.hotter!r}" if element.hotter else ""


def _number(value: float, what: str) -> str:
    """A number as ngspice reads it without a scale letter. Raises EngineError for nan and inf."""
    if not math.isfinite(value):
        raise EngineError(f"engine ngspice: {what}: {value!r} is not a number it can take")
    return repr(float(value))
