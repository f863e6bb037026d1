"""Starting points: they read, look right, say that they are invented, and never overwrite anything."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from incircuit.board import lint, parse_board, write_board
from incircuit.errors import StartError
from incircuit.parts import check_parts
from incircuit.starts import StartingPoint, begin, starting_point, starting_points
from tests.cli.helpers import run

POINTS = starting_points()
each = pytest.mark.parametrize("point", POINTS, ids=[p.name for p in POINTS])


@each
def test_nothing_about_a_starting_point_looks_wrong(point: StartingPoint) -> None:
    board = parse_board(point.text)
    assert [str(problem) for problem in (*check_parts(board), *lint(board))] == []
    assert write_board(board) == point.text
    assert 8 <= len(board.parts) <= 20
    assert board.title


@each
def test_a_starting_point_says_what_it_is_and_that_it_is_invented(point: StartingPoint) -> None:
    assert re.match(r"# Starting point: .*invented\.$", point.text.splitlines()[0])
    assert 8 < len(point.line) < 60
    assert point.text.count("  # ") + point.text.count("\n# ") >= 3  # it is commented


def test_every_board_file_of_the_package_is_listed() -> None:
    import incircuit.starts

    files = {path.stem for path in Path(incircuit.starts.__file__).parent.glob("*.board")}
    assert {p.name for p in POINTS} == files


def test_what_a_technician_meets_is_there() -> None:
    """The neighbourhoods the trade asks for."""
    text = " ".join(p.line for p in POINTS)
    for word in ("gate drive", "bridge and link", "half bridge", "flyback", "optocoupler", "relay", "LED",
                 "linear regulator", "divider", "op-amp"):
        assert word in text


def test_begin_never_overwrites(tmp_path: Path) -> None:
    point = starting_point("divider")
    written = begin(tmp_path / "mine", point)
    assert written.name == "mine.board"
    assert written.read_text(encoding="utf-8") == point.text
    written.write_text("# my work\n", encoding="utf-8")
    for name in ("mine", "mine.board"):
        with pytest.raises(StartError, match="already"):
            begin(tmp_path / name, point)
    assert written.read_text(encoding="utf-8") == "# my work\n"


def test_a_dangling_link_is_not_written_through(tmp_path: Path) -> None:
    try:
        (tmp_path / "x.board").symlink_to(tmp_path / "elsewhere")
    except OSError:
        pytest.skip("no links here")
    with pytest.raises(StartError, match="already"):
        begin(tmp_path / "x", starting_point("divider"))
    assert not (tmp_path / "elsewhere").exists()


def test_every_starting_point_comes_out_of_the_command(tmp_path: Path) -> None:
    done = run("new", str(tmp_path / "a b"), "--from", "flyback")
    assert done.returncode == 0
    assert "check" in done.stdout
    assert run("check", str(tmp_path / "a b.board")).returncode == 0


def test_the_list_names_all_of_them() -> None:
    names = [line.split()[0] for line in run("new", "--list").stdout.splitlines()[1:]]
    assert names == [p.name for p in POINTS]
    listed = json.loads(run("new", "--list", "--json").stdout)["starting_points"]
    assert [(p["name"], p["line"]) for p in listed] == [(p.name, p.line) for p in POINTS]


@pytest.mark.parametrize(("arguments", "told"), [
    (["mine", "--from", "gate-drve"], "did you mean gate-drive"),
    (["mine", "--from", ""], "there are divider"),
    (["mine"], "--list"), (["--from", "divider"], "NAME"), ([], "NAME"),
    (["--list", "mine"], "NAME"),
    (["", "--from", "divider"], "names no file"), ([".", "--from", "divider"], "names no file"),
    (["no/such/folder/x", "--from", "divider"], "cannot be written"),
    (["a\0b", "--from", "divider"], "cannot be written"),
    (["x" * 400, "--from", "divider"], "cannot be written"),
], ids=str)
def test_mistakes_are_one_line(arguments: list[str], told: str, tmp_path: Path) -> None:
    if any("\0" in a for a in arguments):
        with pytest.raises(StartError, match=told):
            begin(tmp_path / arguments[0], starting_point("divider"))
        return
    done = run("new", *arguments)
    assert done.returncode == 2
    assert told in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert done.stdout == ""
