"""Many conditions of one board as columns of one network: healthy, and each fault at each magnitude.

The network is the union of all elements that occur; a condition switches off what it lacks. So one
batch serves all faults, whatever they add or take away.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from incircuit.circuit.elimination import Floats
from incircuit.circuit.network import LINK_OHMS, Network, compile_network
from incircuit.circuit.sampling import drawn_values
from incircuit.circuit.values import Values
from incircuit.parts.elements import Change, Element, Resistance

NO_CHANGE = Change()


@dataclass(frozen=True, slots=True)
class Variants:
    """A compiled union: `changes[k]` is condition k. Boards of a condition are contiguous columns."""

    network: Network
    changes: tuple[Change, ...]
    base: frozenset[str]  # names of the unchanged board's elements


def compile_variants(elements: Sequence[Element], changes: Sequence[Change], red: str,
                     black: str, moving: bool = False) -> Variants:
    """The union network of a board and all changes. Added elements of one name must differ in ohms only.

    With `moving`, capacitances carry current, see `compile_network`.
    """
    union: dict[str, Element] = {e.name: e for e in elements}
    changed = {name for change in changes for name in change.remove}
    for change in changes:
        for element in change.add:
            known = union.setdefault(element.name, element)
            if known != element and not _same_but_ohms(known, element):
                raise ValueError(f"element {element.name} is added in two forms")
    # a link that a fault opens has to stay an element; the others join their nodes
    listed = [_kept_open(e) if e.name in changed else e for e in union.values()]
    return Variants(compile_network(listed, red, black, moving=moving), tuple(changes),
                    frozenset(e.name for e in elements))


def _kept_open(element: Element) -> Element:
    if isinstance(element, Resistance) and element.ohms <= LINK_OHMS:
        return replace(element, ohms=1.01 * LINK_OHMS)
    return element


def _same_but_ohms(a: Element, b: Element) -> bool:
    return isinstance(a, Resistance) and isinstance(b, Resistance) and replace(a, ohms=b.ohms) == b


def values_of(variants: Variants, boards: int, celsius: float = 25.0) -> Values:
    """Values for every condition on the nominal board and `boards` drawn ones.

    Columns: condition·(boards + 1) + board. The same drawn boards serve every condition, so that
    conditions differ by the fault alone.
    """
    network = variants.network
    drawn = drawn_values(network, boards, celsius)
    count, columns = len(variants.changes), boards + 1
    factor = {kind: np.ones((len(items), count)) for kind, items in _kinds(network)}
    row_of = {kind: {e.name: k for k, e in enumerate(items)} for kind, items in _kinds(network)}
    for kind, items in _kinds(network):
        for k, element in enumerate(items):
            if element.name not in variants.base:
                factor[kind][k] = 0.0
    for c, change in enumerate(variants.changes):
        for kind in factor:
            for name in change.remove:
                if name in row_of[kind]:
                    factor[kind][row_of[kind][name], c] = 0.0
            for element in change.add:
                if element.name in row_of[kind]:
                    row = row_of[kind][element.name]
                    factor[kind][row, c] = _relative(network, kind, row, element)

    def over(array: Floats, kind: str) -> Floats:
        rows = array.shape[0]  # may be 0, and then -1 in reshape would be ambiguous
        full = np.broadcast_to(array, (rows, columns))
        return np.asarray((factor[kind][:, :, None] * full[:, None, :]).reshape(rows, count * columns))

    def tiled(array: Floats) -> Floats:
        return array if array.shape[1] == 1 else np.tile(array, (1, count))

    on = np.repeat(factor["junction"], columns, axis=1)
    return replace(
        drawn, g=over(drawn.g, "resistance"), is_=over(drawn.is_, "junction"),
        gmin=np.asarray(drawn.gmin * on), nvt=tiled(drawn.nvt), knee=_knees(tiled(drawn.knee), on),
        gain=over(drawn.gain, "coupling"), vto=tiled(drawn.vto), kp=over(drawn.kp, "channel"),
    )


def _knees(knee: Floats, on: Floats) -> Floats:
    """A junction that is switched off does not break down either."""
    return np.where(on > 0.0, knee, np.inf)


def _kinds(network: Network) -> tuple[tuple[str, tuple[Element, ...]], ...]:
    # couplings too: one moved by an open pin follows the same junction as the one it stands for
    return (("resistance", network.resistances), ("junction", network.junctions),
            ("coupling", network.couplings), ("channel", network.channels))


def _relative(network: Network, kind: str, row: int, element: Element) -> float:
    """Conductance of an added element relative to the union's element of that name; 1 but for ohms."""
    if kind != "resistance" or not isinstance(element, Resistance):
        return 1.0
    return max(network.resistances[row].ohms, LINK_OHMS) / max(element.ohms, LINK_OHMS)
