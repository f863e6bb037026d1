"""The statements mains and supply: read, refused with a place, written back."""

from __future__ import annotations

from dataclasses import replace

import pytest

from incircuit.board import parse_board, write_board
from incircuit.board.model import Supply
from incircuit.errors import BoardError

TEXT = """board "Front end"
BR1 bridge AC1=L AC2=N +=BUS -=RTN
C1 capacitor BUS RTN 220u 400V electrolytic
mains  L N 230V     # from the plug
supply BUS RTN 325
"""


def test_what_powers_a_board() -> None:
    board = parse_board(TEXT)
    assert board.supplies == (Supply("mains", ("L", "N"), 230.0), Supply("supply", ("BUS", "RTN"), 325.0))
    assert write_board(board) == TEXT


def test_changed_in_code_and_written() -> None:
    board = parse_board(TEXT)
    changed = replace(board, supplies=(Supply("mains", ("L", "N"), 120.0), board.supplies[1]))
    text = write_board(changed)
    assert "mains L N 120V" in text
    assert "# from the plug" in text
    assert parse_board(text).supplies == (board.supplies[1], changed.supplies[0])


@pytest.mark.parametrize(("line", "told"), [
    ("mains L 230V",
     "<text>:6:1: mains takes 2 or 3 nets and volts (write mains L N 230V, or mains L1 L2 L3 400V)"),
    ("supply BUS RTN 5V6A", '<text>:6:16: "5V6A" is not a value'),
    ("supply BUS RTN -5", "<text>:6:16: -5 is no voltage of a supply (name plus first and give the amount)"),
    ("supply BUSS RTN 5", '<text>:6:8: supply: there is no net "BUSS" (did you mean BUS?)'),
    ("supply RTN BUS 5", "<text>:6:1: RTN BUS are supplied already, in line 5 (keep one of the two)"),
    ("mains L L 230", "<text>:6:7: mains names a net twice (write mains L N 230V, or mains L1 L2 L3 400V)"),
])
def test_mistakes_are_told(line: str, told: str) -> None:
    with pytest.raises(BoardError) as error:
        parse_board(TEXT + line + "\n")
    assert str(error.value).splitlines()[0].startswith(told)
