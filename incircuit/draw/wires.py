"""From an arrangement to exact places: rows and levels get heights, pins get wires, rails their ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.draw.bodies import REF, VALUE, Body
from incircuit.draw.plan import Stand, clash, column_lines, look_at, note_start
from incircuit.draw.strokes import Glyph, Point, Stroke, Text, flipped, mapped

Box = tuple[float, float, float, float]

CLEAR = 10.0
"""Wire between a body and the rail above or below at least [px]."""
PITCH = 22.0
"""Between two rails with nothing between [px]."""
TEXT_LINE = 13.0
MARGIN = 14.0
BEND = 6.0


@dataclass(frozen=True, slots=True)
class Wire:
    """The wire of one pin: from the body to the rail. `flat`: it meets the rail from the side."""

    pin: str
    net: int
    points: tuple[Point, ...]
    flat: bool = False


@dataclass(frozen=True, slots=True)
class Placed:
    """A part in its place: strokes, wires, label lines, and what body and label cover."""

    item: int
    strokes: tuple[Stroke, ...]
    wires: tuple[Wire, ...]
    label: tuple[Text, ...]
    body: Box
    label_box: Box


def frame_of(placed: Placed) -> Box:
    """The frame around a marked part, its label included."""
    a, b = placed.body, placed.label_box
    return min(a[0], b[0]) - 4, min(a[1], b[1]) - 3, max(a[2], b[2]) + 4, max(a[3], b[3]) + 3


@dataclass(frozen=True, slots=True)
class Rail:
    """A net's horizontal wire from `left` to `right` at height `y`; `at` are the x where wires meet it."""

    net: int
    y: float
    left: float
    right: float
    at: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything but texts of nets, in pixels."""

    placed: tuple[Placed, ...]
    rails: tuple[Rail, ...]
    width: float
    height: float


def lay_out(bodies: Sequence[Body], levels: Sequence[int], columns: Sequence[Sequence[int]],
            extra: Sequence[float] = ()) -> Sheet:
    """The exact places; `extra` is room to add left of a column [px]."""
    look = look_at(bodies, levels, columns)
    stands = chosen_rows(bodies, levels, columns, look.stands)
    lines = column_lines(columns, stands, extra)
    heights = level_heights(bodies, stands, max(levels, default=0))
    placed = []
    for c, column in enumerate(columns):
        placed += [_place(i, bodies[i], stands[i], lines[c], heights, levels) for i in column]
    placed.sort(key=lambda p: p.item)
    rails = tuple(_rail(n, heights.y[levels[n]], placed) for n in range(len(levels)))
    right = max((p.label_box[2] for p in placed), default=0.0)
    right = max([right, *(p.body[2] for p in placed), *(r.right for r in rails)])
    return Sheet(tuple(placed), rails, right + MARGIN, heights.bottom + MARGIN)


def chosen_rows(bodies: Sequence[Body], levels: Sequence[int], columns: Sequence[Sequence[int]],
                stands: Sequence[Stand]) -> tuple[Stand, ...]:
    """Parts of two pins go to rows where others stand already, so that bodies line up."""
    found = list(stands)
    loose = [i for i, b in enumerate(bodies) if b.turns and not stands[i].inline]
    taken: dict[int, float] = {}
    for i, s in enumerate(stands):
        if not s.inline and i not in set(loose):
            taken[s.row] = max(taken.get(s.row, 0.0), _tall(bodies[i]))
    mates = {i: [j for j in column if j != i] for column in columns for i in column}

    def span(i: int) -> tuple[int, int]:
        ends = [levels[p.net] for p in bodies[i].pins]
        return min(ends), max(ends) - 1

    for i in sorted(loose, key=lambda i: (span(i)[1] - span(i)[0], i)):
        lo, hi = span(i)
        best: tuple[float, int] | None = None
        for row in range(lo, hi + 1):
            trial = _in_row(found[i], row)
            hits = sum(clash(trial, found[j]) for j in mates[i])
            grows = max(0.0, _tall(bodies[i]) - taken.get(row, 0.0))
            cost = 1000.0 * hits + grows + 2.0 * abs(row - (lo + hi) / 2)
            if best is None or cost < best[0]:
                best = cost, row
        assert best is not None
        found[i] = _in_row(found[i], best[1])
        taken[best[1]] = max(taken.get(best[1], 0.0), _tall(bodies[i]))
    return tuple(found)


def _in_row(at: Stand, row: int) -> Stand:
    first, second = sorted(at.lanes, key=lambda lane: lane.lo)
    lanes = tuple(sorted((replace(first, hi=row + 0.5), replace(second, lo=row + 0.5)), key=lambda x: x.pin))
    return replace(at, row=row, lanes=lanes)


def _lines_above(body: Body) -> float:
    """Room for the label above the body [px]."""
    if body.glyph.label == "inside":
        return (len(body.label) - 1) * TEXT_LINE
    return len(body.label) * TEXT_LINE if body.glyph.label in ("above", "corner") else 0.0


def _tall(body: Body) -> float:
    _, top, _, bottom = body.glyph.box
    beside = len(body.label) * TEXT_LINE if body.glyph.label == "right" else 0.0
    return max(bottom - top, beside) + _lines_above(body)


@dataclass(frozen=True, slots=True)
class Heights:
    """y of every level, and of the middle of every row; rows -1 and the last lie outside the rails."""

    y: tuple[float, ...]
    middle: dict[int, float]
    bottom: float


def level_heights(bodies: Sequence[Body], stands: Sequence[Stand], deepest: int) -> Heights:
    """Rows as tall as their bodies ask for, levels between them."""
    up, down = [0.0] * (deepest + 2), [0.0] * (deepest + 2)  # row r is at r + 1
    for body, s in zip(bodies, stands, strict=True):
        left, top, right, bottom = body.glyph.box
        if s.inline:
            over = max(-left, right) + 5 + TEXT_LINE * (1 if len(body.label) < 3 else 2)
            under = max(-left, right) + 5 + TEXT_LINE
            down[s.row] = max(down[s.row], over / 2)
            up[s.row] = max(up[s.row], over / 2)
            up[s.row + 1] = max(up[s.row + 1], under / 2)
            down[s.row + 1] = max(down[s.row + 1], under / 2)
            continue
        if s.over:
            top, bottom = -bottom, -top
        beside = len(body.label) * TEXT_LINE / 2 if body.glyph.label == "right" else 0.0
        bends = BEND * (1 + sum(lane.bent for lane in s.lanes)) if any(lane.bent for lane in s.lanes) else 0.0
        up[s.row + 1] = max(up[s.row + 1], -top + bends + _lines_above(body), beside)
        down[s.row + 1] = max(down[s.row + 1], bottom + bends, beside)
    y, middle, at = [], {}, MARGIN
    for r in range(-1, deepest + 1):
        room = up[r + 1] + down[r + 1]
        clear = CLEAR if room else 0.0
        middle[r] = at + clear + up[r + 1]
        least = PITCH if 0 <= r < deepest else 8.0
        at += float(round(max(room + 2 * clear, least)))
        if r < deepest:
            y.append(at)
    return Heights(tuple(y), middle, at)


def _place(i: int, body: Body, s: Stand, x: float, heights: Heights, levels: Sequence[int]) -> Placed:
    if s.inline:
        return _place_inline(i, body, s, x, heights.y[s.row])
    glyph = flipped(body.glyph, over=True) if s.over else body.glyph
    y = heights.middle[s.row]
    wires, bends = [], 0
    for lane in s.lanes:
        spot = glyph.pins[lane.pin]
        rail = heights.y[levels[lane.net]]
        points = [(x + spot.x, y + spot.y)]
        if lane.bent:
            bends += 1
            out = y + (glyph.box[1] - BEND * bends if spot.side == "N" else glyph.box[3] + BEND * bends)
            points += [(x + spot.x, out), (x + lane.dx, out)]
        elif spot.side in "WE":
            points.append((x + lane.dx, y + spot.y))
        points.append((x + lane.dx, rail))
        wires.append(Wire(spot.name, lane.net, tuple(points)))
    left, top, right, bottom = glyph.box
    strokes = tuple(mapped(t, 1, 1, x, y) for t in glyph.strokes)
    label, box = _label(body, glyph, x, y)
    return Placed(i, strokes, tuple(wires), label, (x + left, y + top, x + right, y + bottom), box)


def _label(body: Body, glyph: Glyph, x: float, y: float) -> tuple[tuple[Text, ...], Box]:
    """Reference, value and note: beside the body, above it, or in a box with the note above."""
    top, right = glyph.box[1:3]
    count, wide = len(body.label), body.label_width
    if glyph.label == "right":
        return _lines(body.label, x + right + 5, y - (count - 1) * TEXT_LINE / 2 + 4.3, "start", wide)
    if glyph.label == "corner":
        return _lines(body.label, x + 12, y + top - 5 - (count - 1) * TEXT_LINE, "start", wide)
    if glyph.label == "above":
        return _lines(body.label, x, y + top - 5 - (count - 1) * TEXT_LINE, "middle", wide)
    inside, box = _lines(body.label[:1], x, y + 4.3, "middle", wide)
    if count == 1:
        return inside, box
    start = x + note_start(body)
    note, box = _lines(body.label[1:], start, y + top - 5 - (count - 2) * TEXT_LINE, "start", body.note_width)
    return (*inside, *(replace(t, style="value", size=VALUE) for t in note)), box


def _lines(said: Sequence[str], x: float, first: float, anchor: str,
           wide: float) -> tuple[tuple[Text, ...], Box]:
    """Lines below each other and the box they take."""
    texts = tuple(Text(x, first + k * TEXT_LINE, t, anchor, REF if k == 0 else VALUE,
                       "ref" if k == 0 else "value") for k, t in enumerate(said))
    left = x - wide / 2 if anchor == "middle" else x
    return texts, (left, first - 10, left + wide, first - 10 + len(said) * TEXT_LINE)


def _place_inline(i: int, body: Body, s: Stand, x: float, y: float) -> Placed:
    sx = -1.0 if s.across else 1.0
    strokes = tuple(mapped(t, sx, 1.0, x, y, turned=True) for t in body.glyph.strokes)
    left, top, right, bottom = body.glyph.box
    wires = []
    for lane in s.lanes:
        spot = body.glyph.pins[lane.pin]
        wires.append(Wire(spot.name, lane.net, ((x + sx * spot.y, y), (x + lane.dx, y)), flat=True))
    edges = sorted((sx * top, sx * bottom))
    body_box = (x + edges[0], y - right, x + edges[1], y - left)
    # a quarter turn brings the right side up
    head = body.label[:1] if len(body.label) < 3 else body.label[:1] + body.label[2:]
    texts = [Text(x, body_box[1] - 5 - TEXT_LINE * (len(head) - 1 - k), t, "middle", REF if k == 0 else VALUE,
                  "ref" if k == 0 else "value") for k, t in enumerate(head)]
    if len(body.label) > 1:
        texts.append(Text(x, body_box[3] + 12.5, body.label[1], "middle", VALUE, "value"))
    wide = body.label_width
    box = (x - wide / 2, body_box[1] - 4 - TEXT_LINE * len(head), x + wide / 2,
           body_box[3] + (15 if len(body.label) > 1 else 0))
    return Placed(i, strokes, tuple(wires), tuple(texts), body_box, box)


def _rail(net: int, y: float, placed: Sequence[Placed]) -> Rail:
    xs = sorted({w.points[-1][0] for p in placed for w in p.wires if w.net == net})
    return Rail(net, y, xs[0], xs[-1], tuple(xs))


def moved_sheet(sheet: Sheet, dx: float, dy: float, width: float, height: float) -> Sheet:
    """The sheet moved on the page, and the page's size."""
    placed = tuple(replace(
        p, strokes=tuple(mapped(t, 1, 1, dx, dy) for t in p.strokes),
        body=moved_box(p.body, dx, dy), label_box=moved_box(p.label_box, dx, dy),
        label=tuple(replace(t, x=t.x + dx, y=t.y + dy) for t in p.label),
        wires=tuple(replace(w, points=tuple((x + dx, y + dy) for x, y in w.points)) for w in p.wires),
    ) for p in sheet.placed)
    rails = tuple(Rail(r.net, r.y + dy, r.left + dx, r.right + dx, tuple(x + dx for x in r.at))
                  for r in sheet.rails)
    return Sheet(placed, rails, width, height)


def moved_box(box: Box, dx: float, dy: float) -> Box:
    """A box moved."""
    return box[0] + dx, box[1] + dy, box[2] + dx, box[3] + dy
