"""Names of nets, probes and step numbers: put where nothing else is, with room made where there is none."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from incircuit.draw.strokes import text_width
from incircuit.draw.wires import Box, Placed, Rail, Sheet

NET = 11.0
"""Size of a net's name [px]."""
STUB = 13.0
"""Wire from the end of a rail to its terminal [px]."""


@dataclass(frozen=True, slots=True)
class Tag:
    """What is to be put beside a rail: a name, or a flag (a probe, a number) of a width and height."""

    net: int
    text: str
    width: float
    height: float
    kind: str = "name"


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a tag went. `end` is ``left`` or ``right`` of the rail by a stub, ``above`` or ``below`` it.

    `x` is where the tag's wire meets the rail or the stub ends, (left, top, right, bottom) its box.
    """

    tag: Tag
    end: str
    x: float
    box: Box


def name_tag(net: int, text: str) -> Tag:
    """The tag of a net's name."""
    return Tag(net, text, text_width(text, NET) + 2, 13.0)


def obstacles(sheet: Sheet) -> list[Box]:
    """Everything a text must not touch."""
    boxes: list[Box] = []
    for p in sheet.placed:
        boxes += [p.body, *line_boxes(p)]
        for w in p.wires:
            for (ax, ay), (bx, by) in zip(w.points, w.points[1:], strict=False):
                boxes.append((min(ax, bx) - 2, min(ay, by) - 1.5, max(ax, bx) + 2, max(ay, by) + 1.5))
    return boxes


def line_boxes(placed: Placed) -> list[Box]:
    """What each line of a part's label covers."""
    found = []
    for t in placed.label:
        wide = text_width(t.text, t.size)
        left = t.x - wide / 2 if t.anchor == "middle" else t.x
        found.append((left, t.y - 0.8 * t.size, left + wide, t.y + 0.25 * t.size))
    return found


def rail_box(rail: Rail) -> Box:
    """A rail as an obstacle."""
    return rail.left - 3, rail.y - 1.5, rail.right + 3, rail.y + 1.5


def touches(box: Box, others: Sequence[Box]) -> bool:
    """Whether a box overlaps any other."""
    left, top, right, bottom = box
    return any(left < o[2] and o[0] < right and top < o[3] and o[1] < bottom for o in others)


def put(
    tags: Sequence[Tag], sheet: Sheet, frames: Sequence[Box] = (), may_cross: Collection[Tag] = ()
) -> tuple[tuple[Spot, ...], tuple[Tag, ...]]:
    """Spots for the tags in order, and the tags for which there is no room.

    `frames` are kept free too; the wires out to the tags of `may_cross` may cross other wires.
    """
    rails = {r.net: r for r in sheet.rails}
    solid = [box for p in sheet.placed for box in (p.body, *line_boxes(p))]
    fixed = [*obstacles(sheet), *frames]
    spots: list[Spot] = []
    left_out: list[Tag] = []
    for tag in tags:
        rail = rails[tag.net]
        mine = {s.end: s for s in spots if s.tag.net == tag.net and s.end in ("left", "right")}
        others = [*(rail_box(r) for r in sheet.rails if r.net != tag.net),
                  *(box for s in spots for box in (s.box, _stub(s, rails[s.tag.net])))]
        near = solid if tag in may_cross else fixed
        found = next((s for s in candidates(tag, rail, mine) if not touches(_padded(s), [*fixed, *others])
                      and (s.end in mine or not touches(_stub(s, rail), [*near, *others]))), None)
        if found is None:
            left_out.append(tag)
        else:
            spots.append(found)
    return tuple(spots), tuple(left_out)


def _padded(s: Spot) -> Box:
    """The text with its terminal, or the end of its wire: that must not lie on another wire."""
    left, top, right, bottom = s.box
    left, right = left - 2, right + 2
    if s.end in ("left", "right"):
        left, right = min(left, s.x - 5), max(right, s.x + 5)
    return left, top, right, bottom


def _stub(s: Spot, rail: Rail) -> Box:
    """The wire out to a name beyond the end of its rail."""
    if s.end == "left":
        return s.x - 3, rail.y - 1, rail.left - 3, rail.y + 1
    if s.end == "right":
        return rail.right + 3, rail.y - 1, s.x + 3, rail.y + 1
    return s.box


def candidates(tag: Tag, rail: Rail, taken: Mapping[str, Spot]) -> list[Spot]:
    """Places to try, the best first: names beyond the ends of the rail, then above and below along it; flags
    along it first, then beside the name. `taken` are the ends that carry something already."""
    w, h, y = tag.width, tag.height, rail.y
    name = tag.kind == "name"

    def beyond(stub: float) -> list[Spot]:
        wide, high = (w, h) if name or tag.kind == "steps" else (h, w)  # a probe lies down there
        found = []
        for end, sign, x in (("left", -1.0, rail.left - stub), ("right", 1.0, rail.right + stub)):
            if end in taken:
                if name:
                    continue
                x = taken[end].box[0 if end == "left" else 2] + sign * (stub - STUB)
            edges = sorted((x + sign * 5, x + sign * (5 + wide)))
            found.append(Spot(tag, end, x, (edges[0], y - high / 2, edges[1], y + high / 2)))
        return found

    found = beyond(STUB) if name else []
    room = rail.right - rail.left - (w + 6 if name else 0.0)
    first = rail.left + 4 if name else rail.left - w / 2
    if name and room < 0:  # a short rail may have its name across its middle
        room, first = 0.0, (rail.left + rail.right - w) / 2
    for end, top in (("above", y - 2.5 - h), ("below", y + 2.5)):
        for k in range(int(room // 6) + 1 if room >= 0 else 0):
            left = first + 6.0 * k
            found.append(Spot(tag, end, left + w / 2, (left, top, left + w, top + h)))
    return found + [spot for k in range(0 if not name else 1, 48) for spot in beyond(STUB + 8.0 * k)]


def room_for(tag: Tag, sheet: Sheet, columns: Sequence[Sequence[int]], right: bool) -> tuple[int, float]:
    """The column left of which a tag gets room, and how much [px]: where its rail begins or ends."""
    rail = next(r for r in sheet.rails if r.net == tag.net)
    x = rail.right if right else rail.left
    owner = next(p.item for p in sheet.placed for w in p.wires if w.net == tag.net and w.points[-1][0] == x)
    column = next(c for c, items in enumerate(columns) if owner in items)
    return column + right, (tag.width if tag.kind != "probe" else tag.height) + STUB + 16
