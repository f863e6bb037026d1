"""`incircuit import` and `incircuit export`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.setup import MODES, NAMES, prepare, shared_options
from incircuit.cli.text import paragraph, say_json

if TYPE_CHECKING:
    from incircuit.netlists.assemble import Guess, Imported


@click.command("import",
               epilog='Example: incircuit import examples/netlists/relay.net --as "D1 diode rectifier"')
@click.argument("file")
@click.option("--as", "said", multiple=True, metavar='"PART KIND …"',
              help='What a part is, where the guess is wrong: "U3 optocoupler 1=A 2=K 3=E 4=C", '
                   '"D5 led green", "TP* none". PART is a ref, value, library part or model. Repeatable.')
@click.option("-o", "output", default="", metavar="FILE", help="Write the board there; never over a file.")
@click.option("--json", "as_json", is_flag=True, help="For programs; schema 1.")
def bring_in(file: str, said: tuple[str, ...], output: str, as_json: bool) -> int:
    """Make a board file of a SPICE deck, or of a schematic editor's S-expression netlist.

    Every guess is listed and stands as a remark in the board. What cannot be read is told with its place and
    left out, and the command then ends with 2. Nothing in FILE is run, nothing outside its folder is read.
    """
    from incircuit.board import write_board
    from incircuit.netlists.bring import import_netlist
    from incircuit.netlists.overrides import parse_override

    found = import_netlist(file, [parse_override(text) for text in said])
    text = write_board(found.board)
    if output:
        _write_new(output, text)
    if as_json:
        say_json(_json(found, text, output))
    else:
        _tell(found, output)
        if not output:
            click.echo(text, nl=False)
    return 2 if any(not p.warning for p in found.problems) else 0


def _tell(found: Imported, output: str) -> None:
    """Problems and guesses on standard error, so that the board alone is what is piped."""
    for problem in found.problems:
        click.echo(str(problem), err=True)
    grouped: dict[tuple[str, str], list[str]] = {}
    for guess in found.guesses:
        grouped.setdefault((guess.kind, _general(guess)), []).append(guess.ref)
    for (kind, why), refs in grouped.items():
        click.echo(paragraph(f"{kind}: {' '.join(refs)} ({why})", after="  "), err=True)
    left = sum(not p.warning for p in found.problems)
    nets = len(found.board.net_names())
    typed = f'"{output}"' if " " in output else output
    where = f", written to {output}: incircuit check {typed}" if output else ""
    click.echo(f"{len(found.board.parts)} parts on {nets} nets, {len(found.guesses)} kinds guessed, "
               f"{left} left out or not understood{where}", err=True)


def _general(guess: Guess) -> str:
    """The reason without the part's own value, so that parts of one reason stand together."""
    return guess.why.partition(", value ")[0]


def _write_new(path: str, text: str) -> None:
    try:
        with open(path, "x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise click.UsageError(f"-o {path}: there already, and no file is overwritten") from None
    except (OSError, ValueError) as error:
        raise click.UsageError(f"-o {path} cannot be written: {getattr(error, 'strerror', error)}") from None


def _json(found: Imported, text: str, output: str) -> dict[str, Any]:
    return {"file": output or None, "board": text,
            "guesses": [{"part": g.ref, "kind": g.kind, "why": g.why} for g in found.guesses],
            "problems": [{"file": p.file, "line": p.line, "column": p.column, "message": p.message,
                          "hint": p.hint, "warning": p.warning} for p in found.problems]}


@click.command(context_settings=NAMES,
               epilog="Example: incircuit export boards/pump-drive/gate-drive.board GATE DRV --mode diode")
@click.argument("board")
@click.argument("red")
@click.argument("black")
@click.option("--mode", type=click.Choice(MODES), help="The reading; cannot be left out.")
@click.option("--spice", is_flag=True, default=True, help="As a SPICE deck: what there is so far.")
@click.option("-o", "output", default="", metavar="FILE", help="Write it there; never over a file.")
@shared_options
def export(board: str, red: str, black: str, mode: str | None, spice: bool, output: str,
           **options: Any) -> None:
    """Write one reading as a SPICE deck that says by itself what the meter shows.

    Board, state and meter are in it; ngspice -b DECK prints the node called reading, volts on the diode
    test and ohms else, before the display rounds it.
    """
    from incircuit.netlists.deckout import export_deck

    del spice  # the only form so far
    if mode is None:
        raise click.UsageError(f"--mode is missing: one of {', '.join(MODES)}")
    if options["swap"]:
        red, black = black, red
    options["swap"] = False
    setup = prepare(board, red, black, **options)
    made = export_deck(setup.question, setup.meter, mode)
    if output:
        _write_new(output, made.text)
    if setup.as_json:
        say_json({"file": output or None, "deck": made.text, "mode": mode, "display": made.shown.text,
                  "value": None if made.shown.overload else made.value, "unit": made.shown.unit,
                  "overload": made.shown.overload})
    elif output:
        click.echo(f"{output} written; the own engine says {made.shown.text}")
    else:
        click.echo(made.text, nl=False)
