"""Small circuits for the tests of the solver."""

from __future__ import annotations

from collections.abc import Iterable

from incircuit.circuit.network import compile_network
from incircuit.circuit.solve import Solution, solve
from incircuit.circuit.source import drive
from incircuit.circuit.values import nominal_values
from incircuit.parts.elements import Element, Junction, Resistance

Triple = tuple[str, str, float]


def resistances(triples: Iterable[Triple]) -> list[Element]:
    return [Resistance(f"R{k} r", f"R{k}", a, b, ohms) for k, (a, b, ohms) in enumerate(triples)]


def point(elements: Iterable[Element], red: str, black: str, *, current: float = 1e-3, volts: float = 3.0,
          resistance: float | None = None, sign: int = 1, celsius: float = 25.0,
          gmin: float = 1e-12) -> Solution:
    """One operating point with its certificate checked: every test that solves goes through here."""
    network = compile_network(elements, red, black)
    behind = 1e-4 * volts / current if resistance is None else resistance
    solution = solve(network, nominal_values(network, celsius, gmin), drive(current, volts, behind, sign))
    assert solution.residual.max() <= solution.tolerance.max()
    assert solution.tolerance.max() <= 1e-12 + 1.001e-9 * abs(float(solution.current[0]))
    assert abs(float(solution.pad_voltage[0])) <= volts * (1 + 1e-9), "passivity: never more than the source"
    return solution


def ohms(triples: Iterable[Triple], red: str, black: str) -> float:
    """Resistance between two nodes [ohm], by a millivolt behind a milliohm: no compliance in the way."""
    solution = point(resistances(triples), red, black, current=float("inf"), volts=1.0, resistance=1.0)
    return float(solution.pad_voltage[0] / solution.current[0])


SIGNAL = {"is_": 2.52e-9, "n": 1.752, "rs": 0.568}


def diode(name: str, anode: str, cathode: str, **parameters: float) -> Junction:
    return Junction(f"{name} d", name, anode, cathode, **{**SIGNAL, **parameters})
