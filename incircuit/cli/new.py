"""`incircuit new`."""

from __future__ import annotations

import click

from incircuit.cli.text import columns, say_json


@click.command(epilog="Example: incircuit new my-drive --from gate-drive")
@click.argument("name", required=False)
@click.option("--from", "start", metavar="STARTING-POINT", help="What to begin with; --list shows them.")
@click.option("--list", "listing", is_flag=True, help="The starting points there are.")
@click.option("--json", "as_json", is_flag=True, help="For programs; schema 1.")
def new(name: str | None, start: str | None, listing: bool, as_json: bool) -> None:
    """Begin a board file of your own with a commented one.

    NAME is the file to write, .board is added. A file that is there is never overwritten.
    """
    from incircuit.starts import begin, starting_point, starting_points

    if listing and name:
        raise click.UsageError("--list takes no NAME")
    if listing:
        points = starting_points()
        if as_json:
            say_json({"starting_points": [{"name": p.name, "line": p.line} for p in points]})
        else:
            click.echo(columns(("starting point", "what it is"), [(p.name, p.line) for p in points]))
        return
    if name is None or start is None:
        missing = "NAME" if name is None else "--from STARTING-POINT"
        raise click.UsageError(f"{missing} is missing; incircuit new --list shows what to begin with")
    written = begin(name, starting_point(start))
    if as_json:
        say_json({"file": str(written), "starting_point": start})
    else:
        typed = f'"{written}"' if " " in str(written) else str(written)
        click.echo(f"{written} written. Make it your board, then: incircuit check {typed}")
