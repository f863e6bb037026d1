"""`incircuit record`."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from incircuit.board import Board
    from incircuit.story import Story

Verdict = Callable[["Board", "Story"], None]
"""Called with the board and the whole story once a line is on the disk or taken back; shows what it means."""


def make_record(verdict: Verdict | None = None) -> click.Command:
    """The command, with what is to follow every recorded line."""

    @click.command("record", context_settings={"ignore_unknown_options": True},
                   epilog="Example: incircuit record gate-drive.board bench.readings GATE DRV diode 0.011")
    @click.argument("board")
    @click.argument("readings")
    @click.argument("words", nargs=-1, type=click.UNPROCESSED)
    @click.option("--remark", default="", metavar="TEXT", help="A remark to stand behind it.")
    @click.option("--stamp", is_flag=True, help="With the time.")
    @click.option("--undo", "back", is_flag=True, help="Take the last reading or statement back.")
    def record(board: str, readings: str, words: tuple[str, ...], remark: str, stamp: bool,
               back: bool) -> None:
        """Add one reading, or what was done to the board, to a readings file.

        WORDS are RED BLACK MODE SHOWN, such as GATE DRV diode 0.011, then first, settled or after 5s
        if it matters; or a statement: meter NAME, lift PIN, resolder PIN, remove REF, fit REF (a new
        part), short PAD PAD, unshort PAD PAD, charge REF VOLTS, discharge REF, power NET NET VOLTS,
        hot REF CELSIUS, ambient CELSIUS.
        """
        from incircuit.board import read_board
        from incircuit.story import story_of_file, undo

        read = read_board(board)
        if back:
            if words or remark or stamp:
                raise click.UsageError("--undo stands alone: nothing was taken back, nothing recorded")
            click.echo(f"taken back: {undo(readings)}")
        else:
            _record(read, board, readings, line_of(words, remark, _now() if stamp else ""))
        if verdict is not None:
            verdict(read, story_of_file(readings, read))

    return record


def line_of(words: tuple[str, ...], remark: str = "", stamp: str = "") -> str:
    """The line of the words a shell hands over: its quotes are gone and are put back where they are needed.

    >>> line_of(("GATE", "DRV", "ohms", "10.1 kΩ", "probe slipped"))
    'GATE DRV ohms 10.1 kΩ "probe slipped"'
    """
    from incircuit.board.lexer import quoted

    typed = [as_utf8(word) for word in words]
    pieces = typed if len(typed) == 1 else [_quoted(word) for word in typed]
    pieces += [quoted(as_utf8(remark))] if remark else []
    pieces += [f"@{stamp}"] if stamp else []
    return " ".join(pieces)


def as_utf8(word: str) -> str:
    """A word as UTF-8 where the locale's own encoding could not hold it, such as an ohm sign in a C locale.

    >>> as_utf8("k\\udcce\\udca9"), as_utf8("kΩ")
    ('kΩ', 'kΩ')
    """
    try:
        return word.encode("utf-8", "surrogateescape").decode("utf-8")
    except UnicodeDecodeError:
        return word


def _now() -> str:
    """The local time to the minute, ISO 8601."""
    from datetime import datetime

    return datetime.now().isoformat(timespec="minutes")


def _quoted(word: str) -> str:
    from incircuit.board.lexer import quoted
    from incircuit.errors import UnitError
    from incircuit.units import parse_quantity

    if '"' in word or not set(word) & set(" \t#"):
        return word
    try:
        parse_quantity(word)  # 10.1 kΩ is one word to the shell and two in the file
    except UnitError:
        return quoted(word)
    return word


def _record(board: Board, board_file: str, readings: str, line: str) -> None:
    """Check the line against the board and what was done before, store it, print it as stored."""
    from incircuit.story import append
    from incircuit.story.adding import checked_next

    before = _before(board, board_file, readings)
    line, _ = checked_next(before, line, board)
    stored = append(readings, line)
    click.echo(stored.line)
    if stored.cut_off:
        click.echo(f"the line before it had no end and is a comment now: {stored.cut_off}", err=True)
    for problem in before.problems:
        click.echo(str(problem), err=True)


def _before(board: Board, board_file: str, readings: str) -> Story:
    """The story so far. Raises StoryError where the file is something else."""
    from incircuit.errors import Problem, StoryError
    from incircuit.story import Story, story_of_file

    try:
        if not os.path.exists(readings):
            return Story(file=readings)
        same = os.path.samefile(board_file, readings)
    except (OSError, ValueError):
        same = False
    if same:
        raise StoryError((Problem(readings, 1, 1, "is the board file", hint="name a file for the readings"),))
    return story_of_file(readings, board)
