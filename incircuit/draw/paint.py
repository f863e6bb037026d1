"""Nets, parts, probes and numbers as SVG groups."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from incircuit.board.kinds import KINDS
from incircuit.draw.arrangement import Arrangement, net_text
from incircuit.draw.flow import Flow
from incircuit.draw.labels import NET, Spot
from incircuit.draw.scene import Scene
from incircuit.draw.strokes import Circle, Point, Text, line
from incircuit.draw.svg import CURRENT, INK, MARK, MARK_FILL, MUTED, PAPER, RED, group, number, path_data, stroke, tag, text
from incircuit.draw.wires import Placed, Rail, Wire

THIN, THICK = 1.3, 6.0
LEAST_SHARE = 0.005


@dataclass(frozen=True, slots=True)
class Look:
    """What is shown beside the circuit itself."""

    flow: Flow | None
    marks: Mapping[str, str]
    probes: Mapping[str, str]


def weight(share: float) -> float:
    """Line weight [px] of a share of the meter's current.

    >>> weight(0.0), weight(1.0)
    (1.3, 6.0)
    """
    return THIN if share < LEAST_SHARE else THIN + 1.0 + (THICK - THIN - 1.0) * min(share, 1.0)


def _wire(points: Iterable[Point], share: float, extra: Mapping[str, str | None]) -> str:
    carries = share >= LEAST_SHARE
    return tag("path", {"class": "wire carries" if carries else "wire", "d": path_data(points), "fill": "none",
                        "stroke": CURRENT if carries else None, "stroke-width": number(weight(share)) if carries else None,
                        "stroke-linejoin": "round", **extra})


def net_group(scene: Scene, plan: Arrangement, rail: Rail, look: Look) -> str:
    """A rail with the wires of its pins, dots, terminal and name."""
    node = scene.nodes[rail.net]
    wires = [(p.item, w) for p in plan.sheet.placed for w in p.wires if w.net == rail.net]
    spots = [s for s in plan.spots if s.tag.net == rail.net]
    ends = [s for s in spots if s.tag.kind == "name" and s.end in ("left", "right")]
    xs = sorted({rail.left, rail.right, *(s.x for s in ends)})
    inside = []
    shares = _rail_shares(scene, rail, wires, look)
    stops = sorted({*rail.at, *xs})
    if any(share >= LEAST_SHARE for share in shares.values()):
        inside += [_wire([(a, rail.y), (b, rail.y)], shares.get(a, 0.0), {})
                   for a, b in zip(stops, stops[1:], strict=False)]
    elif xs[-1] > xs[0]:
        inside.append(_wire([(xs[0], rail.y), (xs[-1], rail.y)], 0.0, {}))
    for item, w in wires:
        part = scene.items[item].part
        share = abs(look.flow.pins.get((part.ref, w.pin), 0.0)) if look.flow else 0.0
        inside.append(_wire([(x, y) for x, y in w.points], share, {"data-pin": f"{part.ref}.{w.pin}"}))
    inside += [stroke(Circle(x, rail.y, 2.6, "solid")) for x in dots(rail, wires, xs)]
    inside += [_name(scene, s) for s in spots if s.tag.kind == "name"]
    inside += [_terminal(s.x, rail.y, node.hidden, node.cut, s.end) for s in ends]
    if node.loose:
        inside.append(stroke(Circle(rail.left, rail.y, 3.0, "paper")))
    hit = [[(xs[0], rail.y), (xs[-1] + (0.1 if xs[0] == xs[-1] else 0.0), rail.y)]]
    hit += [[(x, y) for x, y in w.points] for _, w in wires]
    inside.append(tag("path", {"class": "hit", "d": "".join(path_data(h) for h in hit), "fill": "none",
                               "stroke": "transparent", "stroke-width": "14", "pointer-events": "stroke"}))
    title = node.name + (f": {node.net.text}" if node.net and node.net.text else "")
    title += f", test point {node.net.pad}" if node.net and node.net.pad else ""
    title += ", no place to put a probe" if node.hidden else ""
    return group({"class": "net", "data-net": node.name, "stroke": INK, "stroke-width": number(THIN)}, title, inside)


def _rail_shares(scene: Scene, rail: Rail, wires: list[tuple[int, Wire]], look: Look) -> dict[float, float]:
    """Share that flows in the rail right of each x where something meets it."""
    if look.flow is None:
        return {}
    enters: dict[float, float] = {}
    for item, w in wires:
        x = w.points[-1][0]
        enters[x] = enters.get(x, 0.0) - look.flow.pins.get((scene.items[item].part.ref, w.pin), 0.0)
    total = sum(enters.values())
    if abs(total) > LEAST_SHARE:  # the probe's share comes in where it is least in the way: at the nearest wire
        at = max(enters, key=lambda x: (abs(enters[x]), -x))
        enters[at] -= total
    running, found = 0.0, {}
    for x in sorted(enters):
        running += enters[x]
        found[x] = abs(running)
    return found


def dots(rail: Rail, wires: list[tuple[int, Wire]], xs: list[float]) -> list[float]:
    """Where three wires or more meet on a rail."""
    found = []
    for x in rail.at:
        ways = {("L", 0)} if xs[0] < x else set()
        ways |= {("R", 0)} if xs[-1] > x else set()
        for k, (_, w) in enumerate(wires):
            if w.points[-1][0] == x:
                if w.flat:
                    ways.add(("L", 0) if w.points[0][0] < x else ("R", 0))
                else:
                    ways.add(("U" if w.points[-2][1] < rail.y else "D", k))
        if len(ways) >= 3:
            found.append(x)
    return found


def _name(scene: Scene, s: Spot) -> str:
    left, top, right, bottom = s.box
    node = scene.nodes[s.tag.net]
    anchor, x = {"left": ("end", right), "right": ("start", left)}.get(s.end, ("middle", (left + right) / 2))
    return text(Text(x, top + 10.2, net_text(scene, s.tag.net), anchor, NET, "net"),
                MUTED if node.hidden else INK, italic=node.hidden)


def _terminal(x: float, y: float, hidden: bool, cut: bool, end: str) -> str:
    if cut:
        way = -1 if end == "left" else 1
        return stroke(line((x - 3 * way, y - 3.5), (x + 2 * way, y), (x - 3 * way, y + 3.5)))
    return "" if hidden else stroke(Circle(x, y, 3.0, "paper"))


def part_group(scene: Scene, placed: Placed, look: Look) -> str:
    """A symbol with its label, framed where it is marked."""
    item = scene.items[placed.item]
    ref, flow = item.part.ref, look.flow
    shut = flow is not None and ref in flow.shut
    share = flow.parts.get(ref, 0.0) if flow else 0.0
    classes = ["part", *(["shut"] if shut else []), *(["carries"] if share >= LEAST_SHARE else []),
               *(["removed"] if item.removed else []), *(["marked"] if ref in look.marks else [])]
    inside = []
    if ref in look.marks:
        left, top, right, bottom = placed.body
        box = (min(left, placed.label_box[0]) - 4, min(top, placed.label_box[1]) - 3,
               max(right, placed.label_box[2]) + 4, max(bottom, placed.label_box[3]) + 3)
        inside.append(tag("rect", {"class": "mark", "x": box[0], "y": box[1], "width": box[2] - box[0],
                                   "height": box[3] - box[1], "rx": "6", "fill": MARK_FILL, "stroke": MARK,
                                   "stroke-width": "1.6", "stroke-dasharray": "6 3"}))
    ink = MUTED if shut or item.removed else INK
    strokes = "".join(stroke(s) for s in placed.strokes)
    inside.append(tag("g", {"class": "symbol", "stroke": ink, "stroke-width": number(1.8 if share >= LEAST_SHARE else 1.3),
                            "stroke-linejoin": "round", "stroke-linecap": "round",
                            "stroke-dasharray": "2 3" if item.removed else None}, strokes))
    inside += [text(t, MARK if k >= 2 and ref in look.marks else INK) for k, t in enumerate(placed.label)]
    title = f"{ref}: {KINDS[item.part.kind].doc}" + (f", {', '.join(t.text for t in placed.label[1:])}" if len(placed.label) > 1 else "")
    title += ", taken off" if item.removed else ", does not conduct here" if shut else ""
    title += f", carries {100 * share:.0f} % of the meter's current" if share >= LEAST_SHARE else ""
    name = {"data-jumper": ref} if item.wire else {"data-part": ref}
    return group({"class": " ".join(classes), **name}, title, inside)


def tag_marks(scene: Scene, plan: Arrangement) -> Iterable[str]:
    """Probes and step numbers."""
    for s in plan.spots:
        if s.tag.kind == "probe":
            yield _probe(s)
        elif s.tag.kind == "steps":
            yield _steps(s)


def _probe(s: Spot) -> str:
    """Red: a round head with an R. Black: a square one with a B. Both with a tip on the rail."""
    left, top, right, bottom = (s.box[0], s.box[1], s.box[2], s.box[3])
    x, red = (left + right) / 2, s.tag.text == "red"
    way = 1.0 if s.end == "above" else -1.0
    tip, head = (bottom + 2.5, top + 8.5) if s.end == "above" else (top - 2.5, bottom - 8.5)
    colour = RED if red else INK
    body = (tag("circle", {"cx": x, "cy": head, "r": 8.5, "fill": colour, "stroke": PAPER}) if red else
            tag("rect", {"x": x - 8, "y": head - 8, "width": 16.0, "height": 16.0, "fill": colour, "stroke": PAPER}))
    spike = tag("path", {"d": path_data([(x - 3.5, head + 7 * way), (x + 3.5, head + 7 * way), (x, tip)], True),
                         "fill": colour, "stroke": "none"})
    letter = text(Text(x, head + 4.2, "R" if red else "B", "middle", 12, "probe"), PAPER, "bold")
    return group({"class": f"probe probe-{s.tag.text}", "data-probe": s.tag.text}, f"{s.tag.text} probe",
                 [spike, body, letter])


def _steps(s: Spot) -> str:
    """Numbers of the readings at a pad: in a filled ring for the red probe, in an open square for the black."""
    inside = []
    for k, word in enumerate(s.tag.text.split()):
        x, y = s.box[0] + 8.0 + 15.0 * k, s.box[1] + 7.5
        red = word.endswith("r")
        if red:
            inside.append(tag("circle", {"cx": x, "cy": y, "r": 7.0, "fill": INK, "stroke": INK}))
        else:
            inside.append(tag("rect", {"x": x - 6.5, "y": y - 6.5, "width": 13.0, "height": 13.0, "fill": PAPER,
                                       "stroke": INK, "stroke-width": "1.2"}))
        inside.append(text(Text(x, y + 3.4, word[:-1], "middle", 9.5, "step"), PAPER if red else INK, "bold"))
    return group({"class": "steps"}, "", inside)
