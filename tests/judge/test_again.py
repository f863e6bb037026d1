"""A story judged line by line with a memory: the same as judged at once, and only what is new is solved."""

from __future__ import annotations

from pathlib import Path

import pytest

from incircuit.board import parse_board, read_board
from incircuit.errors import StoryError
from incircuit.judge import stage
from incircuit.judge.judge import Judgement, glance, judge, judge_again
from incircuit.judge.memory import Memory
from incircuit.story import parse_story

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
BOARD = read_board(str(EXAMPLES.parent / "boards" / "pump-drive" / "gate-drive.board"))
LINES = (EXAMPLES / "gate-drive.readings").read_text(encoding="utf-8").splitlines()


def said(found: Judgement) -> list[tuple[str, str, float]]:
    return [(p.part, p.word, round(p.probability, 6)) for p in found.ruling.parts]


def test_every_line_added_gives_what_the_story_at_once_gives() -> None:
    memory = Memory()
    for count in range(6, len(LINES) + 1, 3):
        story = parse_story("\n".join(LINES[:count]) + "\n", board=BOARD)
        ahead = glance(BOARD, story, memory)
        found, memory = judge_again(BOARD, story, memory)
        assert said(found) == said(judge(BOARD, story))
        last = found.lines[-1] if found.lines else None
        assert ahead == (last and (last.moment, last.healthy, last.in_band))


def test_a_glance_is_what_the_judgement_says_of_the_last_reading() -> None:
    for last in ("GATE DRV ohms 10.1", "GATE DRV ohms 0.3", "DRV GATE diode OL", "GATE RTN ohms 9.9k settled",
                 "GATE RTN continuity silent", "GATE RTN ohms climbs"):
        story = parse_story(f"GATE DRV diode 0.011\nlift D3.K\n{last}\n", board=BOARD)
        line = judge(BOARD, story).lines[-1]
        assert glance(BOARD, story, Memory()) == (line.moment, line.healthy, line.in_band)
    assert glance(BOARD, parse_story("lift D3.K\n", board=BOARD), Memory()) is None


def test_nothing_is_solved_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    story = parse_story("\n".join(LINES) + "\n", board=BOARD)
    first, memory = judge_again(BOARD, story, Memory())

    def forbidden(*_: object) -> None:
        raise AssertionError("solved again")

    monkeypatch.setattr(stage, "read_at", forbidden)
    assert said(judge_again(BOARD, story, memory)[0]) == said(first)


def test_a_memory_of_another_board_does_no_harm() -> None:
    text = "R1 resistor A B {} 1%\nR2 resistor B C 10k 1%\n"
    story = "meter handheld\nA B ohms 4.70k\nB C ohms 10.0k\n"
    right, wrong = (parse_board(text.format(value), "x.board") for value in ("4k7", "1k"))
    first, memory = judge_again(wrong, parse_story(story, board=wrong), Memory())
    assert first.ruling.word == "failed"
    assert judge_again(right, parse_story(story, board=right), memory)[0].ruling.word == "healthy"


def test_an_error_leaves_the_memory_as_it_was() -> None:
    story = parse_story("\n".join(LINES) + "\n", board=BOARD)
    _, memory = judge_again(BOARD, story, Memory())
    before = {key: dict(page) for key, page in memory.pages.items()}
    with pytest.raises(StoryError):
        judge_again(BOARD, parse_story("meter handheld\nNOWHERE GATE ohms 1k\n", board=BOARD), memory)
    assert before.keys() == memory.pages.keys()
    assert all(before[key].keys() == memory.pages[key].keys() for key in before)
