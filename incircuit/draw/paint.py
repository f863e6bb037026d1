"""Nets and parts as SVG groups."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from incircuit.board.kinds import KINDS
from incircuit.draw.arrangement import Arrangement, net_text
from incircuit.draw.flow import LEAST_SHARE, Flow
from incircuit.draw.labels import NET, Spot
from incircuit.draw.scene import Node, Scene
from incircuit.draw.strokes import Circle, Point, Text, line
from incircuit.draw.svg import (
    CURRENT,
    INK,
    MARK,
    MARK_FILL,
    MUTED,
    group,
    number,
    path_data,
    stroke,
    tag,
    text,
)
from incircuit.draw.wires import Placed, Rail, Wire, frame_of

THIN, THICK = 1.3, 6.0
"""Line weights [px]: no current, all of the meter's current."""
HIT = "14"
"""Width of the invisible line that takes clicks [px]."""


@dataclass(frozen=True, slots=True)
class Look:
    """What is shown beside the circuit itself."""

    flow: Flow | None
    marks: Mapping[str, str]


def weight(share: float) -> float:
    """Line weight [px] of a share of the meter's current.

    >>> weight(0.0), weight(1.0)
    (1.3, 6.0)
    """
    return THIN if share < LEAST_SHARE else THIN + 1.0 + (THICK - THIN - 1.0) * min(share, 1.0)


def _wire(points: Iterable[Point], share: float, pin: str | None = None) -> str:
    carries = share >= LEAST_SHARE
    return tag("path", {
        "class": "wire carries" if carries else "wire", "d": path_data(points), "fill": "none",
        "stroke": CURRENT if carries else None, "stroke-width": number(weight(share)) if carries else None,
        "stroke-linejoin": "round", "stroke-linecap": "round" if carries else None, "data-pin": pin})


def net_group(scene: Scene, plan: Arrangement, rail: Rail, look: Look) -> str:
    """A rail with the wires of its pins, dots, terminal and name."""
    node = scene.nodes[rail.net]
    wires = [(scene.items[p.item].part.ref, w)
             for p in plan.sheet.placed for w in p.wires if w.net == rail.net]
    spots = [s for s in plan.spots if s.tag.net == rail.net]
    names = [s for s in spots if s.tag.kind == "name"]
    ends = [s for s in names if s.end in ("left", "right")]
    probe = next((s for s in spots if s.tag.kind == "probe"), None)
    first = {s.end: s.x for s in reversed(spots) if s.end in ("left", "right")}  # the others stand behind it
    xs = sorted({rail.left, rail.right, *first.values()})
    inside = [*_rail_wires(rail, xs, wires, look, probe)]
    for ref, w in wires:
        share = abs(look.flow.pins.get((ref, w.pin), 0.0)) if look.flow else 0.0
        inside.append(_wire(w.points, share, f"{ref}.{w.pin}"))
    inside += [stroke(Circle(x, rail.y, 2.6, "solid")) for x in dots(rail, [w for _, w in wires], xs)]
    inside += [_name(scene, s) for s in names]
    inside += [_terminal(node, s.x, rail.y, s.end) for s in ends]
    if not ends and rail.left == rail.right and len(wires) == 1 and not node.hidden:
        inside.append(stroke(Circle(rail.left, rail.y, 3.0, "paper")))  # a wire that ends here
    if node.loose:
        inside.append(stroke(Circle(rail.left, rail.y, 3.0, "paper")))
    right = xs[-1] + (0.1 if xs[0] == xs[-1] else 0.0)
    hit = path_data([(xs[0], rail.y), (right, rail.y)]) + "".join(path_data(w.points) for _, w in wires)
    inside.append(tag("path", {"class": "hit", "d": hit, "fill": "none", "stroke": "transparent",
                               "stroke-width": HIT, "pointer-events": "stroke"}))
    said = {"class": "net", "data-net": node.name, "stroke": INK, "stroke-width": number(THIN)}
    return group(said, _net_title(node), inside)


def _net_title(node: Node) -> str:
    said = node.name
    if node.net is not None:
        said += f": {node.net.text}" if node.net.text else ""
        said += f", test point {node.net.pad}" if node.net.pad else ""
    return said + (", no place to put a probe" if node.hidden else "")


def _rail_wires(rail: Rail, xs: Sequence[float], wires: Sequence[tuple[str, Wire]], look: Look,
                probe: Spot | None) -> Iterable[str]:
    """The rail, in one piece; in pieces of their own weight where it carries current."""
    shares = _rail_shares(xs, wires, look.flow, probe) if look.flow else {}
    if any(share >= LEAST_SHARE for share in shares.values()):
        stops = sorted({*rail.at, *xs, *shares})
        held = 0.0
        for a, b in pairwise(stops):
            held = shares.get(a, held)
            yield _wire([(a, rail.y), (b, rail.y)], held)
    elif xs[-1] > xs[0]:
        yield _wire([(xs[0], rail.y), (xs[-1], rail.y)], 0.0)


def _rail_shares(xs: Sequence[float], wires: Sequence[tuple[str, Wire]], flow: Flow,
                 probe: Spot | None) -> dict[float, float]:
    """Share that flows in the rail right of each x where something meets it; the probe meets it too."""
    enters: dict[float, float] = {}
    for ref, w in wires:
        x = w.points[-1][0]
        enters[x] = enters.get(x, 0.0) - flow.pins.get((ref, w.pin), 0.0)
    total = sum(enters.values())
    if abs(total) >= LEAST_SHARE:
        at = max(enters, key=lambda x: (abs(enters[x]), -x))
        if probe is not None:
            at = min(max(probe.x, xs[0]), xs[-1])
        enters[at] = enters.get(at, 0.0) - total
    running, found = 0.0, {}
    for x in sorted(enters):
        running += enters[x]
        found[x] = abs(running)
    return found


def dots(rail: Rail, wires: Sequence[Wire], xs: Sequence[float]) -> list[float]:
    """Where three wires or more meet on a rail."""
    found = []
    for x in rail.at:
        ways = [*(["left"] if xs[0] < x else []), *(["right"] if xs[-1] > x else [])]
        for w in wires:
            if w.points[-1][0] == x:
                if not w.flat:
                    ways.append("upright")
                elif (side := "left" if w.points[0][0] < x else "right") not in ways:
                    ways.append(side)
        if len(ways) >= 3:
            found.append(x)
    return found


def _name(scene: Scene, s: Spot) -> str:
    left, top, right, _ = s.box
    node = scene.nodes[s.tag.net]
    anchor, x = {"left": ("end", right), "right": ("start", left)}.get(s.end, ("middle", (left + right) / 2))
    said = net_text(node, arrow=s.end in ("left", "right"))
    ink = MUTED if node.hidden else INK
    return text(Text(x, top + 10.2, said, anchor, NET, "net"), ink, italic=node.hidden)


def _terminal(node: Node, x: float, y: float, end: str) -> str:
    """An open ring where a probe can go; an arrow head where the net goes on to parts not drawn."""
    if node.cut:
        way = -1 if end == "left" else 1
        return stroke(line((x - 3 * way, y - 3.5), (x + 2 * way, y), (x - 3 * way, y + 3.5)))
    return "" if node.hidden or node.loose else stroke(Circle(x, y, 3.0, "paper"))


def part_group(scene: Scene, placed: Placed, look: Look) -> str:
    """A symbol with its label, framed where it is marked."""
    item = scene.items[placed.item]
    ref, flow = item.part.ref, look.flow
    shut = flow is not None and ref in flow.shut and item.part.kind != "chip"
    share = flow.parts.get(ref, 0.0) if flow else 0.0
    carries, marked = share >= LEAST_SHARE, ref in look.marks
    classes = [word for word, is_so in (("part", True), ("shut", shut), ("carries", carries),
                                        ("removed", item.removed), ("marked", marked)) if is_so]
    ink = MUTED if shut or item.removed else INK
    symbol = tag("g", {
        "class": "symbol", "stroke": ink, "stroke-width": "2" if carries else number(THIN),
        "stroke-linejoin": "round", "stroke-linecap": "round",
        "stroke-dasharray": "2 3" if item.removed else None}, "".join(stroke(s, ink) for s in placed.strokes))
    inside = [*([_frame(placed)] if marked else []), symbol, *(text(t) for t in placed.label)]
    title = [f"{ref}: {'a wire soldered in' if item.wire else KINDS[item.part.kind].doc}"]
    title += [t.text for t in placed.label[1:]]
    title += ["taken off"] if item.removed else ["does not conduct here"] if shut else []
    title += [f"carries {100 * share:.0f} % of the meter's current"] if carries else []
    named = {"data-jumper": ref} if item.wire else {"data-part": ref}
    return group({"class": " ".join(classes), **named}, ", ".join(title), inside)


def _frame(placed: Placed) -> str:
    """The frame of a marked part, label included."""
    left, top, right, bottom = frame_of(placed)
    return tag("rect", {"class": "mark", "x": left, "y": top, "width": right - left, "height": bottom - top,
                        "rx": "6", "fill": MARK_FILL, "stroke": MARK, "stroke-width": "1.6",
                        "stroke-dasharray": "6 3"})
