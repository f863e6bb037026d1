"""`incircuit record`: a line checked, stored and shown; taken back again."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from incircuit.board import Board
from incircuit.cli.record import line_of, make_record
from incircuit.errors import StoryError
from incircuit.story import Story, moments, read_story
from tests.story.bench_board import BOARD, TEXT

FIRST = ("GATE", "DRV", "diode", "0.011")


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    """A board file, and a readings file that is not there yet."""
    (tmp_path / "gate.board").write_text(TEXT)
    return str(tmp_path / "gate.board"), str(tmp_path / "x.readings")


def record(*words: str) -> Result:
    """What the command does; an error the user can mend is raised."""
    result = CliRunner().invoke(make_record(), words)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_a_story_told_line_by_line(files: tuple[str, str]) -> None:
    for words in (("meter", "handheld"), FIRST, ("lift", "D3.K"), ("charge", "C9", "-48 V"),
                  ("D3.A", "D3.K", "diode", "-0.586", "first"), ("D3.A D3.K ohms OL",),
                  ('"short"', "RTN", "ohms", "1 kΩ", "a b")):
        assert record(*files, *words).output == line_of(words) + "\n"
    found = [m.reading.typed.value for m in moments(read_story(files[1], BOARD), BOARD)[0]]
    assert found == [0.011, -0.586, None, 1000.0]
    assert record(*files, "--undo").output == 'taken back: "short" RTN ohms 1 kΩ "a b"\n'
    assert len(read_story(files[1]).readings) == 3


def test_remark_and_time(files: tuple[str, str]) -> None:
    record(*files, *FIRST, "--remark", 'the "good" one', "--stamp")
    (entry,) = read_story(files[1]).readings
    assert entry.remark == 'the "good" one'
    assert len(entry.stamp) == len("2026-11-25T18:03")


@pytest.mark.parametrize(("words", "message"), [
    (("GAET", "DRV", "diode", "0.011"), 'this line:1:1: "GAET" is no net, pad or pin of this board'),
    (("resolder", "D3.K"), "this line:1:10: D3.K is not lifted"),
    (("GATE", "DRV", "diode"), "SHOWN missing"),
    ((), "an empty line"),
    (("GATE", "DRV", "ohms", "1\n2"), "this line:1:16: "),
])
def test_what_cannot_be_is_not_recorded(files: tuple[str, str], words: tuple[str, ...], message: str) -> None:
    record(*files, *FIRST)
    before = Path(files[1]).read_bytes()
    with pytest.raises(StoryError) as caught:
        record(*files, *words)
    assert message in str(caught.value)
    assert Path(files[1]).read_bytes() == before


def test_older_faults_are_told_and_do_not_stand_in_the_way(files: tuple[str, str]) -> None:
    Path(files[1]).write_text("GATE DRV ohms 10\nGATE DRV omhs 10\n")
    result = record(*files, *FIRST)
    assert result.stdout == "GATE DRV diode 0.011\n"
    assert f"{files[1]}:2:10: \"omhs\" is not a mode" in result.stderr


def test_a_cut_off_line_is_told(files: tuple[str, str]) -> None:
    Path(files[1]).write_text("GATE DRV ohms 10\nGATE DRV oh")
    assert "had no end and is a comment now: GATE DRV oh" in record(*files, *FIRST).stderr
    assert len(read_story(files[1]).readings) == 2


def test_other_files_are_left_alone(files: tuple[str, str], tmp_path: Path) -> None:
    with pytest.raises(StoryError, match="is the board file"):
        record(files[0], files[0], *FIRST)
    other = tmp_path / "notes.txt"
    other.write_text("Dear diary\nthe pump is dead\n")
    with pytest.raises(StoryError, match="is no state word"):
        record(files[0], str(other), *FIRST)
    assert other.read_text() == "Dear diary\nthe pump is dead\n"
    with pytest.raises(StoryError, match="is a directory"):
        record(files[0], str(tmp_path), *FIRST)


def test_undo_stands_alone(files: tuple[str, str]) -> None:
    record(*files, *FIRST)
    assert record(*files, *FIRST, "--undo").exit_code == 2
    assert len(read_story(files[1]).readings) == 1


def test_the_verdict_follows_every_line(files: tuple[str, str]) -> None:
    told: list[tuple[Board, Story]] = []
    command = make_record(lambda board, story: told.append((board, story)))
    for words in (FIRST, ("lift", "D3.K"), ("--undo",)):
        assert CliRunner().invoke(command, [*files, *words]).exit_code == 0
    assert [len(story.entries) for _, story in told] == [2, 3, 2]
    assert told[0][0] == BOARD
