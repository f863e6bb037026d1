"""What is written reads back the same; what is changed is written anew; nothing else moves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from incircuit.board import KINDS, Board, Net, Part, parse_board, read_board, write_board
from incircuit.errors import BoardError

from .strategies import boards

VALID = Path(__file__).parent / "valid"
quick = settings(
    deadline=None, derandomize=True, max_examples=150, suppress_health_check=[HealthCheck.too_slow]
)

TYPED = """\
# head remark
board "Title"   # of the board

net A  "first"  pad=TP1   # a pad
R1  resistor  A B   10k   # upper
R2  resistor  B C   10k   # lower
alike R1 R2               # a pair
"""


@quick
@given(boards())
def test_a_board_built_in_code_reads_back_equal(board: Board) -> None:
    text = write_board(board)
    back = parse_board(text)
    assert back == board
    assert write_board(back) == text


@quick
@given(boards(), st.randoms(use_true_random=False))
def test_blanks_and_comments_survive(board: Board, random: object) -> None:
    gaps = ["", " ", "   ", "\t"]
    choice = random.choice  # type: ignore[attr-defined]
    lines = [
        choice(gaps) + line + choice(gaps) + choice(["", "# x", '#"'])
        for line in write_board(board).splitlines()
    ]
    text = "\n".join([*lines, "", "# end"]) + "\n"
    back = parse_board(text)
    assert back == board
    assert write_board(back) == text


def test_a_changed_part_is_written_anew_and_keeps_its_remark() -> None:
    board = parse_board(TYPED)
    parts = (replace(board.part("R1"), value=22e3), board.part("R2"))
    assert write_board(replace(board, parts=parts)) == TYPED.replace(
        "R1  resistor  A B   10k ", "R1 resistor A B 22k "
    )


def test_what_is_taken_out_goes_and_what_is_new_comes_last() -> None:
    board = parse_board(TYPED)
    new = Part("C1", "capacitor", (("1", "A"), ("2", "B")), 1e-7)
    changed = replace(board, title="Other", parts=(board.part("R1"), new), nets=(Net("A", "new"),), alike=())
    assert (
        write_board(changed)
        == """\
# head remark
board "Other"   # of the board

net A "new"   # a pad
R1  resistor  A B   10k   # upper
# lower
# a pair
C1 capacitor A B 100n
"""
    )


def test_parts_of_included_files_stay_in_their_files() -> None:
    board = read_board(VALID / "include-top.board")
    link = Part("W1", "link", (("1", "A"), ("2", "B")))
    typed = (VALID / "include-top.board").read_text(encoding="utf-8")
    assert write_board(replace(board, parts=(*board.parts, link))) == typed + "W1 link A B\n"


@pytest.mark.parametrize(
    "board",
    [
        Board(parts=(Part("R1", "resistor", (("1", "A B"), ("2", "C")), 10.0),)),
        Board(parts=(Part("R1", "resistor", (("1", "A"), ("2", "B"))),)),
        Board(parts=(Part("R 1", "resistor", (("1", "A"), ("2", "B")), 10.0),)),
        Board(parts=(Part("R1", "resister", (("1", "A"), ("2", "B")), 10.0),)),
        Board(parts=(Part("L1", "coil", (("1", "A"), ("2", "B")), 1e-3),)),
        Board(parts=(Part("R1", "resistor", (("1", "A"), ("2", "B")), 10.0, options=(("tol", "5%"),)),)),
        Board(nets=(Net("A#B"),)),
        Board(nets=(Net("A"), Net("A"))),
        Board(title="two\nlines"),
        Board(alike=(("R1", "R2"),)),
    ],
    ids=str,
)
def test_a_board_that_no_file_can_say_is_refused(board: Board) -> None:
    with pytest.raises(BoardError):
        write_board(board)


def test_the_strategy_can_build_every_kind() -> None:
    for kind in KINDS.values():
        layouts = kind.required_pins(()) or (("P1", "P2"),)
        pins = tuple((pin, f"N{at}") for at, pin in enumerate(layouts[0]))
        part = Part("X1", kind.name, pins, 5.0 if kind.unit else None)
        assert parse_board(write_board(Board(parts=(part,)))).parts == (part,)
