"""A drawing read back from its SVG text alone: the netlist it shows, and what a reader would stumble over.

Nothing of `incircuit.draw` is used but the widths of letters: who is joined to whom comes from where the
lines run, not from the names they carry.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field
from itertools import pairwise

from incircuit.draw.strokes import text_width

SVG = "{http://www.w3.org/2000/svg}"
Point = tuple[float, float]
Box = tuple[float, float, float, float]
NEAR = 0.11  # coordinates have one digit after the point


@dataclass
class Picture:
    """Lines with their net's name, pins with where their wire begins, texts and symbols with their boxes."""

    wires: list[tuple[str, Point, Point]] = field(default_factory=list)
    pins: dict[str, Point] = field(default_factory=dict)
    texts: list[tuple[str, Box]] = field(default_factory=list)
    symbols: dict[str, Box] = field(default_factory=dict)
    dots: list[Point] = field(default_factory=list)
    width: float = 0.0
    height: float = 0.0


def points_of(data: str) -> list[list[Point]]:
    """Polylines of a path of M, L and Z."""
    found = []
    for piece in re.findall(r"M([^M]*)", data):
        closed = piece.endswith("Z")
        points = [tuple(map(float, p.split())) for p in piece.rstrip("Z").split("L")]
        found.append([*points, points[0]] if closed else points)
    return found


def read(svg: str) -> Picture:
    """The drawing's lines, pins, texts and symbols."""
    root = ET.fromstring(svg)
    picture = Picture(width=float(root.get("width", "0")), height=float(root.get("height", "0")))
    for net in root.iter(f"{SVG}g"):
        if net.get("data-net") is not None:
            _read_net(picture, net)
        owner = net.get("data-part") or net.get("data-jumper")
        if owner is not None:
            symbol = next(g for g in net.iter(f"{SVG}g") if g.get("class") == "symbol")
            picture.symbols[owner] = _extent(symbol)
    for text in root.iter(f"{SVG}text"):
        picture.texts.append((text.text or "", _text_box(text)))
    return picture


def _read_net(picture: Picture, net: ET.Element) -> None:
    name = net.get("data-net") or ""
    for path in net.iter(f"{SVG}path"):
        if "wire" not in (path.get("class") or "").split():
            continue
        (points,) = points_of(path.get("d") or "")
        pin = path.get("data-pin")
        if pin is not None:
            picture.pins[pin] = points[0]
        picture.wires += [(name, a, b) for a, b in pairwise(points)]
    for circle in net.iter(f"{SVG}circle"):
        if circle.get("class") == "fill-solid":
            picture.dots.append((float(circle.get("cx", "0")), float(circle.get("cy", "0"))))


def _extent(symbol: ET.Element) -> Box:
    xs: list[float] = []
    ys: list[float] = []
    for path in symbol.iter(f"{SVG}path"):
        for points in points_of(path.get("d") or ""):
            xs += [x for x, _ in points]
            ys += [y for _, y in points]
    for circle in symbol.iter(f"{SVG}circle"):
        x, y, r = (float(circle.get(k, "0")) for k in ("cx", "cy", "r"))
        xs += [x - r, x + r]
        ys += [y - r, y + r]
    return min(xs), min(ys), max(xs), max(ys)


def _text_box(text: ET.Element) -> Box:
    size, x, y = (float(text.get(k, "0")) for k in ("font-size", "x", "y"))
    wide = text_width(text.text or "", size) * 0.93  # the widths are on the safe side
    left = x - {"middle": wide / 2, "end": wide}.get(text.get("text-anchor") or "start", 0.0)
    return left, y - 0.72 * size, left + wide, y + 0.12 * size


def on_segment(p: Point, a: Point, b: Point, near: float = NEAR) -> bool:
    """Whether a point lies on an upright or level line."""
    (x, y), left, right = p, min(a[0], b[0]), max(a[0], b[0])
    return left - near <= x <= right + near and min(a[1], b[1]) - near <= y <= max(a[1], b[1]) + near


def netlist(picture: Picture) -> set[frozenset[str]]:
    """Pins joined by lines: an end of one on another joins them, crossing does not."""
    group = list(range(len(picture.wires)))

    def root(k: int) -> int:
        while group[k] != k:
            k = group[k]
        return k

    for j, (_, a, b) in enumerate(picture.wires):
        for k, (_, c, d) in enumerate(picture.wires):
            if j < k and (
                any(on_segment(p, c, d) for p in (a, b)) or any(on_segment(p, a, b) for p in (c, d))
            ):
                group[root(j)] = root(k)
    members: dict[int, set[str]] = {}
    for pin, at in picture.pins.items():
        touched = {root(k) for k, (_, a, b) in enumerate(picture.wires) if on_segment(at, a, b)}
        for k in touched:
            members.setdefault(k, set()).add(pin)
    return {frozenset(pins) for pins in members.values()}


def _overlap(a: Box, b: Box, by: float = 0.0) -> bool:
    return a[0] + by < b[2] and b[0] + by < a[2] and a[1] + by < b[3] and b[1] + by < a[3]


def stumbles(picture: Picture) -> list[str]:
    """What cannot be read: texts, symbols and lines on top of each other, things off the page."""
    found = []
    texts = picture.texts
    for k, (said, box) in enumerate(texts):
        found += [f'text "{said}" over text "{other}"' for other, o in texts[k + 1:] if _overlap(box, o, 0.5)]
        for net, a, b in picture.wires:
            line = (
                min(a[0], b[0]) - 0.7,
                min(a[1], b[1]) - 0.7,
                max(a[0], b[0]) + 0.7,
                max(a[1], b[1]) + 0.7,
            )
            if _overlap(box, line):
                found.append(f'text "{said}" on a wire of {net}')
        if box[0] < 0 or box[1] < 0 or box[2] > picture.width or box[3] > picture.height:
            found.append(f'text "{said}" off the page')
    names = list(picture.symbols)
    for k, ref in enumerate(names):
        found += [f"{ref} over {other}" for other in names[k + 1:]
                  if _overlap(picture.symbols[ref], picture.symbols[other])]
        for net, a, b in picture.wires:
            line = (min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))
            if _overlap(line, picture.symbols[ref], 0.6) and not _inner(picture, ref, a, b):
                found.append(f"a wire of {net} through {ref}")
    return found + _mixed_lines(picture)


def _inner(picture: Picture, ref: str, a: Point, b: Point) -> bool:
    """Whether a wire begins at a pin of the symbol: pins may sit inside its outline."""
    ends = [at for pin, at in picture.pins.items() if pin.rpartition(".")[0] == ref]
    return any(abs(p[0] - q[0]) < NEAR and abs(p[1] - q[1]) < NEAR for p in ends for q in (a, b))


def _mixed_lines(picture: Picture) -> list[str]:
    """Wires of two nets that run along each other, or end so near another that they seem joined."""
    found = []
    for k, (net, a, b) in enumerate(picture.wires):
        mine = (min(a[0], b[0]) - 1.5, min(a[1], b[1]) - 1.5, max(a[0], b[0]) + 1.5, max(a[1], b[1]) + 1.5)
        for other, c, d in picture.wires[k + 1:]:
            if other == net:
                continue
            theirs = (
                min(c[0], d[0]) - 1.5,
                min(c[1], d[1]) - 1.5,
                max(c[0], d[0]) + 1.5,
                max(c[1], d[1]) + 1.5,
            )
            same_way = (abs(a[0] - b[0]) < NEAR) == (abs(c[0] - d[0]) < NEAR)
            if same_way and _overlap(mine, theirs):
                found.append(f"wires of {net} and {other} along each other")
            elif not same_way and any(on_segment(p, *q, near=2.0) for p, q in (
                    (a, (c, d)), (b, (c, d)), (c, (a, b)), (d, (a, b)))):
                found.append(f"wires of {net} and {other} seem joined")
    return found
