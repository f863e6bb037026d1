"""The shortest list is the shortest: against all lists, on instances small enough."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from incircuit.advise.cover import cover

TABLES = st.tuples(st.integers(1, 8), st.integers(1, 9)).flatmap(lambda shape: arrays(bool, shape))


def _shortest(shows: np.ndarray[tuple[int, int], np.dtype[np.bool_]]) -> int:
    wanted = shows.any(axis=0)
    for count in range(len(shows) + 1):
        for some in combinations(range(len(shows)), count):
            if (shows[list(some)].any(axis=0) == wanted).all():
                return count
    raise AssertionError("all rows together show what they show")


@settings(deadline=None, derandomize=True, max_examples=60)
@given(TABLES)
def test_no_shorter_list_shows_as_much(shows: np.ndarray[tuple[int, int], np.dtype[np.bool_]]) -> None:
    found = cover(shows, np.linspace(0.0, 1.0, len(shows)))
    assert len(set(found.chosen)) == len(found.chosen) == found.least == _shortest(shows)
    assert (shows[list(found.chosen)].any(axis=0) == shows.any(axis=0)).all()


def test_of_two_shortest_lists_the_preferred_one() -> None:
    shows = np.array([[True, True], [True, True]])
    assert cover(shows, np.array([0.1, 0.9])).chosen == (1,)
    assert cover(shows, np.array([0.9, 0.1])).chosen == (0,)


def test_without_time_the_list_is_complete_and_its_gap_is_stated() -> None:
    rng = np.random.default_rng(5)
    shows = rng.random((160, 300)) < 0.04
    shows[0] |= ~shows.any(axis=0)
    found = cover(shows, np.zeros(160), seconds=0.0)
    assert shows[list(found.chosen)].any(axis=0).all()
    assert found.gap > 0
    assert found.least >= 1
