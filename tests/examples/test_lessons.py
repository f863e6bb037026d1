"""Every lesson shows what the program really prints: no figure in it can be stale.

`python -m tests.examples.test_lessons` writes the real outputs into the pages.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from incircuit.board import lint, read_board
from incircuit.drill.lessons import LESSONS
from incircuit.parts import check_parts
from tests.examples.printed import printed
from tests.test_readme import commands_of, with_real_outputs

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "examples" / "lessons"
PAGES = sorted(FOLDER.glob("*.md"))
STEP = re.compile(r"^\*\*(\d)\. (.+?)\*\* Think first", re.MULTILINE)
SHOWN = [(page.stem, command, shown) for page in PAGES
         for command, shown in commands_of(page.read_text(encoding="utf-8"))]

each_page = pytest.mark.parametrize("page", PAGES, ids=[page.stem for page in PAGES])


def test_every_lesson_of_the_drill_has_its_page_and_no_page_is_alone() -> None:
    assert {page.stem for page in PAGES} == set(LESSONS)
    assert {board.stem for board in FOLDER.glob("*.board")} == set(LESSONS)


@pytest.mark.parametrize(("page", "command", "shown"), SHOWN, ids=[f"{p} {c}" for p, c, _ in SHOWN])
def test_a_lesson_shows_what_is_really_printed(page: str, command: str, shown: str) -> None:
    assert f"examples/lessons/{page}.board" in command
    assert printed(command) == shown
    assert "Traceback" not in shown


@each_page
def test_a_lesson_asks_before_it_answers(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    steps = STEP.findall(text)
    assert [int(number) for number, _ in steps] == list(range(1, len(steps) + 1))
    assert 3 <= len(steps) <= 6
    assert all(question.endswith("?") for _, question in steps)
    assert len(commands_of(text)) == len(steps)
    assert "**The rule.**" in text


@each_page
def test_a_lesson_shows_its_board(page: Path) -> None:
    file = page.with_suffix(".board")
    first, _, rest = file.read_text(encoding="utf-8").partition("\n")
    assert re.match(r"# .*invented\.$", first)
    assert f"```text\n{rest}```" in page.read_text(encoding="utf-8")
    board = read_board(file)
    assert [str(problem) for problem in (*check_parts(board), *lint(board))] == []


if __name__ == "__main__":
    for lesson in PAGES:
        lesson.write_text(with_real_outputs(lesson.read_text(encoding="utf-8")), encoding="utf-8")
