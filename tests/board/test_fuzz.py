"""Whatever the text, a Board or a BoardError comes out."""

from __future__ import annotations

from pathlib import Path

from hypothesis import example, given, settings
from hypothesis import strategies as st

from incircuit.board import KINDS, Board, lint, parse_board, write_board
from incircuit.board.source import decoded
from incircuit.errors import BoardError

VALID = Path(__file__).parent / "valid"
SEEDS = [path.read_text(encoding="utf-8") for path in sorted(VALID.glob("*.board"))]
quick = settings(deadline=None, derandomize=True, max_examples=300)

WORDS = st.sampled_from(
    [
        *KINDS,
        "board",
        "net",
        "alike",
        "include",
        "lift",
        "hidden",
        '"',
        '""',
        '"a"',
        "#",
        "=",
        "A=",
        "=A",
        "A=B",
        "1=",
        "tol=",
        "tol=5%",
        "5%",
        "10R",
        "4k7",
        "R47",
        "-1",
        "1e999",
        "ntc",
        "pad=A",
        "dcr.=1",
        "dcr.P=1",
        "vf=1@",
        "supply=,",
        "A",
        "B",
        "R1",
        "R2",
        "\\",
        "\t",
        "±",
        "µ",
    ]
)


def survives(text: str) -> None:
    """Check that a text gives a board that can be linted and written, or placed problems."""
    try:
        board = parse_board(text, "fuzz.board")
    except BoardError as error:
        lines = text.replace("\r\n", "\n").split("\n")
        for problem in error.problems:
            assert 1 <= problem.line <= len(lines)
            assert 1 <= problem.column <= max(len(problem.text), 1)
            assert problem.message
            assert str(problem).count("\n") in (0, 2)
        return
    assert isinstance(board, Board)
    for warning in lint(board):
        assert warning.warning
    assert parse_board(write_board(board)) == board


@quick
@given(st.text(max_size=200))
@example('A resistor B "')
@example("R1 resistor A=B")
def test_any_text(text: str) -> None:
    survives(text)


@quick
@given(st.lists(st.lists(WORDS, max_size=8).map(" ".join), max_size=6).map("\n".join))
def test_any_order_of_the_words_of_a_board(text: str) -> None:
    survives(text)


@settings(quick, max_examples=150)
@given(st.sampled_from([s for s in SEEDS if "include" not in s and len(s) < 2000] or SEEDS), st.data())
def test_valid_boards_with_a_piece_moved_cut_or_put_in(text: str, data: st.DataObject) -> None:
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        end = min(len(text), at + data.draw(st.integers(0, 8)))
        text = text[:at] + data.draw(st.text(max_size=3) | WORDS) + text[end:]
    survives(text)


@settings(quick, max_examples=150)
@given(st.sampled_from(SEEDS[:1]), st.integers(0, 60), st.data())
def test_lines_of_the_board_with_every_kind_mutated(text: str, line: int, data: st.DataObject) -> None:
    lines = text.split("\n")
    words = lines[line % len(lines)].split(" ")
    at = data.draw(st.integers(0, len(words) - 1))
    words[at] = data.draw(WORDS | st.just("") | st.just(words[at][1:]) | st.just(words[at].swapcase()))
    lines[line % len(lines)] = " ".join(words)
    survives("\n".join(lines))


@quick
@given(st.binary(max_size=100))
def test_any_bytes(data: bytes) -> None:
    read = decoded(data, "fuzz.board")
    if isinstance(read, str):
        survives(read)
    else:
        assert read.line >= 1
        assert 1 <= read.column <= len(data) + 1
