"""Healthy boards drawn from the parts' spreads: a Latin hypercube with one axis per parameter.

Every axis is a permutation of strata seeded by the parameter's own name (M. D. McKay,
R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239), so the same board gives the same draws
whatever the order of its lines, the names of its nets or the hash seed. Column 0 is always the
nominal board.
"""

from __future__ import annotations

import zlib
from dataclasses import replace
from functools import lru_cache

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.circuit.laws import K_OVER_Q, ZERO_CELSIUS, breakdown_knee, drawn_gain, drawn_junction
from incircuit.circuit.network import Network
from incircuit.circuit.values import Values, nominal_values
from incircuit.parts.elements import Spread

TEMPERATURE_SPREAD = 5.0
"""A bench is within this of the temperature named [K], half width; an assumption, from memory."""


MOST_LEAKAGE = 0.9
"""More than this part of a winding's flux does not miss the others."""


@lru_cache(maxsize=4096)
def uniforms(key: str, count: int) -> Floats:
    """`count` + 1 numbers in [−1, 1], the first 0, the others one from each of `count` strata; read-only."""
    strata = np.random.default_rng(zlib.crc32(key.encode())).permutation(count)
    numbers = np.concatenate([[0.0], (2.0 * strata + 1.0) / count - 1.0])
    numbers.flags.writeable = False  # it is kept for the next time
    return numbers


def draw(spread: Spread, name: str, count: int) -> Floats | None:
    """Deviation of one parameter for the nominal and `count` drawn boards; None where it has none."""
    total: Floats | None = None
    for width, key in ((spread.own, name), (spread.shared, f"group {spread.group}")):
        if width:
            part = width * uniforms(key, count)
            total = part if total is None else total + part
    return total


def drawn_values(network: Network, count: int, celsius: float = 25.0) -> Values:
    """Values of the nominal board and of `count` boards drawn from the spreads, `count` + 1 columns."""
    temperatures = celsius + TEMPERATURE_SPREAD * uniforms("temperature", count)
    values = nominal_values(network, temperatures)
    g = _scaled(values.g, [(r.spread, r.name) for r in network.resistances], count, reciprocal=True)
    is_, nvt, gain = _drawn_junctions(network, values, count)
    knee = _drawn_knees(network, values, is_, nvt, K_OVER_Q * (temperatures + ZERO_CELSIUS))
    vto = np.array(np.broadcast_to(values.vto, (len(network.channels), count + 1)))
    for k, channel in enumerate(network.channels):
        volts = draw(channel.spread, channel.name, count)
        if volts is not None:
            vto[k] += volts
    return replace(values, g=g, is_=is_, nvt=nvt, knee=knee, gain=gain, vto=vto)


def _drawn_junctions(network: Network, values: Values, count: int) -> tuple[Floats, Floats, Floats]:
    """Saturation currents, n·Vt and gains of the couplings, a column a board.

    A transport current is the gain times that of a junction, and is the same law for both junctions of a
    transistor: what one of them draws alone is taken out of its gain.
    """
    is_, nvt = np.array(values.is_), np.array(values.nvt)
    gain = np.array(np.broadcast_to(values.gain, (len(network.couplings), count + 1)))
    row = {junction.name: k for k, junction in enumerate(network.junctions)}
    slopes: list[Floats | float] = []
    for k, junction in enumerate(network.junctions):
        slope = draw(junction.n_spread, f"{junction.name} slope", count)
        volts = draw(junction.spread, junction.name, count)
        slopes.append(0.0 if slope is None else slope)
        if slope is not None or volts is not None:
            is_[k], nvt[k] = drawn_junction(is_[k], nvt[k], 0.0 if volts is None else volts, slopes[k])
    for c, coupling in enumerate(network.couplings):
        k = row[coupling.junction]
        own = draw(replace(network.junctions[k].spread, shared=0.0), coupling.junction, count)
        gain[c] = drawn_gain(gain[c], nvt[k], 0.0 if own is None else own, slopes[k])
    return is_, nvt, gain


def _drawn_knees(network: Network, values: Values, is_: Floats, nvt: Floats, vt: Floats) -> Floats:
    """Where breakdown starts [V], a column a board: the voltage at the test current does not spread."""
    knee = np.array(np.broadcast_to(values.knee, is_.shape))
    for k, junction in enumerate(network.junctions):
        if np.isfinite(junction.bv):
            knee[k] = breakdown_knee(junction.bv, junction.ibv, is_[k], nvt[k] / vt, vt)
    return knee


def _scaled(base: Floats, spreads: list[tuple[Spread, str]], count: int, *, reciprocal: bool) -> Floats:
    factors = np.ones((len(spreads), count + 1))
    for k, (spread, name) in enumerate(spreads):
        relative = draw(spread, name, count)
        if relative is not None:
            factors[k] = np.maximum(1.0 + relative, 1e-3)
    return np.asarray(base / factors if reciprocal else base * factors)


def drawn_coils(network: Network, count: int) -> tuple[Floats, Floats]:
    """Henries and leakage (1 − coupling) of the resistances on the nominal and on `count` drawn boards, a
    column a board; zero where one is no winding."""
    some = network.resistances
    henries = _scaled(np.array([[r.henries] for r in some]).reshape(-1, 1),
                      [(r.coil.spread if r.coil else Spread(), f"{r.name} henries") for r in some], count,
                      reciprocal=False)
    leakage = np.zeros((len(some), count + 1))
    for k, coil in ((k, r.coil) for k, r in enumerate(some) if r.coil):
        off = np.exp(coil.leakage_spread * uniforms(f"group {coil.core} leakage", count))
        leakage[k] = np.minimum(coil.leakage * off, MOST_LEAKAGE)
    return henries, leakage


def drawn_capacitances(network: Network, count: int) -> tuple[Floats, Floats]:
    """Farads and esr [ohm] of the companions on the nominal and on `count` drawn boards, a column a board."""
    some = network.companions
    farads = _scaled(np.array([[c.farads] for c in some]).reshape(-1, 1), [(c.spread, c.name) for c in some],
                     count, reciprocal=False)
    esr = _scaled(np.array([[c.esr] for c in some]).reshape(-1, 1),
                  [(c.esr_spread, f"{c.name} esr") for c in some], count, reciprocal=False)
    return farads, esr
