"""Folders of boards: valid ones survive reading and writing, invalid ones give the exact messages."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from incircuit.board import KINDS, Board, parse_board, read_board, write_board
from incircuit.errors import BoardError

HERE = Path(__file__).parent
VALID = sorted((HERE / "valid").glob("*.board"))
INVALID = sorted((HERE / "invalid").glob("*.board"))

each_valid = pytest.mark.parametrize("path", VALID, ids=lambda p: p.stem)


@each_valid
def test_a_valid_board_is_written_back_as_typed(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert write_board(read_board(path)) == (text if not text or text.endswith("\n") else text + "\n")


@each_valid
def test_a_valid_board_says_the_same_in_canonical_text(path: Path) -> None:
    board = read_board(path)
    text = write_board(replace(board, statements=()))
    assert parse_board(text) == board
    assert write_board(parse_board(text)) == text


@pytest.mark.parametrize("path", INVALID, ids=lambda p: p.stem)
def test_an_invalid_board_gives_these_messages(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(path.parent)
    with pytest.raises(BoardError) as caught:
        read_board(path.name)
    assert str(caught.value) + "\n" == path.with_suffix(".expected").read_text(encoding="utf-8")
    assert not any(problem.warning for problem in caught.value.problems)


def test_every_kind_is_in_the_folder_of_valid_boards() -> None:
    assert {part.kind for path in VALID for part in read_board(path).parts} == set(KINDS)


def test_what_a_part_statement_says() -> None:
    board = read_board(HERE / "valid" / "every-kind.board")
    r1, c1, f1, z2 = (board.part(ref) for ref in ("R1", "C1", "F1", "Z2"))
    assert (r1.value, r1.tolerance, r1.words, r1.ratings) == (4700.0, 0.01, ("film",), (("W", 0.25),))
    assert (c1.value, c1.rating, c1.words) == (470e-6, 450.0, ("electrolytic",))
    assert c1.options == (("esr", "0R2"), ("leak", "1M"))
    assert (f1.value, f1.rating, f1.ratings, f1.words) == (None, 4.0, (("V", 250.0),), ("blown",))
    assert (z2.value, z2.options) == (12.0, ())
    assert board.part("L2").kind == "inductor"
    assert board.part("D2").pins == (("A1", "A"), ("A2", "C"), ("K", "B"))
    assert board.part("U6").option("text") == 'a # b "c"'
    assert (board.title, board.flags, board.alike) == ("Every kind", ("worked-on",), (("R1", "R2"),))
    assert [(net.name, net.text, net.pad, net.hidden) for net in board.nets] == [
        ("A", "a net", "TP1", False),
        ("B", "", "", True),
    ]


def test_an_include_brings_parts_nets_and_groups() -> None:
    board = read_board(HERE / "valid" / "include-top.board")
    assert [part.ref for part in board.parts] == ["U1", "C9", "J1", "C10", "R1", "R2"]
    assert board.alike == (("C9", "C10"), ("R1", "R2"))
    assert (board.title, board.flags) == ("With another sheet", ("worked-on",))
    ground = board.nets[0]
    assert (ground.name, ground.text, ground.pad) == ("GND", "return", "TP1")
    place = board.part("C10").place
    assert place is not None
    assert (Path(place.file).name, place.line, place.column) == ("deeper.board", 1, 1)


def test_an_empty_file_is_an_empty_board() -> None:
    assert read_board(HERE / "valid" / "empty.board") == Board()
