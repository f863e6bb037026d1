"""The drawing shows the board's netlist, and nothing in it is on top of anything else."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board import KINDS, Board, Net, Part, make_state, parse_board, read_board
from incircuit.draw import arrangement
from incircuit.draw.blocks import stages_of
from incircuit.draw.drawing import draw_board
from incircuit.draw.symbols import SYMBOLS
from tests.draw.readback import netlist, read, stumbles

ROOT = Path(__file__).resolve().parents[2]
BOARDS = sorted((ROOT / "boards").glob("*/*.board"))
FEW_LOOKS = 250
"""Random boards are drawn without much search: what is legible must not hang on a good arrangement."""


def netlist_of(board: Board, lifted: Sequence[str] = ()) -> set[frozenset[str]]:
    """Pins by net, as the board says, lifted ones by themselves."""
    nets: dict[str, set[str]] = {}
    for part in board.parts:
        for pin, net in part.pins:
            name = f"{part.ref}.{pin}"
            nets.setdefault(f"lifted {name}" if name in lifted else net, set()).add(name)
    return {frozenset(pins) for pins in nets.values()}


def stage(board: Board, refs: tuple[str, ...]) -> Board:
    """A board of some of the parts."""
    return Board(board.title, board.nets, tuple(p for p in board.parts if p.ref in refs))


@pytest.mark.parametrize("file", BOARDS, ids=[f.stem for f in BOARDS])
def test_every_shipped_board_is_drawn_as_it_is_wired(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(arrangement, "LOOKS", 1500)
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


@given(board=boards(), data=st.data())
@settings(max_examples=50, deadline=None, derandomize=True)
def test_random_boards_are_drawn_as_they_are_wired(board: Board, data: st.DataObject) -> None:
    """With probes, marks, step numbers, lifted pins and parts taken off, as they come."""
    pins = [f"{p.ref}.{pin}" for p in board.parts for pin in p.pin_names]
    refs = [p.ref for p in board.parts]
    lifted = data.draw(st.lists(st.sampled_from(pins), max_size=2, unique=True))
    state = make_state(board, lift=lifted, remove=data.draw(st.lists(st.sampled_from(refs), max_size=1)))
    wired = netlist_of(board, lifted)
    pads = sorted(
        {net for p in board.parts for pin, net in p.pins if f"{p.ref}.{pin}" not in lifted} | {*lifted}
    )
    probes = (data.draw(st.sampled_from(pads)), data.draw(st.sampled_from(pads)))
    marks = dict.fromkeys(data.draw(st.lists(st.sampled_from(refs), max_size=3)), "short, 82 %")
    stepped = data.draw(st.lists(st.sampled_from(pads), max_size=3, unique=True))
    steps = {
        pad: [(n, "black" if n % 2 else "red") for n in range(1, 2 + k)] for k, pad in enumerate(stepped)
    }
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(arrangement, "LOOKS", FEW_LOOKS)
        svg = draw_board(board, state=state, probes=probes, marks=marks, steps=steps)
    picture = read(svg)
    assert netlist(picture) == wired
    assert stumbles(picture) == []
    said = {text.partition(" · ")[0] for text, _ in picture.texts}
    assert {*pads, *refs} <= said
    assert svg.count("data-probe=") == 2
    assert svg.count('class="steps"') == len(steps)
    assert svg.count('class="mark"') == len(marks)


def test_the_same_board_gives_the_same_picture_in_another_process() -> None:
    file = str(ROOT / "boards/pump-drive/gate-drive.board")
    code = f"from incircuit.board import read_board; from incircuit.draw.drawing import draw_board; " \
           f"print(draw_board(read_board({file!r})), end='')"
    seen = {subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, cwd=ROOT,
                           env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(ROOT)}).stdout
            for seed in ("1", "2")}
    assert seen == {draw_board(read_board(file)).encode()}


def test_what_moves_nothing_leaves_the_picture_still() -> None:
    board = read_board(str(ROOT / "boards/pump-drive/gate-drive.board"))
    plain, probed = draw_board(board), draw_board(board, probes=("GATE", "DRV"))
    assert read(plain).pins == read(probed).pins


def test_currents_are_line_weight_and_shut_junctions_grey() -> None:
    from incircuit.draw.flow import flow_of
    from incircuit.meter.profile import load_meter
    from incircuit.predict.explanation import explain
    from incircuit.predict.measure import Ask
    from incircuit.predict.question import ask_about

    board = read_board(str(ROOT / "boards/pump-drive/gate-drive.board"))
    state = make_state(board)
    e = explain(ask_about(board, state, "GATE", "DRV"), load_meter("handheld"), Ask("diode"))
    svg = draw_board(board, state=state, probes=("GATE", "DRV"), currents=flow_of(board, state, e))
    assert re.search(r'class="wire carries"[^>]*stroke-width="[56][.\d]*"[^>]*data-pin="R7\.', svg)
    assert re.search(r'class="part shut" data-part="D3"', svg)  # 10 mV do not open it
    assert not re.search(r'class="part shut" data-part="R', svg)


def test_a_neighbourhood_shows_where_nets_go_on() -> None:
    board = read_board(str(ROOT / "boards/pump-drive/pump-drive.board"))
    svg = draw_board(board, around="Q1", hops=1)
    picture = read(svg)
    assert {"Q1", "R7", "D5", "L2"} <= set(picture.symbols)
    assert len(picture.symbols) < 20
    assert stumbles(picture) == []


def test_user_text_is_escaped() -> None:
    board = parse_board('board "<script>alert(1)</script>"\nR1 resistor <i>&A B 10k\n')
    svg = draw_board(board)
    assert "<script" not in svg
    assert "<i>" not in svg
    assert "&lt;i&gt;&amp;A" in svg
