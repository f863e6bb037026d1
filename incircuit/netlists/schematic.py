"""The S-expression netlist that open-source schematic editors export: components and nets to parts.

``(export (components (comp (ref …) (value …) (libsource (lib …) (part …)))) (libparts …)
(nets (net (name …) (node (ref …) (pin …) (pinfunction …)))))``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from incircuit.board.model import Net
from incircuit.netlists.component import Component
from incircuit.netlists.devices import Found
from incircuit.netlists.guess import guessed
from incircuit.netlists.notes import Notes, Word
from incircuit.netlists.sexpr import Node, read_sexpr
from incircuit.units import shown

MOST_PARTS = 20_000

_NOT_FITTED = frozenset({"dnp", "dnf", "dni", "nc", "n.c.", "nf", "np", "do not populate", "not fitted"})


@dataclass(frozen=True, slots=True)
class _Pin:
    number: str
    function: str
    net: str


def schematic_parts(text: str, file: str, notes: Notes) -> tuple[str, list[Found], tuple[Net, ...]]:
    """(title, parts, nets with a test point) of a netlist. What cannot be read is noted and left out."""
    root = read_sexpr(text, file, notes)
    if root is None:
        return "", [], ()
    if root.name != "export":
        notes.error(root.head, f'this is no exported netlist: it begins with "{shown(root.name)}"',
                    "let the editor export the netlist; drawings and boards are not read")
        return "", [], ()
    pins = _pins(root, notes)
    names = _library_pins(root)
    found: list[Found] = []
    points: list[Net] = []
    seen: set[str] = set()
    for node in _components(root, notes):
        ref = node.word("ref")
        if ref is None or not ref.text:
            notes.error(node.head, "a component without a reference: it is left out")
        elif ref.text in seen:
            notes.error(ref, f"a second {shown(ref.text)}: it is left out")
        else:
            seen.add(ref.text)
            _take(node, ref, pins.get(ref.text, []), names, found, points, notes)
    for ref_text, some in pins.items():
        if ref_text not in seen and some:
            notes.error(_node_at(root, ref_text), f"a net names {shown(ref_text)}, which is no component")
    return _title(root), found, tuple({net.name: net for net in points}.values())


def _components(root: Node, notes: Notes) -> list[Node]:
    every = [node for part in root.all("components") for node in part.all("comp")]
    if len(every) > MOST_PARTS:
        notes.error(every[MOST_PARTS].head, f"more than {MOST_PARTS:,} components: the rest is left out")
    return every[:MOST_PARTS]


def _take(node: Node, ref: Word, pins: list[_Pin], names: Mapping[tuple[str, str], Mapping[str, str]],
          found: list[Found], points: list[Net], notes: Notes) -> None:
    source = node.first("libsource")
    library = (source.text("lib"), source.text("part")) if source is not None else ("", "")
    value = node.word("value") or ref
    if _left_off(node, value.text):
        notes.warn(value, f"{shown(ref.text)} is not fitted: it is left out")
        return
    if not pins:
        return  # a mounting hole, a logo
    known = names.get(library, {})
    named = tuple((p.number, (p.function or known.get(p.number, "")).strip("~"), p.net) for p in pins)
    component = Component(ref.text, value.text if value is not ref else "", library[0], library[1],
                          source.text("description") if source is not None else "", named, ref, value)
    if _is_test_point(component):
        points.append(Net(named[0][2], pad=_pad_name(ref.text)))
        return
    found.append(guessed(component, notes))


def _is_test_point(c: Component) -> bool:
    alone = len({net for _, _, net in c.pins}) == 1
    return alone and (c.part.lower().startswith("testpoint") or c.ref.upper().startswith("TP"))


def _pad_name(ref: str) -> str:
    return "".join(c for c in ref if c.isprintable() and c not in ' "=#')


def _left_off(node: Node, value: str) -> bool:
    flags = {p.text("name").lower() for p in node.all("property")}
    return "dnp" in flags or value.strip().lower() in _NOT_FITTED


def _pins(root: Node, notes: Notes) -> dict[str, list[_Pin]]:
    """Pins of every component by its reference, in the order of their numbers; a pin twice counts once."""
    found: dict[str, dict[str, _Pin]] = {}
    for part in root.all("nets"):
        for net in part.all("net"):
            name = net.text("name") or f"net{net.text('code')}"
            for node in net.all("node"):
                ref, pin = node.text("ref"), node.word("pin")
                if not ref or pin is None:
                    notes.error(node.head, f"a node of net {shown(name)} lacks its ref or pin: left out")
                    continue
                own = found.setdefault(ref, {})
                if pin.text in own and own[pin.text].net != name:
                    notes.error(pin, f"pin {shown(pin.text)} of {shown(ref)} is on net "
                                f"{shown(own[pin.text].net)} already")
                own.setdefault(pin.text, _Pin(pin.text, node.text("pinfunction"), name))
    return {ref: sorted(own.values(), key=lambda p: _order(p.number)) for ref, own in found.items()}


def _order(number: str) -> tuple[int, int, str]:
    """Pins by number, those with letters behind."""
    return (0, int(number), "") if number.isdecimal() and len(number) < 9 else (1, 0, number)


def _library_pins(root: Node) -> dict[tuple[str, str], dict[str, str]]:
    """Names of the pins of every library part, by number."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    for part in root.all("libparts"):
        for made in part.all("libpart"):
            pins = made.first("pins")
            found[made.text("lib"), made.text("part")] = {
                p.text("num"): p.text("name") for p in (pins.all("pin") if pins is not None else ())}
    return found


def _node_at(root: Node, ref: str) -> Word:
    for part in root.all("nets"):
        for net in part.all("net"):
            for node in net.all("node"):
                word = node.word("ref")
                if word is not None and word.text == ref:
                    return word
    return root.head


def _title(root: Node) -> str:
    """Title of the first sheet, else the name of the drawing."""
    design = root.first("design")
    sheets: Sequence[Node] = design.all("sheet") if design is not None else ()
    for sheet in sheets:
        block = sheet.first("title_block")
        if block is not None and block.text("title"):
            return _clean(block.text("title"))
    name = design.text("source").replace("\\", "/").rpartition("/")[2] if design is not None else ""
    return _clean(name.rpartition(".")[0] or name)


def _clean(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)
