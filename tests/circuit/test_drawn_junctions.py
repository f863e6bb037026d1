"""Junctions of drawn boards: what spreads, and what has to stay one law."""

import numpy as np
import numpy.typing as npt
import pytest

from incircuit.board import parse_board
from incircuit.circuit.build import build
from incircuit.circuit.laws import drawn_junction, junction_law, thermal_voltage
from incircuit.circuit.network import Network, compile_network
from incircuit.circuit.sampling import drawn_values
from incircuit.circuit.values import Values

BOARD = """
Q1 npn B=B C=C E=E
Q2 pnp B=B C=C E=E power
D1 diode A=A K=K signal
Z1 zener A=A K=K 5V1
"""


def drawn() -> tuple[Network, Values]:
    network = compile_network(build(parse_board(BOARD, "x.board")).elements, "B", "E")
    return network, drawn_values(network, 64)


def test_the_transport_currents_of_every_drawn_transistor_cancel_at_zero_volts() -> None:
    network, values = drawn()
    at = {j.name: k for k, j in enumerate(network.junctions)}
    for part in ("Q1", "Q2"):
        one, other = (values.gain[k] * values.is_[at[c.junction]] for k, c in enumerate(network.couplings)
                      if c.part == part)
        assert one == pytest.approx(other, rel=1e-9)


def test_the_drop_at_a_milliampere_spreads_as_stated_and_more_below() -> None:
    network, values = drawn()
    k = next(k for k, j in enumerate(network.junctions) if j.part == "D1")
    spread = network.junctions[k].spread

    def half(amps: float) -> float:
        drops: npt.NDArray[np.float64] = values.nvt[k] * np.log(amps / values.is_[k])
        return float(np.ptp(drops)) / 2.0

    assert np.abs(values.nvt[k] / values.nvt[k, 0] - 1.0).max() > 0.1
    assert half(1e-3) == pytest.approx(spread.own + spread.shared, abs=0.015)  # temperature moves it too
    assert half(1e-6) > 1.3 * half(1e-3)


def test_breakdown_stays_at_its_voltage() -> None:
    network, values = drawn()
    k = next(k for k, j in enumerate(network.junctions) if j.part == "Z1")
    zener = network.junctions[k]
    amps, _ = junction_law(-zener.bv, values.is_[k], values.nvt[k], values.knee[k])
    assert amps == pytest.approx(-zener.ibv, rel=0.02)


def test_a_steeper_junction_meets_the_old_one_at_the_known_current() -> None:
    vt = thermal_voltage()
    is_, nvt = drawn_junction(1e-9, 1.8 * vt, 0.02, -0.1)
    assert nvt == pytest.approx(1.62 * vt)
    assert nvt * np.log(1e-3 / is_) == pytest.approx(1.8 * vt * np.log(1e-3 / 1e-9) + 0.02)
