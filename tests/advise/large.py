"""Boards of any size, made of the shipped stages joined through rails, fuses and connectors; seeded."""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

from incircuit.board import Board
from incircuit.board.model import Part
from tests.compare.circuits import shipped

STAGES = ("pump-drive/gate-drive", "pump-drive/mains-input", "pump-drive/boost-stage", "pump-drive/inverter",
          "pump-drive/auxiliary-supply", "pump-drive/control", "lamp-driver/lamp-driver",
          "battery-charger/battery-charger", "audio-amp/audio-amp")
SUPPLIES = ("+5V", "+12V", "+15V", "+5VC", "BUS", "V+", "V5", "VO", "VCC")
"""Nets of the stages that come from elsewhere on a board."""
GROUP = 5
"""Stages on one supply."""


def large(parts: int, seed: int = 1) -> Board:
    """A board of about so many parts: stages drawn at random, all on one return; supplies of one name joined
    within a group of stages through a fuse, a link or a resistor each; groups meet at connectors."""
    rng = random.Random(seed)
    board = Board(title=f"{parts} parts, seed {seed}")
    stage = 0
    while len(board.parts) < parts:
        source = shipped(rng.choice(STAGES))
        board = _with_stage(board, source, stage, rng)
        stage += 1
    return replace(board, parts=board.parts[:parts])


def _with_stage(board: Board, source: Board, stage: int, rng: random.Random) -> Board:
    """The stage's refs and nets get its number; its busiest net is the return all stages share."""
    busy = Counter(net for part in source.parts for _, net in part.pins)
    common = max(busy, key=lambda net: (busy[net], net))
    group = stage // GROUP
    parts: list[Part] = []

    def net(name: str) -> str:
        return "0V" if name == common else f"{name}.{stage}"

    for part in source.parts:
        pins = tuple((pin, net(name)) for pin, name in part.pins)
        parts.append(replace(part, ref=f"{part.ref}X{stage}", pins=pins, place=None))
    kept = [n for n in source.nets if n.name != common]
    nets = [replace(n, name=net(n.name), pad=f"{n.pad}.{stage}" if n.pad else "", place=None) for n in kept]
    for k, name in enumerate(n for n in SUPPLIES if n in busy and n != common):
        kind, value = rng.choice((("fuse", 2.0), ("link", None), ("resistor", 0.47)))
        rail = f"{name}.group{group}"
        pins = (("1", rail), ("2", net(name)))
        parts.append(Part(f"{kind[0].upper()}{stage}Y{k}", kind, pins,
                          value if kind == "resistor" else None, 0.05 if kind == "resistor" else None,
                          value if kind == "fuse" else None))
    if stage % GROUP == 0:
        pins = tuple((str(k + 1), f"{name}.group{g}") for g in (max(0, group - 1), group)
                     for k, name in enumerate(SUPPLIES[:3]))
        named = tuple((str(n + 1), rail) for n, (_, rail) in enumerate(pins))
        parts.append(Part(f"J{stage}Y", "connector", named))
    alike = tuple(tuple(f"{ref}X{stage}" for ref in some) for some in source.alike)
    return Board(board.title, (*board.nets, *nets), (*board.parts, *parts), (*board.alike, *alike))


