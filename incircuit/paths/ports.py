"""The far board as seen at the rails of a neighbourhood: a resistance and junctions between two of them.

A piece of the board joins two of its rails by its best way through resistances, and by its best way through
junctions, both found with Dijkstra's algorithm. Pieces between the same rails add up; rails that a fuse, a
link or a winding joins count as one. It is an estimate, and is given the spread of one.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

from incircuit.parts.elements import Element, Junction, Resistance, Spread, nodes_of

JOINED = 5.0
"""Rails with less than this between them [ohm] count as one."""
STEP = 1.25
"""Conductances are rounded to powers of this: what is estimated need not be told finely, and boards with
alike surroundings read alike."""
SPREAD = 0.5
"""Half width of the estimate, relative."""
LEAST = 1e-8
"""Less than this between rails [S] is nothing."""
DROP = Junction("", "", "", "", 5e-9, 1.8)
"""A junction of no particular kind; from memory."""

Rails = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Way:
    """From one rail to another: siemens through resistances alone, and the least number of junctions in a row
    (0: none) with the siemens behind them."""

    siemens: float = 0.0
    junctions: int = 0
    behind: float = 0.0

    def beside(self, other: Way) -> Way:
        """Both in parallel."""
        count = min(filter(None, (self.junctions, other.junctions)), default=0)
        behind = sum(w.behind for w in (self, other) if w.junctions == count)
        return Way(self.siemens + other.siemens, count, behind)


NOTHING = Way()


def ways_of(elements: Sequence[Element], rails: Iterable[str]) -> dict[Rails, Way]:
    """Ways through one piece of the board between its rails, in either direction."""
    near: dict[str, list[tuple[str, int, float]]] = {}
    for e in elements:
        if isinstance(e, Resistance) and e.ohms < math.inf:
            near.setdefault(e.a, []).append((e.b, 0, e.ohms))
            near.setdefault(e.b, []).append((e.a, 0, e.ohms))
        elif isinstance(e, Junction):
            near.setdefault(e.anode, []).append((e.cathode, 1, e.rs))
    listed = tuple(rails)
    found: dict[Rails, Way] = {}
    plain = {rail: _shortest(near, rail, listed, least=0) for rail in listed}
    steps = {rail: _shortest(near, rail, listed, least=1) for rail in listed}
    for a, b in permutations(listed, 2):
        ohms = plain[a].get(b, (0, math.inf))[1]
        count, behind = steps[a].get(b, (0, math.inf))
        way = Way(1.0 / max(ohms, 1e-3), count, 1.0 / max(behind, 1.0) if count else 0.0)
        if way.siemens > 0.0 or way.junctions:
            found[a, b] = way
    return found


def _shortest(near: Mapping[str, list[tuple[str, int, float]]], start: str, rails: Sequence[str],
              least: int) -> dict[str, tuple[int, float]]:
    """Junctions passed, `least` or more (0: none at all), and ohms from a rail to each node; no other rail is
    passed on the way."""
    heap: list[tuple[int, float, str]] = [(0, 0.0, start)]
    done: dict[tuple[str, bool], tuple[int, float]] = {}
    while heap:
        count, ohms, node = heapq.heappop(heap)
        if (node, count > 0) in done:
            continue
        done[node, count > 0] = count, ohms
        if node != start and node in rails:
            continue
        for other, step, more in near.get(node, ()):
            if (other, count + step > 0) not in done and (least or not step):
                heapq.heappush(heap, (count + step, ohms + more, other))
    return {node: found for (node, passed), found in done.items() if passed == bool(least)}


@dataclass(frozen=True, slots=True)
class Ports:
    """All ways between rails added up, joined rails under one `name`, and so the ways of each piece."""

    name: Mapping[str, str]
    total: Mapping[Rails, Way]
    pieces: tuple[Mapping[Rails, Way], ...]

    def beyond(self, a: str, b: str, but: Iterable[int]) -> Way:
        """What lies between two rails, the pieces of some numbers left out."""
        key = self.name.get(a, a), self.name.get(b, b)
        total = self.total.get(key)
        if total is None:
            return NOTHING
        own = [w for k in but if (w := self.pieces[k].get(key)) is not None]
        siemens = total.siemens - sum(w.siemens for w in own)
        behind = total.behind - sum(w.behind for w in own if w.junctions == total.junctions)
        junctions = total.junctions if behind > 1e-9 else 0
        return Way(siemens if siemens > LEAST else 0.0, junctions, behind if junctions else 0.0)


def joined(elements: Iterable[Element]) -> dict[str, str]:
    """For each node the one that stands for all that less than `JOINED` ohms join (union and find)."""
    root: dict[str, str] = {}

    def find(node: str) -> str:
        while root.setdefault(node, node) != node:
            root[node] = root[root[node]]
            node = root[node]
        return node

    for e in elements:
        ends = sorted(map(find, nodes_of(e)))
        if isinstance(e, Resistance) and e.ohms < JOINED:
            root[ends[-1]] = ends[0]
    return {node: find(node) for node in root}


def ports_of(pieces: Sequence[tuple[Sequence[Element], Sequence[str]]]) -> Ports:
    """The ports of a board from its pieces, (elements, rails) each."""
    ways = tuple(ways_of(elements, rails) if len(rails) > 1 else {} for elements, rails in pieces)
    name = joined([e for elements, _ in pieces for e in elements])
    total: dict[Rails, Way] = {}
    added: list[dict[Rails, Way]] = []
    for some in ways:
        own: dict[Rails, Way] = {}
        for (a, b), way in some.items():
            key = name[a], name[b]
            if key[0] != key[1]:
                total[key] = total.get(key, NOTHING).beside(way)
                own[key] = own.get(key, NOTHING).beside(way)
        added.append(own)
    return Ports(name, total, tuple(added))


def elements_between(a: str, b: str, there: Way, back: Way) -> list[Element]:
    """What stands for the far board between two rails; conductances in steps."""
    if there == NOTHING == back:
        return []
    found: list[Element] = []
    spread = Spread(own=SPREAD)
    siemens = max(there.siemens, back.siemens)
    if siemens > 0.0:
        found.append(Resistance(f"far {a} {b}", "", a, b, 1.0 / _stepped(siemens), spread))
    for way, anode, cathode in ((there, a, b), (back, b, a)):
        if way.junctions:
            found.append(Junction(f"far {anode} to {cathode}", "", anode, cathode, DROP.is_,
                                  DROP.n * way.junctions, 1.0 / _stepped(way.behind),
                                  spread=Spread(own=0.15 * way.junctions)))
    return found


def _stepped(siemens: float) -> float:
    return float(STEP ** round(math.log(siemens, STEP)))
