"""Faults that no reading in place tells apart are named together; those that one tells apart are not."""

from __future__ import annotations

from incircuit.board import parse_board
from incircuit.judge.judge import Judgement, judge
from incircuit.story import parse_story


def judged(board: str, story: str) -> Judgement:
    on = parse_board(board, "x.board")
    return judge(on, parse_story(f"meter handheld\n{story}", board=on))


def grouped(found: Judgement) -> set[frozenset[str]]:
    """Parts of each group."""
    return {frozenset(part for part, _ in group) for group in found.ruling.groups}


def test_either_of_two_in_a_row_with_no_pad_between() -> None:
    """470 k and 470 k, 1.41 M together: one of them has doubled."""
    found = judged("net M hidden\nR1 resistor A M 470k 1%\nR2 resistor M B 470k 1%\nR3 resistor B G 10k 1%\n",
                   "A B ohms 1.410M\nB G ohms 10.00k\n")
    assert found.ruling.word == "failed"
    assert any({"R1", "R2"} <= parts for parts in grouped(found))
    assert [p.word for p in found.ruling.parts if p.part in ("R1", "R2")] == ["undecided", "undecided"]


def test_the_same_with_a_pad_between_is_settled_by_a_reading_there() -> None:
    board = "R1 resistor A M 470k 1%\nR2 resistor M B 470k 1%\nR3 resistor B G 10k 1%\n"
    open_ = judged(board, "A B ohms 1.410M\nB G ohms 10.00k\n")
    assert open_.ruling.word == "undecided"
    assert not any({"R1", "R2"} <= parts for parts in grouped(open_))
    told = judged(board, "A B ohms 1.410M\nA M ohms 470k\nM B ohms 0.940M\n")
    assert told.ruling.word == "failed"
    assert [p.part for p in told.ruling.parts if p.word == "failed"] == ["R2"]


def test_a_leak_on_this_side_or_that_of_ten_ohms() -> None:
    found = judged("R1 resistor D G 10R 1%\nC1 capacitor D E 100n ceramic\nC2 capacitor G E 100n ceramic\n"
                   "R2 resistor D E 47k 1%\n", "D E ohms 5.20k\nG E ohms 5.21k\nD G ohms 10.2\n")
    assert found.ruling.word == "failed"
    assert any({"C1", "C2"} <= parts for parts in grouped(found))
    assert not any(p.word == "failed" for p in found.ruling.parts)
