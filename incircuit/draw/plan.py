"""Where everything goes: nets become horizontal rails, parts vertical columns between them.

Rails lie on levels, counted from the top; two rails may share a level where they do not overlap.
Columns are counted from the left; parts may stand above each other in one column. A part of two pins
whose rails share a level lies in line between them. `look_at` measures an arrangement, `arrange` finds a
good one by descent: every single move of a rail or a part, until none helps, then a shake and again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from incircuit.draw.bodies import Body

GAP = 12.0
"""Between two columns [px]."""
LANE = 9.0
"""Between wires that go up or down beside a body [px]."""
LEAD = 10.0
"""From a body to the first such wire [px]."""
INLINE = 7.0
"""Wire on both sides of a part that lies in line [px]."""
APART = 26.0
"""Between the ends of two rails on one level [px]."""


@dataclass(frozen=True, slots=True)
class Lane:
    """A vertical wire of pin `pin` at `dx` from the column's line, from level `lo` to level `hi`.

    A body sits at its row: `row` + 0.5, between two levels. `bent`: the wire turns back past its body.
    """

    pin: int
    net: int
    dx: float
    lo: float
    hi: float
    bent: bool = False


@dataclass(frozen=True, slots=True)
class Stand:
    """How a part stands: in which row, on its head, in line (`across`: its first pin on the right)."""

    row: int
    over: bool
    inline: bool
    across: bool
    lanes: tuple[Lane, ...]
    left: float
    right: float
    cost: float


def stand(body: Body, levels: Sequence[int], middle: Sequence[float]) -> Stand:
    """How a part stands best where the rails lie on these levels; `middle` is each net's mean column."""
    if body.turns:
        a, b = body.pins[0].net, body.pins[1].net
        if levels[a] == levels[b]:
            return _inline(body, levels[a], middle[a] > middle[b])
        over = levels[a] > levels[b]
        top, bottom = (b, a) if over else (a, b)
        lo, hi = levels[top], levels[bottom]
        first, last = (1, 0) if over else (0, 1)
        row = (lo + hi - 1) // 2
        lanes = (Lane(first, top, 0.0, lo, row + 0.5), Lane(last, bottom, 0.0, row + 0.5, hi))
        left, _, right, _ = body.glyph.box
        cost = body.weight if levels[body.upper] > levels[body.lower] and body.upper >= 0 else 0.0
        return Stand(row, over, False, False, lanes, -left, right + 5 + body.label_width, cost)
    return _standing(body, levels)


def _inline(body: Body, level: int, across: bool) -> Stand:
    _, top, _, bottom = body.glyph.box
    half = max((bottom - top) / 2 + INLINE, body.label_width / 2)
    reach = (bottom - top) / 2 + INLINE
    ends = (reach, -reach) if across else (-reach, reach)
    lanes = tuple(Lane(k, body.pins[k].net, ends[k], level, level) for k in (0, 1))
    return Stand(level, False, True, across, lanes, half, half, 0.0)


def _standing(body: Body, levels: Sequence[int]) -> Stand:
    """A part with more pins, or with both on one net: the row and the way up that bend least."""
    rows = sorted({r for p in body.pins for r in (levels[p.net], levels[p.net] - 1)})
    best: tuple[float, int, bool] | None = None
    for over in (False, True):
        for row in rows:
            cost = body.over_weight if over else 0.0
            for p in body.pins:
                level = levels[p.net]
                cost += 0.3 * abs(level - row - 0.5)
                up = (p.side == "N") != over if p.side in "NS" else None
                if up is not None and up != (level <= row):
                    cost += 5.0
            if best is None or cost < best[0] - 1e-9:
                best = cost, row, over
    assert best is not None
    cost, row, over = best
    if body.upper >= 0 and levels[body.upper] > levels[body.lower]:
        cost += body.weight
    lanes = lanes_of(body, levels, row, over)
    left = min([body.glyph.box[0], -_shoulder(body)[0] - 4, *(lane.dx for lane in lanes)])
    right = max([body.glyph.box[2] + _beside(body), *(lane.dx for lane in lanes)])
    return Stand(row, over, False, False, lanes, -left, right, cost)


def _beside(body: Body) -> float:
    """Room the label takes on the right."""
    if body.glyph.label == "right":
        return 5 + body.label_width
    if body.glyph.label == "corner":
        return max(0.0, 12 + body.label_width - body.glyph.box[2])
    if body.glyph.label == "inside":
        return max(0.0, note_start(body) + body.note_width - body.glyph.box[2]) if body.note_width else 0.0
    return max(0.0, body.label_width / 2 - body.glyph.box[2])


def lanes_of(body: Body, levels: Sequence[int], row: int, over: bool) -> tuple[Lane, ...]:
    """The wires of a part of many pins: side pins turn up or down at lanes of their own."""
    found: list[Lane] = []
    for side in "WE":
        sign = -1.0 if side == "W" else 1.0
        mine = [(k, p, -p.y if over else p.y) for k, p in enumerate(body.pins) if p.side == side]
        up = sorted((m for m in mine if levels[m[1].net] <= row), key=lambda m: m[2])
        down = sorted((m for m in mine if levels[m[1].net] > row), key=lambda m: -m[2])
        tangled = up and down and up[-1][2] > down[-1][2]
        for group, first in ((up, 0), (down, len(up) if tangled else 0)):
            for at, (k, p, _) in enumerate(group, start=first):
                level = levels[p.net]
                ends = (level, row + 0.5) if level <= row else (row + 0.5, level)
                edge = -_shoulder(body)[0] if side == "W" else _shoulder(body)[1]
                found.append(Lane(k, p.net, edge + sign * (LEAD + LANE * at), *ends))
    bent = [(k, p) for k, p in enumerate(body.pins)
            if p.side in "NS" and ((p.side == "N") != over) != (levels[p.net] <= row)]
    edge = min([-_shoulder(body)[0], *(lane.dx for lane in found)])
    for at, (k, p) in enumerate(bent):
        level = levels[p.net]
        ends = (level, row + 0.9) if level <= row else (row + 0.1, level)
        found.append(Lane(k, p.net, edge - LEAD - LANE * at, ends[0], ends[1], bent=True))
    turned = {k for k, _ in bent}
    for k, p in enumerate(body.pins):
        if p.side in "NS" and k not in turned:
            level = levels[p.net]
            ends = (level, row + 0.5) if level <= row else (row + 0.5, level)
            found.append(Lane(k, p.net, p.x, *ends))
    return tuple(sorted(found, key=lambda lane: lane.pin))


def _shoulder(body: Body) -> tuple[float, float]:
    """How far body and label reach to the left and to the right where side wires pass them."""
    left, _, right, _ = body.glyph.box
    if body.glyph.label == "above":
        half = body.label_width / 2 - 4
        return max(-left, half), max(right, half)
    if body.glyph.label == "inside":
        return -left, max(right, note_start(body) + body.note_width - 6) if body.note_width else right
    return -left, max(right, 6 + body.label_width) if body.glyph.label == "corner" else right


def note_start(body: Body) -> float:
    """Where the note above a box begins: right of the wires that leave it there."""
    return max([p.x for p in body.glyph.pins if p.side in "NS"], default=-10.0) + 8.0


@dataclass(frozen=True, slots=True)
class Look:
    """An arrangement measured: how every part stands, the columns' lines [px], and what it costs."""

    stands: tuple[Stand, ...]
    lines: tuple[float, ...]
    cost: float


def column_lines(columns: Sequence[Sequence[int]], stands: Sequence[Stand],
                 extra: Sequence[float] = ()) -> tuple[float, ...]:
    """x of every column's line; `extra` is room to add left of a column."""
    lines, x = [], 0.0
    for c, column in enumerate(columns):
        x += extra[c] if extra else 0.0
        x = float(round(x + max(stands[i].left for i in column)))
        lines.append(x)
        x += max(stands[i].right for i in column) + GAP
    return tuple(lines)


Known = dict[tuple[int, ...], Stand]


def _known(known: Known | None, i: int, body: Body, levels: Sequence[int], middle: Sequence[float]) -> Stand:
    """How a part stands depends on the levels of its own nets, and in line on which net lies left."""
    if known is None:
        return stand(body, levels, middle)
    pins = body.pins
    key = (i, int(middle[pins[0].net] > middle[pins[-1].net]), *[levels[p.net] for p in pins])
    found = known.get(key)
    if found is None:
        found = known[key] = stand(body, levels, middle)
    return found


def look_at(bodies: Sequence[Body], levels: Sequence[int], columns: Sequence[Sequence[int]],
            pull: Sequence[float] = (), known: Known | None = None) -> Look:
    """Stand every part on its column and measure the arrangement.

    `pull` draws nets down the page (above zero) or up; `known` keeps stands met before.
    """
    nets = len(levels)
    sums, counts = [0.0] * nets, [1e-9] * nets
    for c, column in enumerate(columns):
        for i in column:
            for p in bodies[i].pins:
                sums[p.net] += c
                counts[p.net] += 1
    middle = [s / n for s, n in zip(sums, counts, strict=True)]
    stands = tuple(_known(known, i, body, levels, middle) for i, body in enumerate(bodies))
    lines = column_lines(columns, stands)
    cost = sum(s.cost for s in stands) + 0.02 * (lines[-1] if lines else 0.0)
    left, right, lanes = extents(columns, stands, lines, nets)
    cost += 0.12 * sum(lane.hi - lane.lo for s in stands for lane in s.lanes)
    cost += 40.0 * sum(_clashes(stands, column) for column in columns if len(column) > 1)
    rails = [(levels[n], left[n], right[n], n) for n in range(nets)]
    cost += sum(end - start for _, start, end, _ in rails if end > start) / 60.0
    cost += 4.0 * _crossings(lanes, rails) + 40.0 * _overlaps(rails)
    deepest = max(levels, default=0)
    cost += 0.8 * deepest
    for level, down in zip(levels, pull, strict=False):
        cost += down * (deepest - level) if down > 0 else -down * level
    return Look(stands, lines, cost)


def extents(columns: Sequence[Sequence[int]], stands: Sequence[Stand], lines: Sequence[float],
            nets: int) -> tuple[list[float], list[float], list[tuple[float, float, float, int]]]:
    """Left and right end of every rail [px], and the wires (x, upper, lower level, net) they may cross."""
    left, right = [1e9] * nets, [-1e9] * nets
    lanes: list[tuple[float, float, float, int]] = []
    for x, column in zip(lines, columns, strict=True):
        for i in column:
            for lane in stands[i].lanes:
                at, net = x + lane.dx, lane.net
                if at < left[net]:
                    left[net] = at
                if at > right[net]:
                    right[net] = at
                if lane.hi - lane.lo > 0.9:
                    lanes.append((at, lane.lo, lane.hi, net))
    return left, right, lanes


def _crossings(lanes: Sequence[tuple[float, float, float, int]],
               rails: Sequence[tuple[int, float, float, int]]) -> int:
    count = 0
    for level, left, right, net in rails:
        if right - left > 1.0:
            for x, lo, hi, own in lanes:
                if lo < level < hi and left < x < right and own != net:
                    count += 1
    return count


def _overlaps(rails: Sequence[tuple[int, float, float, int]]) -> float:
    """Rails of one level that come too near each other."""
    count, last = 0.0, None
    for rail in sorted(rails):
        if last is not None and rail[0] == last[0] and rail[1] < last[2] + APART:
            count += 1.0 + min(last[2] + APART - rail[1], 600.0) / 300.0
        if last is None or rail[0] != last[0] or rail[2] > last[2]:
            last = rail
    return count


def clash(at: Stand, bt: Stand) -> bool:
    """Whether two parts of one column get into each other's way."""
    theirs = occupied(bt)
    return any(p[0] < q[2] and q[0] < p[2] and p[1] < q[3] and q[1] < p[3]
               for p in occupied(at) for q in theirs)


def _clashes(stands: Sequence[Stand], column: Sequence[int]) -> int:
    """Pairs of parts of one column that get into each other's way."""
    return sum(clash(stands[i], stands[j])
               for k, i in enumerate(column) for j in column[k + 1:])


def occupied(at: Stand) -> list[tuple[float, float, float, float]]:
    """What a part takes up in its column: left [px], upper level, right [px], lower level."""
    if at.inline:
        return [(-at.left, at.row - 0.95, at.right, at.row + 0.45)]
    spots = [(lane.dx - 4, lane.lo, lane.dx + 4, lane.hi) for lane in at.lanes]
    return [*spots, (-at.left, at.row + 0.05, at.right, at.row + 0.95)]
