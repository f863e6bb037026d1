"""Numbers for a compiled network: one column per scenario, or one column for all."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from incircuit.circuit.elimination import Floats, Ints
from incircuit.circuit.laws import K_OVER_Q, ZERO_CELSIUS, breakdown_knee, channel_at, is_at
from incircuit.circuit.network import LINK_OHMS, Network
from incircuit.parts.elements import Junction, Resistance

GMIN = 1e-12
"""Conductance across every junction [S], as in SPICE."""
GATE_LEAK = 1e-13
"""Gate to source [S]: decides only where an unconnected gate floats, at its source."""
NODE_LEAK = 1e-18
"""Every node to the reference node [S]: gives floating pieces a defined potential."""


@dataclass(frozen=True, slots=True)
class Values:
    """Parameters per element (rows) and scenario (columns; a single column serves all).

    `g` [S] resistances; junctions: `is_` [A], `nvt` [V], `rs` [ohm], `knee` [V] start of breakdown,
    `gmin` [S]; `gain` couplings; channels: `vto` [V] (sign folded: positive for enhancement of
    either type), `kp` [A/V²], `charge` [V] kept by an unconnected gate, gate to source; companions of
    capacitances carry gc·(v − ec) from their first node to their second: `gc` [S], `ec` [V].
    """

    g: Floats
    is_: Floats
    nvt: Floats
    rs: Floats
    knee: Floats
    gmin: Floats
    gain: Floats
    vto: Floats
    kp: Floats
    charge: Floats
    gc: Floats
    ec: Floats

    @property
    def scenarios(self) -> int:
        """Number of columns, 1 where one column serves all."""
        return max(int(getattr(self, f.name).shape[1]) for f in fields(self))

    def take(self, columns: Ints | slice) -> Values:
        """The same for some scenarios only."""
        picked = {}
        for f in fields(self):
            array = getattr(self, f.name)
            picked[f.name] = columns_of(array, columns)
        return replace(self, **picked)


def columns_of(array: Floats, columns: Ints | slice) -> Floats:
    """Some columns of an array; a single column serves all. Rows stay whole in memory, which numpy's own
    indexing does not see to."""
    if array.shape[1] == 1:
        return array
    return array[:, columns] if isinstance(columns, slice) else np.take(array, columns, axis=1)


def channel_sign(network: Network) -> Floats:
    """+1 for n, −1 for p channels, (channels, 1)."""
    return np.array([c.sign for c in network.channels], dtype=np.float64).reshape(-1, 1)


def channel_gmin(values: Values) -> Floats:
    """Drain to source [S]: SPICE's M card has gmin across its own drain junction; none where switched off."""
    return np.where(values.kp > 0.0, GMIN, 0.0)


def _warmed(temperatures: Floats, elements: Sequence[Resistance | Junction]) -> Floats:
    """The board's temperatures, with a row for each element where some part has its own."""
    above = [e.hotter for e in elements]
    return np.asarray(temperatures + _column(above)) if any(above) else temperatures


def _column(values: list[float]) -> Floats:
    return np.array(values, dtype=np.float64).reshape(-1, 1)


def conductances(network: Network, celsius: Floats | float = 25.0) -> Floats:
    """Conductance [S] of every resistance at a temperature, (resistances, temperatures)."""
    kelvin = np.atleast_1d(np.asarray(celsius, dtype=np.float64)) + ZERO_CELSIUS
    kelvin = _warmed(kelvin, network.resistances)
    ohms = np.maximum(_column([r.ohms for r in network.resistances]), LINK_OHMS)
    beta = _column([r.ntc_beta for r in network.resistances])
    tempco = _column([r.tempco for r in network.resistances])
    if not (np.any(beta) or np.any(tempco)):
        return np.asarray(1.0 / ohms)
    nominal = 25.0 + ZERO_CELSIUS
    law = np.exp(beta * (1.0 / kelvin - 1.0 / nominal)) * (1.0 + tempco * (kelvin - nominal))
    return np.asarray(1.0 / (ohms * np.maximum(law, 1e-6)))


def nominal_values(network: Network, celsius: Floats | float = 25.0, gmin: float = GMIN) -> Values:
    """Values of a board whose every part is exactly what it says, at one temperature or several [°C].

    Temperatures are one per scenario, (scenarios,), or a number for all.
    """
    ambient = np.atleast_1d(np.asarray(celsius, dtype=np.float64))
    js = network.junctions
    temperature = _warmed(ambient, js)
    vt = K_OVER_Q * (temperature + ZERO_CELSIUS)
    is25, n = _column([j.is_ for j in js]), _column([j.n for j in js])
    eg, xti = _column([j.eg for j in js]), _column([j.xti for j in js])
    is_ = is_at(is25, temperature, n, eg, xti)
    bv, ibv = _column([j.bv for j in js]), _column([j.ibv for j in js])
    knee = breakdown_knee(bv, ibv, is_, n, vt) if np.any(np.isfinite(bv)) else bv
    signs = channel_sign(network)
    vto = np.zeros((len(signs), len(ambient)))
    kp = np.zeros_like(vto)
    for k, c in enumerate(network.channels):
        vto[k], kp[k] = channel_at(c.vto, c.kp, ambient + c.hotter, c.sign)
    return Values(
        g=conductances(network, ambient),
        is_=is_,
        nvt=n * vt,
        rs=_column([j.rs for j in js]),
        knee=knee,
        gmin=np.full((len(js), 1), gmin),
        gain=_column([c.gain for c in network.couplings]),
        vto=signs * vto,
        kp=kp,
        charge=_column([c.charge for c in network.channels]),
        gc=np.zeros((len(network.companions), 1)),
        ec=np.zeros((len(network.companions), 1)),
    )
