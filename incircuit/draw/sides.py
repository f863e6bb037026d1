"""Pins of chips and connectors on the side where their nets are: the order on a box is ours to choose."""

from __future__ import annotations

from collections.abc import Sequence

from incircuit.draw.bodies import Body, body_of
from incircuit.draw.boxes import chip, chip_sides, connector
from incircuit.draw.plan import Look
from incircuit.draw.scene import Item


def turned(item: Item, body: Body, mine: int, bodies: Sequence[Body], levels: Sequence[int],
           columns: Sequence[Sequence[int]], look: Look) -> Body | None:
    """The box with its pins towards their nets, as things stand; None for a symbol whose pins are fixed."""
    if not body.glyph.free:
        return None
    ends: dict[int, list[float]] = {}
    here = 0.0
    for c, column in enumerate(columns):
        for i in column:
            if i == mine:
                here = look.lines[c]
                continue
            for p in bodies[i].pins:
                ends.setdefault(p.net, []).append(look.lines[c])
    nets = dict(zip(item.part.pin_names, item.nets, strict=True))
    lean = {pin: sum(x - here for x in ends[net]) / len(ends[net]) if net in ends else 0.0
            for pin, net in nets.items()}
    if item.part.kind != "chip":
        pins = list(item.part.pin_names)
        to_left = sum(lean.values()) < 0
        return body_of(item, glyph=connector(item.part, pins if to_left else [], [] if to_left else pins))
    return _chip(item, lean, nets, levels, look.stands[mine].row)


def _chip(item: Item, lean: dict[str, float], nets: dict[str, int], levels: Sequence[int], row: int) -> Body:
    top, bottom = chip_sides(item.part)
    loose = sorted((p for p in item.part.pin_names if p not in top and p not in bottom),
                   key=lambda p: (lean[p], item.part.pin_names.index(p)))
    most = len(loose) - len(loose) // 3  # neither side takes more than two thirds
    cut = sum(lean[p] < 0 for p in loose)
    cut = max(len(loose) - most, min(cut, most))

    def ordered(pins: Sequence[str]) -> list[str]:
        """Pins that go up on top, the farthest rail innermost; so no wire of the box crosses another."""
        up = sorted((p for p in pins if levels[nets[p]] <= row), key=lambda p: levels[nets[p]])
        down = sorted((p for p in pins if levels[nets[p]] > row), key=lambda p: levels[nets[p]])
        return [*up, *down]

    return body_of(item, glyph=chip(item.part, ordered(loose[:cut]), ordered(loose[cut:])))
