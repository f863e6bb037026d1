"""What a defect does to the elements of a part."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from incircuit.board.model import Part
from incircuit.parts.defects import Defect, drifting, turned
from incircuit.parts.elements import Capacitance, Change, Coupling, Element, Junction, Resistance, nodes_of
from incircuit.parts.structure import between, moved, node_fields, nodes_by_pin, pin_at, skeleton


def change(part: Part, elements: Sequence[Element], defect: Defect, magnitude: float | None = None,
           pin_nodes: Mapping[str, str] | None = None) -> Change:
    """What the defect takes from `elements` (the part's own, as they are now) and adds.

    `magnitude` [Ω] or factor, None for the typical one. Nodes of lifted pins are seen on the
    elements; `pin_nodes` gives them for pins that no element touches.
    """
    nodes = {**nodes_by_pin(part, elements), **(pin_nodes or {})}
    size = magnitude
    if size is None and defect.magnitude is not None:
        size = defect.magnitude.typical
    names = frozenset(e.name for e in elements)
    match defect.word:
        case "missing":
            return Change(names)
        case "open":
            return _opened(part, elements, defect.pins)
        case "short" | "leaky":
            a, b = (nodes[pin] for pin in defect.pins or part.pin_names[:2])
            name = f"{part.ref} {defect.word} {'-'.join(defect.pins)}".rstrip()
            return Change(add=(Resistance(name, part.ref, a, b, size or 0.0),)) if a != b else Change()
        case "reversed":
            swap = {pin: nodes[other] for pin, other in turned(part, defect.pins).items()}
            return _rewired(part, elements, swap, defect.name)
        case _:
            return _scaled(part, elements, defect, 1.0 if size is None else size)


def _opened(part: Part, elements: Sequence[Element], pins: tuple[str, ...]) -> Change:
    if len(pins) == 2 and len(part.pins) > 2:
        gone = set(between(part, *pins))
        return Change(frozenset(e.name for e in elements if e.name in gone))
    if len(part.pins) == 2:
        return Change(frozenset(e.name for e in elements))
    (pin,) = pins
    shape = {e.name: e for e in skeleton(part)}
    at = [e for e in elements if e.name in shape and f"@{pin}" in nodes_of(shape[e.name])]
    steering = {e.junction for e in elements if isinstance(e, Coupling)}
    lone = len(at) == 1 and isinstance(at[0], Resistance | Capacitance | Junction)
    if lone and at[0].name not in steering:
        return Change(frozenset({at[0].name}))  # it would hang at one end
    return _rewired(part, elements, {pin: f"{part.ref} {pin} open"}, f"open {pin}")


def _rewired(part: Part, elements: Sequence[Element], to: Mapping[str, str], tag: str) -> Change:
    """Elements that touch some pins, moved to other nodes under names that carry the tag."""
    shape = {e.name: e for e in skeleton(part)}
    renamed: dict[str, Element] = {}
    for element in elements:
        if element.name in shape:
            fields = {name: to[pin] for name, node in node_fields(shape[element.name]).items()
                      if (pin := pin_at(node)) is not None and pin in to}
            if fields:
                renamed[element.name] = _named(moved(element, fields), f"{element.name} ({tag})")
    return _followed(elements, renamed)


def _scaled(part: Part, elements: Sequence[Element], defect: Defect, factor: float) -> Change:
    """Drifted, dried or wrong value: the elements of the value times a factor."""
    wanted = {name for pins, names in drifting(part) for name in names
              if defect.word != "drifted" or not defect.pins or set(pins) == set(defect.pins)}
    tag = f"{defect.word} {'-'.join(defect.pins)}".rstrip()
    renamed: dict[str, Element] = {}
    for e in elements:
        if e.name not in wanted:
            continue
        if isinstance(e, Resistance):
            # turns are shorted where a winding has lost ohms; magnitudes in one batch may differ in ohms only
            coil = replace(e.coil, turns_shorted=True) if e.coil and factor < 1.0 else e.coil
            name = f"{e.name} ({tag}{', turns shorted' if coil != e.coil else ''})"
            renamed[e.name] = replace(e, name=name, ohms=e.ohms * factor, coil=coil)
        elif isinstance(e, Capacitance):
            farads, esr = _worn(e, defect.word, factor)
            name = f"{e.name} ({tag} x{factor!r})"  # magnitudes in one batch may differ in ohms only
            renamed[e.name] = replace(e, name=name, farads=farads, esr=esr)
    return Change(frozenset(renamed), tuple(renamed.values()))


def _worn(e: Capacitance, word: str, factor: float) -> tuple[float, float]:
    """Farads and esr [ohm] of a capacitance after a defect of that size."""
    if word == "high-esr":
        return e.farads, e.esr * factor
    if word == "dried" and factor:
        # less wetted plate and less to conduct in between; the end of life, by common practice 20 % lost
        # and twice the ESR, is the cube
        return e.farads * factor, e.esr * min(factor**-3.0, 1e4)
    return e.farads * factor, e.esr


def _named(element: Element, name: str) -> Element:
    return replace(element, name=name)


def _followed(elements: Iterable[Element], renamed: dict[str, Element]) -> Change:
    """The change, with couplings that follow a renamed junction renamed too."""
    for e in elements:
        if isinstance(e, Coupling) and e.junction in renamed:
            now = renamed.get(e.name, e)
            assert isinstance(now, Coupling)
            tag = renamed[e.junction].name[len(e.junction):]
            renamed[e.name] = replace(now, name=f"{e.name}{tag}", junction=renamed[e.junction].name)
    return Change(frozenset(renamed), tuple(renamed.values()))
