"""The second engine behind the same call: nominal operating points by ngspice, as a `Solution`."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.kirchhoff import inner_voltages, proof
from incircuit.circuit.network import Network
from incircuit.circuit.solve import Solution
from incircuit.circuit.source import Drive
from incircuit.circuit.spice import operating_point
from incircuit.circuit.values import Values
from incircuit.parts.elements import Channel, Coupling, Element, Junction, Resistance

SPICE_TOLERANCE = 1e-6
"""What ngspice's answer may miss of Kirchhoff's law, as a part of the test current, before it is refused."""


@dataclass(frozen=True, slots=True)
class _Source:
    current: float
    open_circuit: float
    resistance: float
    lead_resistance: float
    sign: int


def solve_by_ngspice(network: Network, values: Values, drive: Drive, celsius: float) -> Solution:
    """Operating points of the nominal board, one per column of `drive`, found by ngspice.

    `values` are the nominal ones (one column) and serve the certificate only: the deck is made from
    the elements. Raises EngineError where ngspice is absent or finds nothing.
    """
    elements = _numbered(network)
    count = len(drive.sign)
    v = np.zeros((network.size + 1, count))
    current = np.zeros(count)
    for k in range(count):
        if network.shorted:
            current[k] = float(drive.take(slice(k, k + 1)).law(np.zeros(1))[0][0])
            continue
        sign = 1 if drive.sign[k] > 0 else -1
        source = _Source(float(drive.current[k]), float(drive.open_circuit[k]), float(drive.resistance[k]),
                         0.0, sign)
        point = operating_point(elements, f"n{network.red}", f"n{network.black}", source, celsius=celsius)
        for number in range(network.size):
            v[number, k] = point.voltages.get(f"n{number}", 0.0)
        current[k] = sign * point.source_current
    vd = inner_voltages(network, values, v)
    residual = proof(network, values, v, vd, current).residual if not network.shorted else np.zeros(count)
    tolerance = 1e-9 + SPICE_TOLERANCE * np.abs(current)
    return Solution(network, values, v, vd, current, residual, tolerance, 0, np.zeros(count, dtype=np.intp))


def _numbered(network: Network) -> list[Element]:
    """The network's elements between its node numbers, links already merged."""
    at = {name: f"n{number}" for name, number in network.index.items()}
    found: list[Element] = []
    for element in (*network.resistances, *network.junctions, *network.couplings, *network.channels):
        match element:
            case Resistance():
                found.append(replace(element, a=at[element.a], b=at[element.b]))
            case Junction():
                found.append(replace(element, anode=at[element.anode], cathode=at[element.cathode]))
            case Coupling():
                found.append(replace(element, source=at[element.source], sink=at[element.sink]))
            case Channel():
                found.append(replace(element, d=at[element.d], g=at[element.g], s=at[element.s]))
    return found
