"""The block map of a whole board: its stages as boxes, the nets they share as rails below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from incircuit.board.model import Board, Part
from incircuit.draw.strokes import Circle, Text, text_width
from incircuit.draw.svg import INK, MUTED, PAPER, document, group, path_data, stroke, tag, text

BOX, HIGH, GAP = 150.0, 92.0, 18.0
RAIL, DROP = 20.0, 15.0
CROWDED = 6
"""A net on more parts than this says little about who belongs together."""
MOST_BOXES = 12
"""A map of more stages is joined to about so many."""
EVERYWHERE = 60
"""A net on more parts than this says nothing."""


@dataclass(frozen=True, slots=True)
class Stage:
    """Parts that belong together, and a name for them."""

    name: str
    refs: tuple[str, ...]


def stages_of(board: Board) -> tuple[Stage, ...]:
    """The sheets of a board that includes others; else groups of parts that share nets with each other."""
    files: dict[str, list[str]] = {}
    for part in board.parts:
        files.setdefault(part.place.file if part.place else "", []).append(part.ref)
    if len(files) > 1:
        titles = {s.place.file: s.text.partition('"')[2].rpartition('"')[0]
                  for s in board.statements if s.word == "board" and s.place}
        return tuple(Stage(_short(titles.get(file, ""), board.title) or _stem(file), tuple(refs))
                     for file, refs in files.items())
    return grouped(board)


def _stem(file: str) -> str:
    return file.replace("\\", "/").rpartition("/")[2].removesuffix(".board").replace("-", " ")


def _short(title: str, whole: str) -> str:
    """What a sheet's title says beyond the board's own."""
    return title.removeprefix(whole).lstrip(": ") or title


def grouped(board: Board) -> tuple[Stage, ...]:
    """Communities of the graph of parts (greedy modularity, Clauset, Newman and Moore 2004)."""
    import networkx as nx

    graph = nx.Graph()
    graph.add_nodes_from(p.ref for p in board.parts)
    nets: dict[str, dict[str, None]] = {}
    for part in board.parts:
        for _, net in part.pins:
            nets.setdefault(net, {})[part.ref] = None
    for net, on in nets.items():
        refs = list(on)
        if len(refs) > EVERYWHERE:  # as a star: a net of a thousand parts has half a million pairs
            graph.add_edges_from((f" {net}", ref, {"weight": 1.0 / len(refs)}) for ref in refs)
            continue
        for k, a in enumerate(refs):
            for b in refs[k + 1:]:
                weight = 1.0 / (len(refs) - 1) ** (1 if len(refs) <= CROWDED else 2)
                before = graph.get_edge_data(a, b, {"weight": 0.0})["weight"]
                graph.add_edge(a, b, weight=before + weight)
    order = {p.ref: k for k, p in enumerate(board.parts)}
    if not graph.edges:
        return tuple(Stage(ref, (ref,)) for ref in order)
    found = [sorted((r for r in c if r in order), key=lambda r: order[r])
             for c in nx.community.greedy_modularity_communities(graph, weight="weight")]
    found = [refs for refs in found if refs]
    found.sort(key=lambda refs: order[refs[0]])
    return tuple(Stage(f"around {_chief(board, refs)}", tuple(refs)) for refs in found)


def merged(board: Board, stages: Sequence[Stage], most: int) -> tuple[Stage, ...]:
    """Stages joined with those they share most with, as long as they stay within `most` parts."""
    parts = {p.ref: p for p in board.parts}
    groups = [list(s.refs) for s in stages]
    nets = [{net for ref in refs for _, net in parts[ref].pins} for refs in groups]
    count: dict[str, int] = {}
    for part in board.parts:
        for net in {net for _, net in part.pins}:
            count[net] = count.get(net, 0) + 1

    def shared(j: int, k: int) -> float:
        return sum(1.0 / count[net] for net in sorted(nets[j] & nets[k]))

    ties = {(j, k): shared(j, k) for k in range(len(groups)) for j in range(k)}
    while True:
        fit = [
            (tie, -j, -k) for (j, k), tie in ties.items() if tie and len(groups[j]) + len(groups[k]) <= most
        ]
        if not fit:
            break
        _, j, k = max(fit)
        j, k = -j, -k
        groups[j] += groups[k]
        nets[j] |= nets[k]
        groups[k], nets[k] = [], set()
        ties = {pair: tie for pair, tie in ties.items() if k not in pair}
        ties |= {pair: shared(*pair) for pair in ties if j in pair}
    groups = [refs for refs in groups if refs]
    order = {p.ref: n for n, p in enumerate(board.parts)}
    return tuple(Stage(f"around {_chief(board, refs)}", tuple(sorted(refs, key=lambda r: order[r])))
                 for refs in groups)


def _chief(board: Board, refs: Sequence[str]) -> str:
    """The part a technician would name a stage by: the one with most pins, plain parts last."""
    plain = ("resistor", "capacitor", "connector")
    parts: list[Part] = [board.part(ref) for ref in refs]
    return max(parts, key=lambda p: (p.kind not in plain, len(p.pins), -parts.index(p))).ref


def block_picture(board: Board) -> str:
    """The block map as SVG text: boxes ``data-stage``, shared nets ``data-net``."""
    stages = stages_of(board)
    if len(stages) > MOST_BOXES:
        stages = merged(
            board, stages, max(len(s.refs) for s in stages) + len(board.parts) // (MOST_BOXES // 2)
        )
    nets = [{net for ref in s.refs for _, net in board.part(ref).pins} for s in stages]
    shared = [n for n in board.net_names() if sum(n in mine for mine in nets) > 1]
    shared.sort(key=lambda n: (min(k for k, mine in enumerate(nets) if n in mine),
                               max(k for k, mine in enumerate(nets) if n in mine), n))
    names = max([text_width(n, 11) for n in shared] + [0.0])
    x, top = 26.0 + names, 14.0
    drops: dict[str, list[float]] = {n: [] for n in shared}
    inside, boxes = [], []
    for stage, mine in zip(stages, nets, strict=True):
        here = [n for n in shared if n in mine]
        wide = max(BOX, DROP * (len(here) + 1), text_width(stage.name, 12.5) + 16)
        for k, n in enumerate(here):
            drops[n].append(x + wide / 2 + DROP * (k - (len(here) - 1) / 2))
        boxes.append(_box(stage, x, top, wide))
        x += wide + GAP
    for k, n in enumerate(shared):
        inside.append(_rail(n, drops[n], top + HIGH, top + HIGH + 24 + RAIL * k))
    height = top + HIGH + 24 + RAIL * len(shared) + 6
    return document(x, height, f"{board.title or 'Board'}: block map", [*inside, *boxes],
                    f"{len(stages)} stages that share {len(shared)} nets.")


def _box(stage: Stage, x: float, y: float, wide: float) -> str:
    lines = _wrapped(" ".join(stage.refs), wide - 14)
    said = [text(Text(x + wide / 2, y + 19, stage.name, "middle", 12.5, "ref")),
            text(Text(x + wide / 2, y + 34, f"{len(stage.refs)} parts", "middle", 10.5, "value"), MUTED)]
    said += [text(Text(x + 7, y + 50 + 12 * k, line, "start", 9.5, "pin")) for k, line in enumerate(lines)]
    frame = tag("rect", {"x": x, "y": y, "width": wide, "height": HIGH, "fill": PAPER, "stroke": INK,
                         "stroke-width": "1.5", "rx": "3", "class": "fill-paper"})
    return group(
        {"class": "stage", "data-stage": stage.name}, f"{stage.name}: {', '.join(stage.refs)}", [frame, *said]
    )


def _wrapped(words: str, wide: float, most: int = 4) -> list[str]:
    lines = [""]
    for word in words.split():
        trial = f"{lines[-1]} {word}".strip()
        if text_width(trial, 9.5) <= wide or not lines[-1]:
            lines[-1] = trial
        elif len(lines) == most:
            lines[-1] += " …"
            break
        else:
            lines.append(word)
    return lines


def _rail(net: str, xs: Sequence[float], top: float, y: float) -> str:
    wires = [path_data([(x, top), (x, y)]) for x in xs] + [path_data([(xs[0], y), (xs[-1], y)])]
    ends = [stroke(Circle(x, y, 2.4, "solid")) for x in xs[1:-1]]
    lead = path_data([(xs[0] - 8, y), (xs[0], y)])
    return group({"class": "net", "data-net": net, "stroke": INK, "stroke-width": "1.2"}, net, [
        tag("path", {"class": "wire", "d": "".join([lead, *wires]), "fill": "none"}), *ends,
        stroke(Circle(xs[0], y, 2.4, "solid")), text(Text(xs[0] - 12, y + 3.8, net, "end", 11, "net"))])
