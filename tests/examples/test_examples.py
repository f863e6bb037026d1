"""The worked repair, the pages and the scripts of examples/: every command in them is run."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from incircuit.advise.costs import load_costs
from incircuit.board import lint, parse_board, read_board
from incircuit.meter.profile import read_meter
from incircuit.parts import check_parts
from incircuit.story import parse_story, read_story
from tests.examples.printed import printed
from tests.test_readme import BLOCK, PROMPT, commands_of

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"
PAGES = tuple(sorted(page for page in EXAMPLES.rglob("*.md") if page.parent.name != "lessons"))
SCRIPTS = tuple(sorted(EXAMPLES.rglob("*.py")))
WRITES = "REPORT"
"""Stands in a page for a file that is written: the test puts it into a folder of its own."""


def shown_by(command: str, folder: Path) -> str:
    """What a command prints, files it writes put into `folder` and named as in the page."""
    target = folder / "report.html"
    target.unlink(missing_ok=True)
    return printed(command.replace(WRITES, shlex.quote(str(target)))).replace(str(target), WRITES)


def with_outputs(text: str, folder: Path) -> str:
    """A page with every shown output replaced by the real one."""
    def renew(block: re.Match[str]) -> str:
        shown = (f"{PROMPT}{command}\n{shown_by(command, folder)}" for command, _ in commands_of(block[0]))
        return f"```console\n{''.join(shown)}```"

    return BLOCK.sub(renew, text)


SHOWN = [(page.relative_to(EXAMPLES).as_posix(), command, shown) for page in PAGES
         for command, shown in commands_of(page.read_text(encoding="utf-8"))]


@pytest.mark.parametrize(("page", "command", "shown"), SHOWN, ids=[f"{p} {c}" for p, c, _ in SHOWN])
def test_a_page_shows_what_is_really_printed(page: str, command: str, shown: str, tmp_path: Path) -> None:
    assert shown_by(command, tmp_path) == shown
    assert page


def test_the_repaired_board_and_its_stories_are_sound() -> None:
    board = read_board(EXAMPLES / "worked-repair" / "boost.board")
    assert [str(problem) for problem in (*check_parts(board), *lint(board))] == []
    whole = read_story(EXAMPLES / "worked-repair" / "boost.readings", board)
    begun = read_story(EXAMPLES / "worked-repair" / "begun.readings", board)
    assert whole.readings[:len(begun.readings)] == begun.readings
    assert {e.args[0] for e in whole.statements if e.word == "fit"} == {"Q1", "F1"}


def run_script(script: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-X", "dev", "-W", "error", str(script), *arguments], cwd=ROOT,
                          capture_output=True, encoding="utf-8", timeout=120, check=False,
                          env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUTF8": "1"})


@pytest.mark.parametrize("script", SCRIPTS, ids=[script.name for script in SCRIPTS])
def test_a_script_runs_and_prints_what_it_says(script: Path) -> None:
    """The end of a script's docstring is what it prints."""
    done = run_script(script)
    assert (done.returncode, done.stderr) == (0, "")
    said = re.search(r'^"""(.*?)"""', script.read_text(encoding="utf-8"), re.DOTALL)
    assert said
    expected = said[1].partition("It prints::\n\n")[2]
    assert [line.strip() for line in done.stdout.splitlines()] == [
        line.strip() for line in expected.strip().splitlines()]


FORMATS = (EXAMPLES / "formats.md").read_text(encoding="utf-8")


def block(kind: str) -> str:
    """The example of a format on the page."""
    found = re.findall(rf"^```{kind}\n(.*?)^```$", FORMATS, re.MULTILINE | re.DOTALL)
    assert len(found) == 1
    return str(found[0])


def test_the_examples_on_the_page_of_formats_are_read(tmp_path: Path) -> None:
    board = parse_board(block("board"))
    assert len(board.parts) == 6
    assert check_parts(board) == ()
    story = parse_story(block("readings"), board=board)
    assert (len(story.readings), len(story.statements)) == (5, 4)
    assert read_meter(block("toml").encode(), "bench.toml").modes[:3] == ("diode", "ohms", "continuity")
    (tmp_path / "costs.toml").write_text(block("costs"), encoding="utf-8")
    assert load_costs(str(tmp_path / "costs.toml")).lift_two_pin == 90


def test_the_page_of_formats_says_what_the_program_does() -> None:
    """Limits and result fields as they are in the code."""
    from dataclasses import fields

    from incircuit.board.reader import DEEPEST as BOARDS_DEEP
    from incircuit.board.source import LARGEST, MOST_LINES
    from incircuit.drill.results import Result
    from incircuit.netlists.flat import MOST_DEVICES
    from incircuit.netlists.models import BREAKDOWN_OF_ZENERS
    from incircuit.netlists.scopes import DEEPEST

    assert f"At most {LARGEST // 10**6} MB, {MOST_LINES:,} lines, {BOARDS_DEEP} files deep" in FORMATS
    assert f"At most {LARGEST // 10**6} MB a file, {MOST_DEVICES:,} parts, {DEEPEST} includes" in FORMATS
    assert f"below {BREAKDOWN_OF_ZENERS:g} V breakdown" in FORMATS
    results = FORMATS.partition("## RESULTS")[2]
    assert all(f"`{field.name}`" in results for field in fields(Result))


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as scratch:
        for each in PAGES:
            each.write_text(with_outputs(each.read_text(encoding="utf-8"), Path(scratch)), encoding="utf-8")
