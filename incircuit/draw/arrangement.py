"""A scene arranged and labelled: places of everything, texts included."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from incircuit.draw.bodies import Body, body_of
from incircuit.draw.descent import Columns, Levels, arrange, legal, packed
from incircuit.draw.labels import Spot, Tag, name_tag, put, room_for
from incircuit.draw.scene import Node, Scene
from incircuit.draw.strokes import Glyph
from incircuit.draw.wires import MARGIN, Sheet, frame_of, lay_out, moved_box, moved_sheet

MOST_ASKS = 4
"""How often room is made for one text, left and right of its rail in turn."""
CROSS_AFTER = 2
"""After so much of it, the wire out to a name may cross others."""
LOOKS = 12000
"""Arrangements tried, for up to about 20 parts; fewer the more there are, as each takes longer."""


@dataclass(frozen=True, slots=True)
class Arrangement:
    """The sheet with its tags, everything on the page."""

    sheet: Sheet
    spots: tuple[Spot, ...]


def net_text(node: Node, arrow: bool = False) -> str:
    """What is written at a rail: its name, its test point, dots where it goes on and no arrow says so."""
    pad = f" · {node.net.pad}" if node.net and node.net.pad else ""
    return f"{node.name}{pad}{' …' if node.cut and not arrow else ''}"


@lru_cache(maxsize=64)
def planned(scene: Scene) -> tuple[Levels, Columns, list[Glyph]]:
    """Levels and columns depend on parts and nets alone: one board, one arrangement, whatever is read."""
    levels, columns, bodies = arrange(scene.items, len(scene.nodes), LOOKS)
    return levels, columns, [body.glyph for body in bodies]


@lru_cache(maxsize=64)
def arranged(scene: Scene, marks: tuple[tuple[str, str], ...] = (),
             flags: tuple[Tag, ...] = ()) -> Arrangement:
    """Places for all parts, wires, names and flags. Room is made between columns where a text finds none."""
    levels, columns, glyphs = planned(scene)
    notes = dict(marks)
    bodies = [body_of(item, notes.get(item.part.ref, ""), glyph)
              for item, glyph in zip(scene.items, glyphs, strict=True)]
    levels, columns = legal(bodies, levels, columns)  # a note may be wider than its part was
    tags = [name_tag(net, net_text(node)) for net, node in enumerate(scene.nodes)]
    framed = [k for k, item in enumerate(scene.items) if item.part.ref in notes]
    for _ in range(len(tags) + len(flags) + 1):
        sheet, spots, without = _roomy(bodies, levels, columns, tags, flags, framed)
        if not without:
            break
        # between two rails of one level there is no room to be made: a level of its own
        levels = packed([2 * level + (net == without[0].net) for net, level in enumerate(levels)])
        levels, columns = legal(bodies, levels, columns)
    return _on_page(sheet, spots)


def _roomy(bodies: Sequence[Body], levels: Levels, columns: Columns, tags: Sequence[Tag],
           flags: Sequence[Tag], framed: Sequence[int]) -> tuple[Sheet, tuple[Spot, ...], tuple[Tag, ...]]:
    """The sheet with room made between columns where a text finds none, and the texts still without."""
    extra = [0.0] * (len(columns) + 1)
    asked: dict[Tag, int] = {}
    while True:
        sheet = lay_out(bodies, levels, columns, extra)
        by_length = sorted(tags, key=lambda t: (_length(sheet, t.net), t.net))
        frames = [frame_of(sheet.placed[k]) for k in framed]
        spots, without = put(
            [*by_length, *flags], sheet, frames, [t for t, n in asked.items() if n >= CROSS_AFTER]
        )
        first = next((t for t in without if asked.get(t, 0) < MOST_ASKS), None)
        if first is None:
            return sheet, spots, without
        asked[first] = asked.get(first, 0) + 1
        column, room = room_for(first, sheet, columns, asked[first] % 2 == 0)
        # texts of different levels share a gap; who still finds no room gets some of its own
        extra[column] = max(extra[column], room) if asked[first] <= 2 else extra[column] + room


def _length(sheet: Sheet, net: int) -> float:
    rail = next(r for r in sheet.rails if r.net == net)
    return rail.right - rail.left


def _on_page(sheet: Sheet, spots: tuple[Spot, ...]) -> Arrangement:
    boxes = [s.box for s in spots]
    boxes += [box for p in sheet.placed for box in (p.body, p.label_box)]
    boxes += [(r.left, r.y, r.right, r.y) for r in sheet.rails]
    boxes += [(x, y, x, y) for p in sheet.placed for w in p.wires for x, y in w.points]
    if not boxes:
        return Arrangement(moved_sheet(sheet, 0.0, 0.0, 2 * MARGIN, 2 * MARGIN), ())
    left, top = min(b[0] for b in boxes), min(b[1] for b in boxes)
    right, bottom = max(b[2] for b in boxes), max(b[3] for b in boxes)
    dx, dy = MARGIN - left, MARGIN - top
    page = moved_sheet(sheet, dx, dy, right - left + 2 * MARGIN, bottom - top + 2 * MARGIN)
    return Arrangement(page, tuple(replace(s, x=s.x + dx, box=moved_box(s.box, dx, dy)) for s in spots))
