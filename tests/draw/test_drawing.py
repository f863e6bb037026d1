"""The drawing shows the board's netlist, and nothing in it is on top of anything else."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board import KINDS, Board, Net, Part, read_board
from incircuit.draw import arrangement
from incircuit.draw.blocks import stages_of
from incircuit.draw.drawing import draw_board
from incircuit.draw.symbols import SYMBOLS
from tests.draw.readback import netlist, read, stumbles

ROOT = Path(__file__).resolve().parents[2]
BOARDS = sorted((ROOT / "boards").glob("*/*.board"))
FEW_LOOKS = 250
"""Random boards are drawn without much search: what is legible must not hang on a good arrangement."""


def netlist_of(board: Board) -> set[frozenset[str]]:
    """Pins by net, as the board says."""
    nets: dict[str, set[str]] = {}
    for part in board.parts:
        for pin, net in part.pins:
            nets.setdefault(net, set()).add(f"{part.ref}.{pin}")
    return {frozenset(pins) for pins in nets.values()}


def stage(board: Board, refs: tuple[str, ...]) -> Board:
    """A board of some of the parts."""
    return Board(board.title, board.nets, tuple(p for p in board.parts if p.ref in refs))


@pytest.mark.parametrize("file", BOARDS, ids=[f.stem for f in BOARDS])
def test_every_shipped_board_is_drawn_as_it_is_wired(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arrangement, "LOOKS", 3000)
    board = read_board(str(file))
    parts = [stage(board, s.refs) for s in stages_of(board)] if len(board.parts) > 60 else [board]
    for part in parts:
        picture = read(draw_board(part))
        assert netlist(picture) == netlist_of(part)
        assert stumbles(picture) == []
        assert set(picture.symbols) == {p.ref for p in part.parts}


def test_every_kind_has_a_symbol() -> None:
    assert set(SYMBOLS) == set(KINDS)


@st.composite
def boards(draw: st.DrawFn, least: int = 3, most: int = 20) -> Board:
    """Boards of any kinds of part on a few nets, some pins on the same net, some nets on one pin."""
    count = draw(st.integers(least, most))
    nets = [f"N{k}" for k in range(draw(st.integers(2, count + 2)))]
    parts = []
    for k in range(count):
        spec = KINDS[draw(st.sampled_from(sorted(KINDS)))]
        words = tuple(draw(st.sampled_from([w for w in group if w])) for group in spec.word_groups
                      if draw(st.booleans()))
        if spec.name == "transformer":
            pins: tuple[str, ...] = ("P1", "P2", "S1", "S2", "S3")[:draw(st.sampled_from((4, 5)))]
        elif spec.style == "open":
            pins = tuple(f"P{n}" for n in range(draw(st.integers(1, 9))))
        else:
            layout = draw(st.sampled_from(spec.required_pins(words)))
            extra = draw(st.lists(st.sampled_from(spec.optional), unique=True)) if spec.optional else []
            pins = (*layout, *extra)
        options = (("supply", pins[0]), ("ground", pins[-1])) if spec.name == "chip" and len(pins) > 2 else ()
        value = draw(st.sampled_from((0.01, 47.0, 330e3))) if spec.unit else None
        parts.append(
            Part(
                f"X{k + 1}",
                spec.name,
                tuple((p, draw(st.sampled_from(nets))) for p in pins),
                value,
                words=words,
                options=options,
            )
        )
    said = tuple(Net(n, "", pad=f"TP{k}", hidden=False) if k % 3 == 0 else Net(n, hidden=k % 3 == 1)
                 for k, n in enumerate(nets))
    return Board("random", said, tuple(parts))


@given(board=boards())
@settings(max_examples=60, deadline=None, derandomize=True)
def test_random_boards_are_drawn_as_they_are_wired(board: Board) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(arrangement, "LOOKS", FEW_LOOKS)
        picture = read(draw_board(board))
    assert netlist(picture) == netlist_of(board)
    assert stumbles(picture) == []
