"""Drawings for paper: one where it stays legible, else one a stage."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from incircuit.board.model import Board
from incircuit.board.state import State
from incircuit.draw.blocks import Stage, grouped, merged, stages_of
from incircuit.draw.drawing import draw_board

Steps = Mapping[str, Sequence[tuple[int, str]]]

ON_ONE = 24
"""Parts that go on one drawing."""
CUT = 18
"""Parts on a drawing where a stage is too large for one."""
PORTRAIT = 900.0
"""A drawing wider than this [px] goes on a page of its own, the long side across: letters stay above 2 mm."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """SVG text, a caption, and whether it wants the long side of the paper."""

    svg: str
    caption: str
    wide: bool


def drawings_of(board: Board, state: State | None, *, steps: Steps | None = None,
                marks: Mapping[str, str] | None = None, only: Iterable[str] | None = None,
                key: str = "") -> tuple[Drawing, ...]:
    """Drawings of a board, or of the stages with the parts in `only`. `key` explains what is marked."""
    refs = [p.ref for p in board.parts]
    if len(refs) <= ON_ONE:
        stages = [("", tuple(refs))]
    else:
        wanted = set(refs if only is None else only)
        stages = [(s.name, s.refs) for whole in _sheets(board) for s in _legible(board, whole)
                  if wanted & set(s.refs)]
    found = []
    for name, mine in stages:
        if mine:
            svg = draw_board(board, state=state, steps=steps, marks=marks, refs=mine)
            wide = re.search(r'width="([\d.]+)"', svg)
            said = ". ".join(t for t in (name and f"{name[:1].upper()}{name[1:]}", key) if t)
            found.append(Drawing(svg, said, wide is not None and float(wide[1]) > PORTRAIT))
    return tuple(found)


def _sheets(board: Board) -> tuple[Stage, ...]:
    """The sheets a board includes; one that includes none is cut by its nets."""
    stages = stages_of(board)
    several = len({p.place.file for p in board.parts if p.place}) > 1
    return stages if several else merged(board, stages, CUT)


def _legible(board: Board, whole: Stage) -> tuple[Stage, ...]:
    """A stage too large for one sheet of paper in parts that are not."""
    if len(whole.refs) <= ON_ONE:
        return (whole,)
    some = Board(board.title, board.nets, tuple(p for p in board.parts if p.ref in whole.refs))
    return tuple(Stage(f"{whole.name}, {s.name}", s.refs) for s in merged(some, grouped(some), CUT))
