"""How the pins of a part hang together inside, read off its own elements: no table by kind."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from incircuit.board.model import Part
from incircuit.parts.elements import Capacitance, Channel, Coupling, Element, Junction, Resistance, nodes_of
from incircuit.parts.expand import expand

Pair = tuple[str, str]


@lru_cache(maxsize=4096)
def skeleton(part: Part) -> tuple[Element, ...]:
    """The part's elements with pins for nodes, ``"@PIN"``; inner nodes keep their names."""
    return expand(part, {pin: f"@{pin}" for pin in part.pin_names})


def pin_at(node: str) -> str | None:
    """The pin a node of a skeleton is; None for an inner node."""
    return node[1:] if node.startswith("@") else None


def node_fields(element: Element) -> dict[str, str]:
    """The nodes of an element by field name."""
    match element:
        case Resistance() | Capacitance():
            return {"a": element.a, "b": element.b}
        case Junction():
            return {"anode": element.anode, "cathode": element.cathode}
        case Coupling():
            return {"source": element.source, "sink": element.sink}
        case Channel():
            return {"d": element.d, "g": element.g, "s": element.s}


def moved(element: Element, fields: Mapping[str, str]) -> Element:
    """The element with other nodes in some fields."""
    values: dict[str, Any] = dict(fields)
    return replace(element, **values)


def path(element: Element) -> Pair:
    """The two nodes between which an element carries current."""
    if isinstance(element, Channel):
        return element.d, element.s
    a, b = nodes_of(element)
    return a, b


def joined(element: Element) -> tuple[Pair, ...]:
    """Pairs of nodes an element joins, a gate's oxide included: it can fail too."""
    if isinstance(element, Channel):
        return path(element), (element.g, element.s), (element.g, element.d)
    return (path(element),)


def inner_regions(part: Part, oxide: bool) -> tuple[tuple[frozenset[str], frozenset[str]], ...]:
    """Connected sets of inner nodes, each with the pins around it, gates counted or not."""
    near: dict[str, set[str]] = {}
    for element in skeleton(part):
        for a, b in joined(element) if oxide else (path(element),):
            near.setdefault(a, set()).add(b)
            near.setdefault(b, set()).add(a)
    left = [node for node in near if pin_at(node) is None]
    found = []
    while left:
        region, border, queue = set(), set(), [left[0]]
        while queue:
            node = queue.pop()
            pin = pin_at(node)
            if pin is not None:
                border.add(pin)
            elif node not in region:
                region.add(node)
                queue += near[node]
        left = [node for node in left if node not in region]
        found.append((frozenset(region), frozenset(border)))
    return tuple(found)


def pairs_joined(part: Part) -> tuple[Pair, ...]:
    """Pairs of pins next to each other inside, in the order of the pins."""
    order = {pin: k for k, pin in enumerate(part.pin_names)}
    found: set[Pair] = set()
    for element in skeleton(part):
        for a, b in joined(element):
            one, two = pin_at(a), pin_at(b)
            if one is not None and two is not None and one != two:
                found.add(ordered(part, one, two))
    for _, border in inner_regions(part, oxide=True):
        found |= {ordered(part, a, b) for a in border for b in border if a != b}
    return tuple(sorted(found, key=lambda pair: (order[pair[0]], order[pair[1]])))


def ordered(part: Part, a: str, b: str) -> Pair:
    """Two pins in the order of the file."""
    names = part.pin_names
    return (a, b) if names.index(a) < names.index(b) else (b, a)


def pins_of(part: Part, element: Element) -> tuple[str, ...]:
    """The pins an element of the skeleton ends at, in the order of the file; inner ends left out."""
    ends = {pin for node in nodes_of(element) if (pin := pin_at(node)) is not None}
    return tuple(pin for pin in part.pin_names if pin in ends)


def between(part: Part, a: str, b: str) -> tuple[str, ...]:
    """Names of all elements that carry current between two pins and to no other."""
    regions = [nodes for nodes, border in inner_regions(part, oxide=False) if border <= {a, b}]
    inner = {node for nodes in regions for node in nodes}
    allowed = inner | {f"@{a}", f"@{b}"}
    return tuple(e.name for e in skeleton(part) if set(path(e)) <= allowed)


def nodes_by_pin(part: Part, elements: Iterable[Element]) -> dict[str, str]:
    """Node each pin is on now: its net, or where the elements given say that it is (a lifted pin)."""
    found = dict(part.pins)
    shape = {e.name: e for e in skeleton(part)}
    for element in elements:
        if element.name in shape:
            now = node_fields(element)
            for name, node in node_fields(shape[element.name]).items():
                pin = pin_at(node)
                if pin is not None:
                    found[pin] = now[name]
    return found
