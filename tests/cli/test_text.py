"""What people read: never wider than 100 columns, never a wall."""

from __future__ import annotations

import random
from itertools import combinations
from pathlib import Path

import pytest
from click.testing import CliRunner

from incircuit.board import read_board
from incircuit.cli.main import cli
from incircuit.cli.text import WIDTH, cells, columns, listed, short

ROOT = Path(__file__).resolve().parents[2]
BOARDS = sorted((ROOT / "boards").rglob("*.board"))
SLOW = ("pump-drive", "inverter", "audio-amp")
LONG = "/power/gate_drive/電源の入力側/" + "x" * 150


def printed(*arguments: str) -> str:
    done = CliRunner().invoke(cli, list(arguments), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def widest(text: str) -> int:
    return max(cells(line) for line in text.splitlines())


@pytest.mark.parametrize("path", BOARDS, ids=[path.stem for path in BOARDS])
def test_every_answer_on_a_shipped_board_fits(path: Path) -> None:
    r = random.Random(path.stem)
    pairs = list(combinations(read_board(path).net_names(), 2))
    for red, black in r.sample(pairs, 1 if path.stem in SLOW else 2):
        for mode in ("diode",) if path.stem in SLOW else ("diode", "ohms"):
            text = printed("explain", str(path), red, black, "--mode", mode)
            assert widest(text) <= WIDTH
            assert len(text.splitlines()) <= 80
        assert widest(printed("predict", str(path), red, black)) <= WIDTH


def test_long_names_fit(tmp_path: Path) -> None:
    lines = [f"R{'1' * 60} resistor {LONG} B 10", f"D1 diode A=B K={LONG}"]
    (tmp_path / "x.board").write_text("\n".join(lines), encoding="utf-8")
    at = str(tmp_path / "x.board")
    for verb, *shown in (("predict",), ("explain",), ("compare", "0.2")):
        text = "\n".join(line for line in printed(verb, at, LONG, "B", *shown).splitlines() if at not in line)
        assert widest(text) <= WIDTH, text


def test_columns_line_up_and_shrink_names_before_numbers() -> None:
    assert columns(("a", "b"), [("1", "22"), ("333", "4")]) == "  a    b\n  1    22\n  333  4"
    table = columns(("name", "reading"), [(LONG, "0.010 V"), ("電源", "OL")])
    assert widest(table) == WIDTH
    assert "0.010 V" in table


def test_short_keeps_both_ends() -> None:
    assert short("ABCDEFGHIJ", 5) == "AB…IJ"
    assert short("ABC", 5) == "ABC"
    assert cells(short(LONG, 30)) <= 30


def test_listed_counts_the_tail() -> None:
    assert listed(()) == "none"
    assert listed(("a", "b")) == "a, b"
    assert listed(("a", "b", "c"), 2) == "a, b and 1 more"
