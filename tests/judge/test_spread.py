"""Covariance of many readings from few boards: against the exact one, and against what samples give."""

from __future__ import annotations

import numpy as np

from incircuit.judge.spread import axes_of, covariance_of, names_of
from incircuit.parts.elements import Capacitance, Element, Junction, Resistance, Spread

BOARDS, READINGS, PARAMETERS = 64, 40, 30
RNG = np.random.default_rng(11)


def axes() -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Stratified draws, one row a parameter."""
    return np.array([(2.0 * RNG.permutation(BOARDS) + 1.0) / BOARDS - 1.0 for _ in range(PARAMETERS)])


def effects() -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Every reading moved by three parameters."""
    found = np.zeros((READINGS, PARAMETERS))
    for row in found:
        row[RNG.choice(PARAMETERS, 3, replace=False)] = RNG.uniform(0.3, 1.0, 3) * RNG.choice([-1.0, 1.0], 3)
    return found


def test_what_parameters_do_is_found() -> None:
    u, e = axes(), effects()
    exact = e @ e.T / 3.0
    found = covariance_of(e @ u, u)
    scale = np.sqrt(np.outer(np.diag(exact), np.diag(exact)))
    assert np.abs((found - exact) / scale).max() < 0.02


def test_a_new_board_lies_as_far_off_as_it_should() -> None:
    """Squared distance of n readings is n on the average; by sixty sampled boards it is three times that."""
    u, e = axes(), effects()
    noise = 0.05**2 * np.eye(READINGS)
    boards = e @ RNG.uniform(-1.0, 1.0, (PARAMETERS, 400)) + 0.05 * RNG.standard_normal((READINGS, 400))

    def distance(covariance: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
        return float(np.einsum("rb,rs,sb->b", boards, np.linalg.inv(covariance + noise), boards).mean())

    drawn = e @ u
    assert 0.85 * READINGS < distance(covariance_of(drawn, u)) < 1.15 * READINGS
    assert distance(drawn @ drawn.T / BOARDS) > 1.5 * READINGS


def test_what_no_parameter_explains_is_kept() -> None:
    u = axes()
    bent = u[:2] ** 2
    found = covariance_of(bent, u)
    assert np.allclose(np.diag(found), bent.var(axis=1), rtol=0.35)


def test_boards_that_overload_are_left_out() -> None:
    u = axes()
    off = 0.5 * u[:3]
    off[1, u[1] > 0.5] = np.nan
    found = covariance_of(off, u)
    assert np.isfinite(found).all()
    assert np.allclose(np.diag(found), 0.25 / 3.0, rtol=0.3)


def test_every_parameter_is_there_once_and_in_any_order() -> None:
    parts: list[Element] = [Resistance("R1 r", "R1", "a", "b", 1e3, Spread(0.05)),
                            Junction("D1 j", "D1", "a", "b", 1e-9, spread=Spread(0.01, 0.03, "D drop")),
                            Junction("D2 j", "D2", "a", "b", 1e-9, spread=Spread(0.01, 0.03, "D drop")),
                            Capacitance("C1 c", "C1", "a", "b", 1e-6, spread=Spread(0.2))]
    one, other = axes_of(names_of(parts), 16), axes_of(names_of(parts[::-1]), 16)
    assert one.shape == (7, 16)  # R1, D1, D2, their batch, C1, temperature, leads
    assert np.array_equal(one, other)


def test_readings_that_leave_the_same_leave_it_for_one_reason() -> None:
    """Five readings of one leak are one number, not five that agree by luck."""
    u = axes()
    bent = np.stack([u[0] ** 2 * u[1]] * 5 + [u[2] ** 2 * u[3], u[4] ** 2])
    found = covariance_of(bent, u)
    assert found[0, 4] > 0.999 * found[0, 0]
    assert abs(found[0, 5]) < 0.5 * np.sqrt(found[0, 0] * found[5, 5])
