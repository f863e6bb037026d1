"""Whoever thinks scores better than rules of thumb, and those better than luck."""

from __future__ import annotations

import pytest

from incircuit.drill.bench import start
from incircuit.drill.deal import deal
from incircuit.drill.review import Review, review
from tests.drill.players import Player, random_player, rule_of_thumb, thinking


def played(player: Player, level: int, seeds: range) -> list[Review]:
    return [review(player(start(deal(level, seed)))) for seed in seeds]


@pytest.mark.parametrize(
    ("level", "seeds"), [(1, range(40, 52)), pytest.param(2, range(45, 53), marks=pytest.mark.slow)]
)
def test_scores_are_ordered_as_they_should_be(level: int, seeds: range) -> None:
    best, thumb, luck = (played(p, level, seeds) for p in (thinking, rule_of_thumb, random_player))
    points = [sum(r.points for r in some) / len(some) for some in (best, thumb, luck)]
    cost = [sum(r.cost for r in some) / len(some) for some in (best, thumb, luck)]
    right = [sum(r.right for r in some) / len(some) for some in (best, thumb, luck)]
    assert right[0] >= 0.85, right
    assert right[0] >= right[1] > right[2], right
    assert points[0] > points[1] > points[2], points
    assert points[0] > 40, points
    assert cost[0] < cost[1] < cost[2], cost


def test_thinking_lifts_less_than_rules_of_thumb() -> None:
    best, thumb = (played(p, 1, range(40, 52)) for p in (thinking, rule_of_thumb))
    assert sum(len(r.needless) for r in best) < sum(len(r.needless) for r in thumb)
