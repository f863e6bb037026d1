"""Readings that are curves of what moves them: sound boards are as far off as they should be, and not called
faulty for a leak that resistors hide."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import nnls

from incircuit.judge.joint import SHARES, Fit, mixed, shares
from incircuit.judge.observed import Observed
from incircuit.judge.ruling import names
from incircuit.judge.spread import explained
from incircuit.judge.together import Moved, Together, curved, least_positive, together
from tests.judge.neighbourhoods import board
from tests.judge.told import verdict, words

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
BOARDS, PARAMETERS, ERROR = 64, 6, 0.02
RNG = np.random.default_rng(17)


def leaking(u: Floats) -> Floats:
    """(readings, boards) from parameters (parameters, boards): the logarithm of a leak, of one beside a
    resistor that rules where the leak is small, and of that resistor."""
    leak = 1.5 * u[0] + 0.3 * u[1]
    ohms = 0.05 * u[2]
    beside = -np.log(np.exp(-ohms) + np.exp(-leak - 1.0))
    return np.stack([leak, beside + math.log(1.0 + math.exp(-1.0)), ohms])


def as_drawn() -> Together:
    """How these vary together by 64 boards."""
    u = np.array([(2.0 * RNG.permutation(BOARDS) + 1.0) / BOARDS - 1.0 for _ in range(PARAMETERS)])
    off = leaking(u)
    effect, rest = explained(off, u)
    return together(off, Moved(effect, rest, *curved(off, u, effect, rest)), np.zeros(3), np.ones((3, 1)))


def test_a_sound_board_lies_as_far_off_as_it_should_on_a_curve() -> None:
    """Squared distance of three readings is three on the average, and seldom above twelve (chi squared, 1 %:
    11.3); by straight lines it is far more on the boards at the ends."""
    known, errors = as_drawn(), ERROR**2 * np.eye(3)
    boards = leaking(RNG.uniform(-1.0, 1.0, (PARAMETERS, 400))) + ERROR * RNG.standard_normal((3, 400))

    def distance(off: Floats, near: Together) -> float:
        missed = off - np.ravel(near.shifts())
        return float(missed @ np.linalg.solve(near.all()[0] + errors, missed))

    bent = [distance(off, known.around(off, errors, 0)) for off in boards.T]
    straight = [distance(off, known) for off in boards.T]
    assert 2.0 < np.mean(bent) < 3.5
    assert np.mean(np.array(bent) > 12.0) < 0.02
    assert np.quantile(straight, 0.99) > 1.5 * np.quantile(bent, 0.99)


def test_what_is_straight_stays_so() -> None:
    u = np.array([(2.0 * RNG.permutation(BOARDS) + 1.0) / BOARDS - 1.0 for _ in range(PARAMETERS)])
    off = RNG.uniform(-1.0, 1.0, (4, PARAMETERS)) @ u
    effect, rest = explained(off, u)
    found = together(off, Moved(effect, rest, *curved(off, u, effect, rest)), np.zeros(4), np.ones((4, 1)))
    assert found.curves is None
    assert found.around(off[:, 0], np.eye(4), 0) is found


def test_fits_mix_by_their_priors() -> None:
    one, other = Fit(-2.0, 0, 0.0, (1.0,), 1.0, -1.0), Fit(-5.0, 1, 0.0, (2.0,), 4.0, -4.0)
    both = mixed([one, other], (0.25, 0.75))
    assert math.isclose(both.log_likelihood, math.log(0.25 * math.exp(-2.0) + 0.75 * math.exp(-5.0)))
    assert both.row == 0
    assert math.isclose(both.unknown, one.unknown)


def test_what_readings_share_of_an_error_is_asked_where_it_matters() -> None:
    one, other = (Observed(0.5, mode, 0.004, 0.0005, 2.0) for mode in ("diode of x", "ohms of x"))
    assert len(shares([one, other])) == 1
    assert shares([one, other, one]) == SHARES


SOUND = """
LC NC ohms 0.388M
LC LF ohms 0.1
LC N ohms 0.392M
LF N ohms 0.396M
LF NC ohms 0.387M
N NC ohms 0.3
LR NC ohms 0.394M
LR RECT diode 0.482
LR RECT ohms 34.44k
RECT- LR diode 0.486
LR RECT- ohms 1.511M
NC RECT diode 0.481
NC RECT ohms 34.33k
RECT- NC diode 0.475
NC RECT- ohms 1.496M
RECT- RECT diode 0.896
RECT RECT- ohms 0.99M
LC LR ohms 10.7
"""


def test_a_sound_rectifier_that_leaks_little_is_not_condemned() -> None:
    """Read by ngspice with nothing wrong that shows, every reading in its band."""
    found = verdict(board("pump-drive/mains-input"), SOUND)
    assert all(line.in_band for line in found.lines)
    assert found.ruling.word != "failed"
    assert words(found)["BR1"] not in ("failed",)
    assert next(e for e in found.explanations if not e.faults).probability > 0.2


PARALLELED = """
G1 SW ohms 166.5k
RTN SW diode 0.414
RTN SW ohms 28.30k
G2 SW ohms 165.6k
SW BUS diode 0.471
BUS SW ohms 1.21M
"""


def test_paralleled_diodes_of_a_sound_board_are_not_open() -> None:
    """Read by ngspice. 1.21M stands on the highest range, where a leak reads less than on the one below."""
    found = verdict(board("paralleled"), PARALLELED)
    assert words(found)["D1"] != "failed"
    assert words(found)["D2"] != "failed"
    assert found.ruling.word != "failed"


DRIFTED = """
L N ohms 0.944M
LF N ohms 0.944M
LC LF ohms 0.3
LC NC ohms 0.944M
N NC ohms 0.3
"""


def test_leakage_may_be_either_of_two_that_are_named_together() -> None:
    """Read by ngspice with R2 drifted, the middle of the two out of reach: R1 or R2, and no third part."""
    found = verdict(board("pump-drive/mains-input"), DRIFTED)
    assert found.ruling.word == "failed"
    lead = set(names(found.explanations[0]))
    named = {who for g in found.ruling.groups if lead & set(g) for who, _ in g}
    assert named == {"R1", "R2"}


@pytest.mark.parametrize("seed", range(20))
def test_least_positive_against_the_reference_library(seed: int) -> None:
    """scipy.optimize.nnls, the same method by other hands."""
    rng = np.random.default_rng(seed)
    for count in range(1, 9):
        table, right = rng.normal(size=(count + 3, count)), rng.normal(size=count + 3)
        expected = nnls(table, right)[0]
        assert np.allclose(least_positive(table.T @ table, table.T @ right), expected, atol=1e-9)
