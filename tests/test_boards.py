"""The shipped boards: they read, nothing about them looks wrong, and together they have every kind."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from incircuit.board import KINDS, lint, read_board, write_board
from incircuit.parts import check_parts

ROOT = Path(__file__).resolve().parent.parent
BOARDS = sorted((ROOT / "boards").rglob("*.board"))
DRIVE = ROOT / "boards" / "pump-drive"

each_board = pytest.mark.parametrize("path", BOARDS, ids=[path.stem for path in BOARDS])


@each_board
def test_nothing_about_a_shipped_board_looks_wrong(path: Path) -> None:
    board = read_board(path)
    assert [str(problem) for problem in (*check_parts(board), *lint(board))] == []


@each_board
def test_a_shipped_board_is_written_back_as_it_was(path: Path) -> None:
    assert write_board(read_board(path)) == path.read_text(encoding="utf-8")


@each_board
def test_a_shipped_board_says_that_it_is_invented(path: Path) -> None:
    first = path.read_text(encoding="utf-8").splitlines()[0]
    assert re.match(r"# .*invented\.$", first)


def test_every_kind_occurs_on_a_shipped_board() -> None:
    used = {part.kind for path in BOARDS for part in read_board(path).parts}
    assert set(KINDS) - used == set()


def test_the_whole_drive_is_its_sheets() -> None:
    whole = read_board(DRIVE / "pump-drive.board")
    sheets = [read_board(path) for path in DRIVE.glob("*.board") if path.name != "pump-drive.board"]
    assert {part.ref for part in whole.parts} == {part.ref for sheet in sheets for part in sheet.parts}
    assert set(whole.net_names()) == {net for sheet in sheets for net in sheet.net_names()}


def test_nets_that_sheets_share_have_a_place_for_a_probe() -> None:
    # On a sheet alone such a net may end at one pin; lint would then take it for a slip of the pen.
    within = ("pump-drive", "gate-drive")  # the whole, and what boost-stage includes
    sheets = [read_board(path) for path in DRIVE.glob("*.board") if path.stem not in within]
    names = [set(sheet.net_names()) for sheet in sheets]
    shared = {net for at, own in enumerate(names) for other in names[at + 1 :] for net in own & other}
    assert len(shared) > 8
    pads = {net.name: net.pad for sheet in sheets for net in sheet.nets}
    assert {net for net in shared if not pads.get(net)} == {"PE"}  # there the connectors are the place
