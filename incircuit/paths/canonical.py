"""Networks that are the same but for names: a form in which equal networks are equal.

Nodes are told apart by what hangs on them, round after round (colour refinement, B. Weisfeiler and
A. Leman, 1968); where a tie is left one of the tied nodes is taken first. Two networks of one form are
the same network; two same networks get one form unless a tie was broken in two ways that are not
symmetric, which costs a repetition and never a wrong answer.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from incircuit.parts.elements import Capacitance, Channel, Coupling, Element, Junction, Resistance, Spread

Row = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Form:
    """`rows` describe the network without names; `elements` are the numbers of the elements in the order of
    the rows, `nodes` gives every node its number in the rows."""

    rows: tuple[Row, ...]
    elements: tuple[int, ...]
    nodes: Mapping[str, int]


def form_of(elements: Sequence[Element], fixed: Sequence[str] = (), values: bool = True) -> Form:
    """The form of a network; `fixed` nodes keep their order. Without `values` only kinds and nodes count."""
    kinds = [kind_of(e, values) for e in elements]
    ends = [ends_of(e, elements, k) for k, e in enumerate(elements)]
    names = list(dict.fromkeys(n for nodes in ends for n in nodes))
    colour = dict.fromkeys(names, len(fixed))
    colour.update((n, k) for k, n in enumerate(fixed) if n in colour)
    at: dict[str, list[tuple[int, int]]] = {n: [] for n in names}
    for k, nodes in enumerate(ends):
        for place, node in enumerate(nodes):
            at[node].append((k, place if _directed(elements[k]) else 0))
    rank = _ranks(kinds)
    colour = _refined(colour, at, ends, rank)
    while len(set(colour.values())) < len(names):
        colour = _refined(_split(colour, names), at, ends, rank)
    rows = [(rank[k], *(colour[n] for n in _in_order(elements[k], nodes, colour)))
            for k, nodes in enumerate(ends)]
    order = sorted(range(len(elements)), key=lambda k: (rows[k], k))
    listed = tuple((kinds[k], *rows[k][1:]) for k in order)
    where = tuple(colour.get(n, -1) for n in fixed)  # a fixed node may be on no element at all
    return Form((where, *listed), tuple(order), colour)


def kind_of(e: Element, values: bool = True) -> Row:
    """What an element is, without names and nodes."""
    match e:
        case Resistance():
            more: Row = (e.ohms, e.ntc_beta, e.tempco)
        case Junction():
            more = (e.is_, e.n, e.rs, e.bv, e.ibv, e.eg, e.xti, *_width(e.n_spread))
        case Coupling():
            more = (e.gain,)
        case Channel():
            return ("channel", e.sign, *((e.vto, e.kp, e.charge, *_width(e.spread)) if values else ()))
        case Capacitance():
            return ("capacitance", *((e.farads,) if values else ()))
    width = _width(e.spread) if not isinstance(e, Coupling) else ()
    return (type(e).__name__, *((*more, *width) if values else ()))


def _width(spread: Spread) -> Row:
    return spread.own, spread.shared


def ends_of(e: Element, elements: Sequence[Element], k: int) -> tuple[str, ...]:
    """Nodes of an element; of a coupling those of its junction too, which is looked for near number `k`."""
    match e:
        case Resistance() | Capacitance():
            return e.a, e.b
        case Junction():
            return e.anode, e.cathode
        case Channel():
            return e.d, e.g, e.s
        case Coupling():
            return (e.source, e.sink, *_steering(e, elements, k))


def _steering(e: Coupling, elements: Sequence[Element], k: int) -> tuple[str, ...]:
    for other in (*elements[max(0, k - 6):k + 6], *elements):
        if other.name == e.junction and isinstance(other, Junction):
            return other.anode, other.cathode
    return ()


def _directed(e: Element) -> bool:
    return not isinstance(e, Resistance | Capacitance)


def _in_order(e: Element, nodes: tuple[str, ...], colour: Mapping[str, int]) -> Sequence[str]:
    return nodes if _directed(e) else sorted(nodes, key=lambda n: colour[n])


def _ranks(kinds: Sequence[Row]) -> list[int]:
    order = {kind: k for k, kind in enumerate(sorted(set(kinds), key=repr))}
    return [order[kind] for kind in kinds]


def _refined(colour: dict[str, int], at: Mapping[str, list[tuple[int, int]]], ends: Sequence[tuple[str, ...]],
             rank: Sequence[int]) -> dict[str, int]:
    """Colours refined until they stay as many."""
    count = len(set(colour.values()))
    while True:
        keys = {node: (colour[node], tuple(sorted((rank[k], place, *(colour[n] for n in ends[k]))
                                                  for k, place in uses))) for node, uses in at.items()}
        order = {key: k for k, key in enumerate(sorted(set(keys.values())))}
        colour = {node: order[key] for node, key in keys.items()}
        if len(order) == count:
            return colour
        count = len(order)


def _split(colour: Mapping[str, int], names: Sequence[str]) -> dict[str, int]:
    """The first node of the first shared colour gets one of its own, before the others."""
    count: dict[int, int] = {}
    for node in names:
        count[colour[node]] = count.get(colour[node], 0) + 1
    shared = min(c for c, n in count.items() if n > 1)
    first = next(node for node in names if colour[node] == shared)
    return {node: 2 * c - (node == first) for node, c in colour.items()}
