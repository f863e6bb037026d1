"""How far limits of drawn boards are widened, by how their readings lie."""

import numpy as np

from incircuit.advise.limits import widened
from incircuit.predict.measure import Ask

ASK, END = Ask("ohms"), 4e7


def test_a_wiper_anywhere_reads_little_more_than_its_track() -> None:
    _, high = widened(np.linspace(300.0, 500e3, 24), ASK, END)
    assert high < 1.5 * 500e3


def test_leakage_that_ranges_over_decades_is_widened_by_a_factor() -> None:
    low, high = widened(np.geomspace(300.0, 500e3, 24), ASK, END)
    assert low < 100.0
    assert high > 2e6
