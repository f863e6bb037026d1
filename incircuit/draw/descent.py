"""A good arrangement found by descent from a first guess; the same every time."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from incircuit.draw.bodies import Body, body_of
from incircuit.draw.plan import APART, Known, Look, clash, extents, look_at
from incircuit.draw.scene import Item
from incircuit.draw.sides import turned

Columns = list[list[int]]
Levels = list[int]
Kept = tuple[float, Levels, Columns, list[Body]]

PULL = 0.12
"""Cost of a level too far up or down for a net that has one more lower than upper ends."""
PATIENCE = 6
"""Shakes that lead nowhere before the search ends."""


@dataclass(slots=True)
class Search:
    """The best arrangement so far, and how many looks are left."""

    items: Sequence[Item]
    bodies: list[Body]
    pull: Sequence[float]
    levels: Levels
    columns: Columns
    look: Look
    left: int
    known: Known

    def measure(self, levels: Sequence[int], columns: Sequence[Sequence[int]]) -> Look:
        """One look."""
        return look_at(self.bodies, levels, columns, self.pull, self.known)

    def forget(self, item: int) -> None:
        """A symbol has changed: how it stood before counts no more."""
        for key in [k for k in self.known if k[0] == item]:
            del self.known[key]

    def kept(self) -> Kept:
        """A copy of where everything is."""
        return self.look.cost, list(self.levels), [list(c) for c in self.columns], list(self.bodies)

    def restore(self, kept: Kept) -> None:
        """Back to a copy."""
        _, levels, columns, bodies = kept
        self.levels, self.columns, self.bodies = list(levels), [list(c) for c in columns], list(bodies)
        self.known.clear()
        self.look = self.measure(self.levels, self.columns)


def arrange(items: Sequence[Item], nets: int, looks: int = 12000) -> tuple[Levels, Columns, list[Body]]:
    """Levels of the nets, columns of the parts and their symbols; at most `looks` are measured."""
    if not items:
        return [0] * nets, [], []
    bodies = [body_of(item) for item in items]
    pull = pull_of(bodies, nets)
    levels, columns = first_levels(bodies, nets, pull), first_columns(bodies, nets)
    s = Search(items, bodies, pull, levels, columns, look_at(bodies, levels, columns, pull), looks, {})
    dice = random.Random(7)
    _settle(s, dice)
    best = s.kept()
    idle = 0
    while s.left > 0 and idle < PATIENCE:
        idle += 1
        _shake(s, dice)
        _settle(s, dice)
        if s.look.cost < best[0] - 1e-9:
            best, idle = s.kept(), 0
        else:
            s.restore(best)
    s.restore(best)
    _turn(s)
    return (*legal(s.bodies, s.levels, s.columns), s.bodies)


def _turn(s: Search) -> bool:
    """Chips and connectors turn their pins to where the nets are, where that helps."""
    helped = False
    for i, item in enumerate(s.items):
        body = turned(item, s.bodies[i], i, s.bodies, s.levels, s.columns, s.look)
        if body is None:
            continue
        before, s.bodies[i] = s.bodies[i], body
        s.forget(i)
        look = s.measure(s.levels, s.columns)
        if look.cost < s.look.cost - 1e-9:
            s.look, helped = look, True
        else:
            s.bodies[i] = before
            s.forget(i)
    return helped


def legal(bodies: Sequence[Body], levels: Levels, columns: Columns) -> tuple[Levels, Columns]:
    """The arrangement with what still overlaps taken apart: a level or a column more, until nothing does."""
    while True:
        look = look_at(bodies, levels, columns)
        left, right, _ = extents(columns, look.stands, look.lines, len(levels))
        near = next((b for b in range(len(levels)) for a in range(len(levels)) if levels[a] == levels[b]
                     and (left[a], a) < (left[b], b) and left[b] < right[a] + APART), None)
        if near is not None:
            levels = packed([2 * level + (n == near) for n, level in enumerate(levels)])
            continue
        split = next(((c, j) for c, column in enumerate(columns) for k, i in enumerate(column)
                      for j in column[k + 1:]
                      if clash(look.stands[i], look.stands[j])), None)
        if split is None:
            return levels, columns
        c, item = split
        columns = [*columns[:c], [i for i in columns[c] if i != item], [item], *columns[c + 1:]]


def pull_of(bodies: Sequence[Body], nets: int) -> list[float]:
    """How strongly each net belongs at the bottom (above zero) or at the top, told by the parts' ends."""
    score = [0.0] * nets
    for body in bodies:
        for n in {p.net for p in body.pins}:
            score[n] += 0.01  # without any other sign, the net of most parts is the return
        if body.upper >= 0:
            score[body.lower] += 1.0
            score[body.upper] -= 1.0
    best = max(range(nets), key=lambda n: (score[n], -n))
    pulls = [PULL * max(-4.0, min(4.0, s)) for s in score]
    pulls[best] = max(pulls[best], 0.0) + 1.0
    return pulls


def first_levels(bodies: Sequence[Body], nets: int, pull: Sequence[float]) -> Levels:
    """Nets in order of a height: the mean of their neighbours', pulled up and down by the parts' ends."""
    height = [0.0] * nets
    for _ in range(40):
        push, weight = [0.0] * nets, [1e-9] * nets
        for body in bodies:
            own = {p.net for p in body.pins}
            mean = sum(height[n] for n in own) / len(own)
            for n in own:
                lift = 1.0 if n == body.upper else -1.0 if n == body.lower else 0.0
                push[n] += mean + lift
                weight[n] += 1.0
        height = [p / w for p, w in zip(push, weight, strict=True)]
        height[max(range(nets), key=lambda n: (pull[n], -n))] = min(height) - 1.0
    order = sorted(range(nets), key=lambda n: (-height[n], n))
    levels = [0] * nets
    for level, n in enumerate(order):
        levels[n] = level
    return levels


def first_columns(bodies: Sequence[Body], nets: int) -> Columns:
    """One column a part, each next to what it shares its rarest nets with."""
    count = [0] * nets
    for body in bodies:
        for n in {p.net for p in body.pins}:
            count[n] += 1
    placed = [0]
    left = list(range(1, len(bodies)))
    while left:
        near = {n: 1.0 / count[n] for i in placed[-6:] for n in {p.net for p in bodies[i].pins}}
        best = max(left, key=lambda i: (sum(near.get(n, 0.0) for n in {p.net for p in bodies[i].pins}), -i))
        placed.append(best)
        left.remove(best)
    return [[i] for i in placed]


def _settle(s: Search, dice: random.Random) -> None:
    """Moves until none of all helps."""
    improved = True
    while improved and s.left > 0:
        improved = False
        jobs = [("net", n) for n in range(len(s.levels))] + [("part", i) for i in range(len(s.bodies))]
        jobs += [("swap", k) for k in range(len(s.columns))]
        jobs += [("levels", k) for k in range(max(s.levels) + 1)]
        dice.shuffle(jobs)
        for what, k in jobs:
            for levels, columns in list(_moves(s, what, k)):
                if s.left <= 0:
                    return
                s.left -= 1
                look = s.measure(levels, columns)
                if look.cost < s.look.cost - 1e-9:
                    s.levels, s.columns, s.look = levels, columns, look
                    improved = True
        improved = _turn(s) or improved


def _moves(s: Search, what: str, k: int) -> Iterator[tuple[Levels, Columns]]:
    if what == "net":
        top = max(s.levels)
        for level in range(top + 1):
            if level != s.levels[k]:
                yield packed([level if n == k else old for n, old in enumerate(s.levels)]), s.columns
        for level in range(top + 2):
            opened = [old + 1 if old >= level else old for old in s.levels]
            opened[k] = level
            yield packed(opened), s.columns
    elif what == "part":
        rest = [[i for i in c if i != k] for c in s.columns]
        rest = [c for c in rest if c]
        near = _near(s, rest, k)
        for c in sorted({c + side for c in near for side in (0, 1)}):
            yield s.levels, [*rest[:c], [k], *rest[c:]]
        for c in sorted({c + side for c in near for side in (-1, 0, 1) if 0 <= c + side < len(rest)}):
            yield s.levels, [*rest[:c], [*rest[c], k], *rest[c + 1:]]
    elif what == "swap":
        for other in range(k + 1, len(s.columns)):
            columns = list(s.columns)
            if other < len(columns):
                columns[k], columns[other] = columns[other], columns[k]
                yield s.levels, columns
                yield s.levels, [*s.columns[:k], *s.columns[k:other + 1][::-1], *s.columns[other + 1:]]
    else:
        for other in range(k + 1, max(s.levels) + 1):
            swap = {k: other, other: k}
            yield [swap.get(old, old) for old in s.levels], s.columns


def _near(s: Search, rest: Columns, k: int) -> set[int]:
    """Columns worth trying for a part: of those it shares a net with, and both edges."""
    mine = {p.net for p in s.bodies[k].pins}
    found = {c for c, column in enumerate(rest) for i in column
             if any(p.net in mine for p in s.bodies[i].pins)}
    return found | {0, len(rest) - 1} if rest else {0}


def packed(levels: Sequence[int]) -> Levels:
    """Levels without gaps."""
    order = {level: k for k, level in enumerate(sorted(set(levels)))}
    return [order[level] for level in levels]


def _shake(s: Search, dice: random.Random) -> None:
    """A few moves at random."""
    for _ in range(3):
        k = dice.randrange(len(s.bodies))
        rest = [c for c in ([i for i in c if i != k] for c in s.columns) if c]
        at = dice.randrange(len(rest) + 1)
        s.columns = [*rest[:at], [k], *rest[at:]]
        n = dice.randrange(len(s.levels))
        levels = list(s.levels)
        levels[n] = dice.randrange(max(levels) + 1)
        s.levels = packed(levels)
    s.look = s.measure(s.levels, s.columns)
