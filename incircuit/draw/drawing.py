"""The drawing of a neighbourhood: `draw_board` gives SVG text, the same for the same question."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from incircuit.board.model import Board
from incircuit.board.state import State
from incircuit.draw.arrangement import Arrangement, arranged
from incircuit.draw.flags import flags, probe_tag, steps_tag
from incircuit.draw.flow import Flow
from incircuit.draw.labels import Tag
from incircuit.draw.paint import Look, net_group, part_group
from incircuit.draw.scene import Scene, neighbourhood, scene_of
from incircuit.draw.strokes import Text
from incircuit.draw.svg import document, text


def draw_board(board: Board, *, state: State | None = None, probes: tuple[str, str] | None = None,
               currents: Flow | None = None, marks: Mapping[str, str] | None = None,
               around: str | Iterable[str] | None = None, hops: int | None = None,
               steps: Mapping[str, Sequence[tuple[int, str]]] | None = None,
               refs: Iterable[str] | None = None) -> str:
    """The board as SVG text, self-contained.

    `state` shows lifted pins, removed parts and wires soldered in. `probes` are the red and the black pad.
    `currents` (from `flow_of`) become line weight, and junctions that stay shut grey. `marks` puts a frame
    around parts, with a few words: ``{"Q1": "short, 82 %"}``. `around` draws only what lies within `hops`
    (default 1) of a part or of nets, `refs` only those parts. `steps` puts numbers at pads:
    ``{"GATE": [(1, "red"), (4, "black")]}``.

    Every net is a group ``data-net="GATE"`` with a wide invisible line to hit; every part a group
    ``data-part="R7"``; every pin's wire carries ``data-pin="R7.1"``. Names that are not drawn are ignored.
    """
    if around is not None:
        centre = (around,) if isinstance(around, str) else tuple(around)
        refs = neighbourhood(board, centre, 1 if hops is None else hops)
    chosen = None if refs is None else tuple(refs)
    scene = scene_of(board, state, chosen)
    if not scene.items:
        return document(160, 40, board.title or "Board", [text(Text(16, 24, "no parts to draw", size=12.0,
                                                                    anchor="start"))])
    look = Look(currents, dict(marks or {}))
    plan = arranged(scene, tuple(sorted((marks or {}).items())), tuple(_flags(scene, probes, steps or {})))
    return document(plan.sheet.width, plan.sheet.height, board.title or "Board", _inside(scene, plan, look),
                    "Circuit drawing: nets are horizontal lines, parts stand between them.")


def _flags(scene: Scene, probes: tuple[str, str] | None,
           steps: Mapping[str, Sequence[tuple[int, str]]]) -> Iterable[Tag]:
    for name, lead in zip(probes or (), ("red", "black"), strict=False):
        net = net_of_pad(scene, name)
        if net is not None:
            yield probe_tag(net, lead)
    for name, numbers in steps.items():
        net = net_of_pad(scene, name)
        if net is not None and numbers:
            yield steps_tag(net, numbers)


def net_of_pad(scene: Scene, pad: str) -> int | None:
    """The net a probe on a pad touches: a net by name or test point, or a pin ``D3.K``."""
    for k, node in enumerate(scene.nodes):
        if pad == node.name or (node.net is not None and pad and pad == node.net.pad):
            return k
    for item in scene.items:
        for (pin, _), net in zip(item.part.pins, item.nets, strict=True):
            if pad == f"{item.part.ref}.{pin}":
                return net
    return None


def _inside(scene: Scene, plan: Arrangement, look: Look) -> Iterable[str]:
    for rail in plan.sheet.rails:
        yield net_group(scene, plan, rail, look)
    for placed in plan.sheet.placed:
        yield part_group(scene, placed, look)
    yield from flags(plan)
