"""`incircuit check`."""

from __future__ import annotations

import click

from incircuit.cli.text import say_json


@click.command(epilog="Example: incircuit check boards/pump-drive/gate-drive.board")
@click.argument("board")
@click.option("--json", "as_json", is_flag=True, help="For programs; schema 1.")
def check(board: str, as_json: bool) -> int:
    """Read a board file and show everything that is wrong or looks wrong, all at once.

    Ends with 0 when nothing was found, 1 with warnings only, 2 with errors.
    """
    from incircuit.board import lint, read_board
    from incircuit.errors import BoardError, Problem
    from incircuit.parts import check_parts

    problems: tuple[Problem, ...]
    try:
        read = read_board(board)
        problems = (*check_parts(read), *lint(read))
        summary = f"{len(read.parts)} parts on {len(read.net_names())} nets"
    except BoardError as error:
        problems = error.problems
        summary = ""
    errors = [p for p in problems if not p.warning]
    warnings = [p for p in problems if p.warning]
    if as_json:
        say_json({"errors": len(errors), "warnings": len(warnings), "problems": [
            {"file": p.file, "line": p.line, "column": p.column, "message": p.message, "hint": p.hint,
             "warning": p.warning} for p in problems]})
    else:
        for problem in problems:
            click.echo(str(problem), err=not problem.warning)
        if not errors:
            many = f"{len(warnings)} warning{'s' if len(warnings) != 1 else ''}"
            click.echo(f"{board}: {summary}, {many if warnings else 'no complaint'}")
    return 2 if errors else 1 if warnings else 0
