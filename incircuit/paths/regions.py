"""The neighbourhood of a reading on a large board, and the rest of the board as seen from it.

Many parts meet at rails. Cut at its rails a board falls into pieces; a reading sees the pieces its pads
lie in, and every other piece only through rails. There pieces of one shape lie in parallel and act as one
of them with added conductances: exactly where they are equal, since equal pieces between the same
rails have equal voltages inside. So the far board has as many elements as it has shapes.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

from incircuit.parts.elements import Capacitance, Channel, Coupling, Element, Junction, Resistance, nodes_of
from incircuit.paths.blocks import branches
from incircuit.paths.canonical import Form, form_of
from incircuit.paths.ports import Ports, elements_between, joined, ports_of

RAIL = 6
"""A net with elements of so many parts on it is a rail; nets that a fuse, a link or a winding joins count
as one."""
WHOLE = 100
"""A board of up to so many elements is one neighbourhood."""
LARGE = 24
"""A piece of more elements is cut further at single nodes …"""
SIDE = 6
"""… that leave at least so many on two sides."""
OWN = 70
"""Elements of the pads' own pieces that a neighbourhood has at most, nearest first."""
FAR = 50
"""Elements between two rails that a reading there is solved with."""
ROOM = 60
"""Elements of a neighbourhood, the ports of the far board not counted."""
BUSY = 16
"""A rail at which more elements meet leads nowhere in particular: what lies beyond is seen as a port."""
JUNCTION_OHMS = 600.0
"""What a junction counts for when the nearest is looked for [ohm]: its drop at a milliampere."""


@dataclass(frozen=True, slots=True)
class Piece:
    """What hangs together without rails: numbers of its elements, its rails, its shape."""

    elements: tuple[int, ...]
    rails: tuple[str, ...]
    form: Form


@dataclass(frozen=True, slots=True)
class Land:
    """A board cut at its rails. `piece` is the number of the piece a node is in, `alike` the numbers of the
    pieces of each shape; `near` the elements at each node that is no rail, `on` the shapes at each rail,
    `own` how many elements meet there, `busy` how many at all rails joined with it."""

    elements: tuple[Element, ...]
    rails: frozenset[str]
    pieces: tuple[Piece, ...]
    piece: dict[str, int]
    alike: tuple[tuple[int, ...], ...]
    near: dict[str, tuple[int, ...]]
    on: dict[str, tuple[int, ...]]
    own: dict[str, int]
    busy: dict[str, int]
    ports: Ports


@dataclass(frozen=True, slots=True)
class Region:
    """The elements that stand for the board at a reading, and names of those of them that are one part's own:
    others stand for several parts of the far board."""

    elements: tuple[Element, ...]
    single: frozenset[str]
    nodes: frozenset[str]


def land_of(elements: Iterable[Element]) -> Land:
    """Cut a board at its rails; capacitances are open."""
    listed = tuple(e for e in elements if not isinstance(e, Capacitance))
    name = joined(listed)
    parts: dict[str, set[str]] = {}
    for e in listed:
        for node in nodes_of(e):
            parts.setdefault(name[node], set()).add(e.part or e.name)
    rails = frozenset(n for n, root in name.items() if len(parts[root]) >= RAIL and " " not in n)
    rails = rails if len(listed) > WHOLE else frozenset()
    near = _near(listed, rails)
    at, groups = _grouped(listed, near)
    if rails:
        rails |= {n for group in groups if len(group) > LARGE for n in _narrows(listed, group, near)}
        near = _near(listed, rails)
        at, groups = _grouped(listed, near)
    pieces = tuple(_piece(listed, group, rails) for group in groups)
    alike: dict[object, list[int]] = {}
    for k, p in enumerate(pieces):
        alike.setdefault((p.rails, p.form.rows), []).append(k)
    on: dict[str, list[int]] = {}
    for k, members in enumerate(alike.values()):
        for rail in pieces[members[0]].rails:
            on.setdefault(rail, []).append(k)
    busy = Counter(n for e in listed for n in {name[n] for n in nodes_of(e)})
    own = Counter(n for e in listed for n in set(nodes_of(e)))
    ports = ports_of([([listed[k] for k in p.elements], p.rails) for p in pieces])
    return Land(listed, rails, pieces, {n: at[some[0]] for n, some in near.items()},
                tuple(map(tuple, alike.values())), {n: tuple(some) for n, some in near.items()},
                {rail: tuple(some) for rail, some in on.items()},
                {rail: own[rail] for rail in rails}, {rail: busy[name[rail]] for rail in rails}, ports)


def _near(listed: Sequence[Element], rails: frozenset[str]) -> dict[str, list[int]]:
    near: dict[str, list[int]] = {}
    for k, e in enumerate(listed):
        for node in set(nodes_of(e)) - rails:
            near.setdefault(node, []).append(k)
    return near


def _narrows(listed: Sequence[Element], group: Sequence[int], near: dict[str, list[int]]) -> list[str]:
    """Nodes at which a large piece falls into parts worth having (articulation points of its graph)."""
    import networkx as nx

    graph = nx.Graph()
    for k in group:
        inner = [n for n in nodes_of(listed[k]) if n in near]
        graph.add_edges_from((("element", str(k)), ("node", n)) for n in inner)
    found = []
    for kind, node in sorted(n for n in nx.articulation_points(graph) if n[0] == "node"):
        sizes = _sides(graph, (kind, node))
        if len(sizes) > 1 and sizes[1] >= SIDE:
            found.append(node)
    return found


def _sides(graph: Any, cut: tuple[str, str]) -> list[int]:
    """Elements on each side of a node, most first."""
    seen, sizes = {cut}, []
    for start in graph.neighbors(cut):
        if start in seen:
            continue
        seen.add(start)
        queue, count = [start], 0
        while queue:
            at = queue.pop()
            count += at[0] == "element"
            for other in graph.neighbors(at):
                if other not in seen:
                    seen.add(other)
                    queue.append(other)
        sizes.append(count)
    return sorted(sizes, reverse=True)


def _grouped(listed: Sequence[Element], near: dict[str, list[int]]) -> tuple[dict[int, int], list[list[int]]]:
    """Numbers of the elements of each piece, and the piece of each element."""
    by_name = {e.name: k for k, e in enumerate(listed)}
    follows: dict[int, list[int]] = {}
    for k, e in enumerate(listed):
        if isinstance(e, Coupling) and e.junction in by_name:
            follows.setdefault(k, []).append(by_name[e.junction])
            follows.setdefault(by_name[e.junction], []).append(k)
    at: dict[int, int] = {}
    groups: list[list[int]] = []
    for start in range(len(listed)):
        if start in at:
            continue
        at[start] = len(groups)
        queue, group = [start], []
        while queue:
            k = queue.pop()
            group.append(k)
            for other in (*follows.get(k, ()), *(o for n in nodes_of(listed[k]) for o in near.get(n, ()))):
                if other not in at:
                    at[other] = len(groups)
                    queue.append(other)
        groups.append(sorted(group))
    return at, groups


def _piece(listed: Sequence[Element], group: Sequence[int], rails: frozenset[str]) -> Piece:
    own = tuple(sorted({n for k in group for n in nodes_of(listed[k])} & rails))
    return Piece(tuple(group), own, form_of([listed[k] for k in group], own, values=False))


def region_of(land: Land, red: str, black: str) -> Region:
    """What stands for the board at a reading between two pads: the pads' own pieces, between two rails those
    that join them, the pieces around through the quietest rails first, and the ports of all others."""
    if len(land.elements) <= WHOLE:
        names = frozenset(e.name for e in land.elements)
        return Region(land.elements, names, frozenset(n for e in land.elements for n in nodes_of(e)))
    mine = {land.piece[pad] for pad in (red, black) if pad in land.piece}
    kept = _nearest(land, red, black, mine)
    found = [land.elements[k] for k in kept]
    single = {e.name for e in found}
    shapes = [] if mine else _between(land, red, black)
    room = ROOM - len(found) - sum(len(land.pieces[m[0]].elements) for m in shapes)
    taken = mine | {k for members in shapes for k in members}
    rails = {n for e in found for n in nodes_of(e)} | {red, black}
    rails |= {n for m in shapes for n in land.pieces[m[0]].rails}
    shapes += _around(land, rails & land.rails, (red, black), taken, room)
    for members in shapes:
        found += _added(land, members)
        if len(members) == 1:
            single |= {land.elements[k].name for k in land.pieces[members[0]].elements}
    inside = {n for e in found for n in nodes_of(e)} | {red, black}
    for a, b in combinations(sorted(inside & land.rails), 2):
        there, back = (land.ports.beyond(*ends, taken) for ends in ((a, b), (b, a)))
        found += elements_between(a, b, there, back)
    return Region(tuple(found), frozenset(single), frozenset(n for e in found for n in nodes_of(e)))


def _around(land: Land, rails: Iterable[str], pads: tuple[str, str], taken: set[int],
            room: int) -> list[tuple[int, ...]]:
    """Shapes of the pieces around, into `taken`: at the pads, then where least meets."""
    found: list[tuple[int, ...]] = []
    done: set[str] = set()
    left = {r for r in rails if land.busy[r] <= BUSY or (r in pads and land.own[r] <= BUSY)}
    while left:
        rail = min(left, key=lambda r: (r not in pads, land.busy[r], r))
        left.remove(rail)
        done.add(rail)
        for shape in land.on.get(rail, ()):
            members = tuple(k for k in land.alike[shape] if k not in taken)
            size = len(land.pieces[land.alike[shape][0]].elements)
            if members and size <= room:
                room -= size
                found.append(members)
                taken.update(members)
                left |= {r for r in land.pieces[members[0]].rails if land.busy[r] <= BUSY} - done
    return found


def _nearest(land: Land, red: str, black: str, mine: set[int]) -> list[int]:
    """Numbers of the elements of the pads' own pieces, by resistance from the pads, `OWN` at most."""
    import heapq

    if sum(len(land.pieces[k].elements) for k in mine) <= OWN:
        return sorted(k for p in mine for k in land.pieces[p].elements)
    heap = [(0.0, pad) for pad in (red, black) if pad not in land.rails]
    done: set[str] = set()
    taken: dict[int, None] = {}
    while heap and len(taken) < OWN:
        length, node = heapq.heappop(heap)
        if node in done:
            continue
        done.add(node)
        for k in land.near.get(node, ()):
            taken.setdefault(k)
            for pair in branches(land.elements[k]):
                for other in pair:
                    if other not in done and other not in land.rails:
                        heapq.heappush(heap, (length + _ohms(land.elements[k]), other))
    by_name = {land.elements[k].name for k in taken}
    lacking = {e.junction for e in (land.elements[k] for k in taken) if isinstance(e, Coupling)} - by_name
    more = [k for p in mine for k in land.pieces[p].elements if land.elements[k].name in lacking]
    return sorted({*taken, *more})


def _ohms(e: Element) -> float:
    return e.ohms if isinstance(e, Resistance) else JUNCTION_OHMS


def _between(land: Land, red: str, black: str) -> list[tuple[int, ...]]:
    """Shapes of the pieces that join two rails, the best conducting first, `FAR` elements in all."""
    shared = [k for k in land.on.get(red, ()) if k in set(land.on.get(black, ()))]
    found: list[tuple[int, ...]] = []
    room = FAR
    for members in sorted((land.alike[k] for k in shared), key=lambda m: _order(land, m, (red, black))):
        size = len(land.pieces[members[0]].elements)
        if size <= room:
            found.append(members)
            room -= size
    return found


def _order(land: Land, members: Sequence[int], pads: tuple[str, str]) -> tuple[float, int]:
    a, b = (land.ports.name.get(pad, pad) for pad in pads)
    ways = [land.ports.pieces[members[0]].get(ends) for ends in ((a, b), (b, a))]
    siemens = max((max(w.siemens, w.behind / (1 + w.junctions)) for w in ways if w), default=0.0)
    return -siemens * len(members), members[0]


def _added(land: Land, members: Sequence[int]) -> list[Element]:
    """The elements of pieces of one shape in parallel, as one piece under the first one's names."""
    first = land.pieces[members[0]]
    out = []
    for place, k in enumerate(first.form.elements):
        own = [land.elements[land.pieces[m].elements[land.pieces[m].form.elements[place]]] for m in members]
        out.append(_parallel(land.elements[first.elements[k]], own) if len(members) > 1 else own[0])
    return out


def _parallel(like: Element, some: Sequence[Element]) -> Element:
    """One element for several between the same voltages."""
    match like:
        case Resistance():
            total = sum(1.0 / max(e.ohms, 1e-9) for e in some if isinstance(e, Resistance))
            return replace(like, ohms=1.0 / total if total else like.ohms)
        case Junction():
            all_of = [e for e in some if isinstance(e, Junction)]
            return replace(like, is_=sum(e.is_ for e in all_of), rs=like.rs / len(all_of),
                           ibv=like.ibv * len(all_of))
        case Channel():
            return replace(like, kp=sum(e.kp for e in some if isinstance(e, Channel)))
        case _:
            return like
