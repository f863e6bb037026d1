"""Elements on nodes, compiled for the solver: numbered nodes and index arrays, no values.

Values live in `Values`, so that one compiled `Network` serves thousands of scenarios.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from incircuit.circuit.layout import Ends, Layout, ints, lay_out
from incircuit.parts.elements import (
    INFINITE,
    Capacitance,
    Channel,
    Coupling,
    Element,
    Junction,
    Resistance,
    nodes_of,
)

LINK_OHMS = 2e-4
"""Resistances up to this are links: their ends are one node. At a meter's milliampere that is 0.2 µV."""


@dataclass(frozen=True, slots=True)
class Network:
    """A compiled topology between two pads.

    Nodes are numbered 0 … size−1; the black pad is the reference and has number `size`. `index` maps
    every node name to its number (names joined by links share one); `red` is the number of the red
    pad, `size` itself when both pads are one node. Tuples of elements are sorted by name.
    `companions` are the capacitances that carry current: none in a network at rest. `closed` are windings
    with both ends on one node: no direct current flows there, and alternating current sees its core shorted.
    """

    index: dict[str, int]
    size: int
    red: int
    resistances: tuple[Resistance, ...]
    junctions: tuple[Junction, ...]
    couplings: tuple[Coupling, ...]
    channels: tuple[Channel, ...]
    capacitances: tuple[Capacitance, ...]
    companions: tuple[Capacitance, ...]
    ends: Ends
    layout: Layout
    closed: tuple[Resistance, ...] = ()

    @property
    def black(self) -> int:
        """Number of the reference node."""
        return self.size

    @property
    def shorted(self) -> bool:
        """Both pads on one node: nothing to solve."""
        return self.red == self.size

    def node_names(self) -> tuple[tuple[str, ...], ...]:
        """Names per node number, the reference node last."""
        names: list[list[str]] = [[] for _ in range(self.size + 1)]
        for name, number in self.index.items():
            names[number].append(name)
        return tuple(tuple(n) for n in names)


def compile_network(elements: Iterable[Element], red: str, black: str,
                    keep_links: bool = False, moving: bool = False) -> Network:
    """Number the nodes and lay out the equations for a meter between `red` and `black`.

    `elements` need not contain the pads: a pad nothing touches is a floating node. The order of the
    elements does not matter to the answer: they are sorted by name. With `keep_links`, links stay
    elements of `LINK_OHMS` so that a batch may open them. With `moving`, capacitances become branches of a
    conductance and a voltage behind it (`Values.gc`, `Values.ec`), as one step of a course needs them.
    """
    listed = sorted(elements, key=lambda e: e.name)
    merged = _merge_links(listed, keep_links)
    index = _number(listed, merged, red, black)
    size = max(index.values(), default=0)
    resistances = tuple(e for e in listed if isinstance(e, Resistance)
                        and e.ohms != INFINITE and index[e.a] != index[e.b])
    junctions = tuple(e for e in listed if isinstance(e, Junction))
    couplings = tuple(e for e in listed if isinstance(e, Coupling))
    channels = tuple(e for e in listed if isinstance(e, Channel))
    which = {j.name: k for k, j in enumerate(junctions)}
    capacitances = tuple(e for e in listed if isinstance(e, Capacitance))
    companions = tuple(e for e in capacitances if moving and index[e.a] != index[e.b])
    ends = Ends(
        ra=ints(index[e.a] for e in resistances),
        rb=ints(index[e.b] for e in resistances),
        ja=ints(index[e.anode] for e in junctions),
        jk=ints(index[e.cathode] for e in junctions),
        cj=ints(which[e.junction] for e in couplings),
        cs=ints(index[e.source] for e in couplings),
        ck=ints(index[e.sink] for e in couplings),
        md=ints(index[e.d] for e in channels),
        mg=ints(index[e.g] for e in channels),
        ms=ints(index[e.s] for e in channels),
        xa=ints(index[e.a] for e in companions),
        xb=ints(index[e.b] for e in companions),
    )
    return Network(index, size, index[red], resistances, junctions, couplings, channels, capacitances,
                   companions, ends, lay_out(size, index[red], ends),
                   tuple(e for e in listed
                         if isinstance(e, Resistance) and e.coil and index[e.a] == index[e.b]))


def _merge_links(elements: Sequence[Element], keep_links: bool) -> dict[str, str]:
    """Representative of each node after joining the ends of links (union–find)."""
    parent: dict[str, str] = {}

    def find(name: str) -> str:
        root = name
        while parent.get(root, root) != root:
            root = parent[root]
        while parent.get(name, name) != root:
            parent[name], name = root, parent[name]
        return root

    for element in elements:
        for node in nodes_of(element):
            parent.setdefault(node, node)
        if isinstance(element, Resistance) and element.ohms <= LINK_OHMS and not keep_links:
            parent[find(element.b)] = find(element.a)
    return {name: find(name) for name in parent}


def _number(elements: Sequence[Element], merged: dict[str, str], red: str, black: str) -> dict[str, int]:
    """Numbers in order of first mention by the sorted elements; the reference node comes last."""
    reference = merged.get(black, black)
    numbers: dict[str, int] = {}
    for name in [red, *(n for e in elements for n in nodes_of(e))]:
        root = merged.get(name, name)
        if root != reference and root not in numbers:
            numbers[root] = len(numbers)
    numbers[reference] = len(numbers)
    index = {name: numbers[root] for name, root in merged.items()}
    index.setdefault(red, numbers[merged.get(red, red)])
    index.setdefault(black, numbers[reference])
    return index
