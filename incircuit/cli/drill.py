"""`incircuit drill`."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import click

from incircuit.cli.advising import CAUTION, Progress
from incircuit.cli.text import columns, paragraph, say_json

if TYPE_CHECKING:
    from incircuit.drill.bench import Bench
    from incircuit.drill.case import Case
    from incircuit.drill.review import Review
    from incircuit.drill.sheet import Sheet

HELP = (
    "Ask for readings (GATE DRV diode), lift D3.K, resolder D3.K, remove Q1, fit Q1. When you know: "
    "fault Q1 short, or two with a comma between, or fault bridge GATE RTN, or healthy. board shows the "
    "board again, help this, quit leaves."
)
LEAVING = frozenset({"quit", "exit", "q"})


@click.command(epilog="Example: incircuit drill --level 1 --seed 7")
@click.argument("board", required=False)
@click.option(
    "--level",
    type=click.IntRange(1, 5),
    default=1,
    show_default=True,
    help="1: one resistor across one diode. 5: two faults and an earlier repair.",
)
@click.option("--seed", type=click.IntRange(0, 2**31), help="The same seed deals the same bench; else any.")
@click.option(
    "--meter",
    default="handheld",
    show_default=True,
    metavar="NAME|FILE",
    help="A shipped meter or a profile of your own.",
)
@click.option("--costs", default="", metavar="FILE", help="What acts cost on your bench (TOML).")
@click.option(
    "--results", default="", metavar="FILE", help="Where results are kept (default: your data folder)."
)
@click.option("--no-results", is_flag=True, help="Keep no result.")
@click.option("--progress", "progress", is_flag=True, help="How you have done so far, level by level.")
@click.option(
    "--sheet",
    type=click.IntRange(1, 50),
    metavar="N",
    help="Print N exercises and their solutions instead, from --seed on.",
)
@click.option("--json", "as_json", is_flag=True, help="--progress for programs; schema 1.")
def drill(
    board: str | None,
    level: int,
    seed: int | None,
    meter: str,
    costs: str,
    results: str,
    no_results: bool,
    progress: bool,
    sheet: int | None,
    as_json: bool,
) -> None:
    """A bench with a hidden fault, or none: ask for readings, lift leads, name the fault.

    It answers like a meter on one board with its tolerances. Afterwards it shows the shortest way, which of
    your readings were blind, what was lifted needlessly, and the work it cost. BOARD: your own board instead
    of one of the level.
    """
    from incircuit.advise.costs import load_costs
    from incircuit.drill.deal import deal

    kept_in = results or os.path.join(click.get_app_dir("incircuit"), "drill.jsonl")
    if as_json and not progress:
        raise click.UsageError("--json goes with --progress only")
    if progress:
        _show_progress(kept_in, as_json)
        return
    read = None
    if board is not None:
        from incircuit.board import read_board

        read = read_board(board)
    first = int.from_bytes(os.urandom(3), "big") if seed is None else seed
    prices = load_costs(costs)
    if sheet is not None:
        from incircuit.drill.sheet import sheet_of

        dealt = [deal(level, first + k, read, board or "", meter) for k in range(sheet)]
        _print_sheets([sheet_of(case, prices) for case in dealt])
        return
    from incircuit.drill.bench import start

    bench = _play(start(deal(level, first, read, board or "", meter), prices))
    if bench is None:
        raise click.exceptions.Exit(0)
    _end(bench, "" if no_results else kept_in)


def _play(bench: Bench) -> Bench | None:
    """Lines in, answers out, until the fault is named; None where the trainee leaves."""
    from incircuit.drill.bench import act
    from incircuit.errors import IncircuitError

    if hasattr(sys.stdin, "reconfigure"):
        sys.stdin.reconfigure(errors="replace")  # a slip on the keyboard must not end the exercise
    _welcome(bench.case)
    while not bench.over:
        click.echo("> ", nl=False)
        line = sys.stdin.readline()
        if not line or line.strip().lower() in LEAVING:
            click.echo("left without a verdict; nothing is kept")
            return None
        if not sys.stdin.isatty():
            click.echo(line.rstrip("\n"))
        text = line.strip()
        if text in ("help", "board", ""):
            click.echo(paragraph(HELP) if text != "board" else _board_text(bench.case))
            continue
        try:
            bench, answer = act(bench, text)
            click.echo(f"  {answer.text}")
        except IncircuitError as error:
            click.echo(f"  {error}")
    return bench


def _welcome(case: Case) -> None:
    again = f"incircuit drill{f' {case.source}' if case.source.endswith('.board') else ''}"
    click.echo(
        paragraph(
            f"{case.board.title or case.source}. Level {case.level}, seed {case.seed} ({again} --level "
            f"{case.level} --seed {case.seed} deals it again). Meter {case.meter.name}."
        )
    )
    click.echo(paragraph(case.line))
    click.echo()
    click.echo(_board_text(case))
    click.echo()
    click.echo(paragraph(HELP))
    click.echo(paragraph(f"This is a game. On a real board: {CAUTION}"))


def _board_text(case: Case) -> str:
    from incircuit.drill.sheet import parts_list

    return "\n".join(f"  {line}" for line in parts_list(case.board).splitlines())


def _end(bench: Bench, kept_in: str) -> None:
    from incircuit.drill.results import keep, result_of
    from incircuit.drill.review import review

    watching = Progress("looking for the shortest way")
    found = review(bench, watching)
    watching.end()
    click.echo()
    click.echo(_review_text(bench, found))
    if kept_in:
        from datetime import UTC, datetime

        keep(kept_in, result_of(bench, found, datetime.now(UTC).isoformat(timespec="seconds")))


def _review_text(bench: Bench, found: Review) -> str:
    truth = ", ".join(h.text for h in found.truth) or "healthy"
    lines = [
        paragraph(
            f"{'Right' if found.right else 'Wrong'}: {truth}. You spent {found.spent:.0f} s of bench "
            f"work, the shortest way takes {found.way.seconds:.0f} s: {found.points} points."
            + (
                ""
                if found.right
                else f" A wrong verdict costs about {found.cost - found.spent:.0f} s "
                "more: a part changed in vain, the fault still there at power-up."
            )
        ),
        "",
        "The shortest way:",
        columns(
            ("do", "healthy", "here", "rules out", "seconds"),
            [
                (
                    s.text,
                    _span(bench, s.text, s.healthy),
                    _span(bench, s.text, s.here),
                    str(s.rules_out) if s.here else "",
                    f"{s.seconds:.0f}",
                )
                for s in found.way.steps
            ],
        ),
    ]
    if found.way.left and found.truth:
        lines.append(paragraph(f"It cannot tell this from: {', '.join(found.way.left[:8])}.", "  "))
    elif found.way.left:
        lines.append(paragraph(f"{len(found.way.left)} faults show nowhere in place.", "  "))
    for title, numbers in (
        ("Blind, a healthy board reads the same:", found.blind),
        ("Lifted or removed needlessly:", found.needless),
    ):
        if numbers:
            lines += ["", title, *(f"  {n}  {bench.lines[n - 1]}" for n in numbers)]
    lines += [
        "",
        paragraph(f"The lesson: {found.lesson.sentence} (examples/lessons/{found.lesson.page}.md)"),
    ]
    return "\n".join(lines)


def _span(bench: Bench, text: str, limits: tuple[float, ...]) -> str:
    from incircuit.cli.advising import band_words

    return band_words(bench.case.meter, text.split()[-1], *limits) if len(limits) == 2 else ""


def _show_progress(path: str, as_json: bool) -> None:
    from incircuit.drill.results import kept, progress_of

    found = progress_of(kept(path))
    if as_json:
        say_json(
            {
                "file": path,
                "levels": [
                    {
                        "level": p.level,
                        "played": p.played,
                        "right": p.right,
                        "points": p.points,
                        "lately": p.lately,
                    }
                    for p in found
                ],
            }
        )
    elif not found:
        click.echo(f"no exercise played yet; results go to {path}")
    else:
        click.echo(
            columns(
                ("level", "played", "right", "points", "last ten"),
                [
                    (str(p.level), str(p.played), str(p.right), f"{p.points:.0f}", f"{p.lately:.0f}")
                    for p in found
                ],
            )
        )


def _print_sheets(sheets: list[Sheet]) -> None:
    """Exercises first, solutions behind a page break of their own."""
    for number, s in enumerate(sheets, start=1):
        click.echo(f"Exercise {number}: {s.case.board.title or s.case.source}")
        click.echo(paragraph(s.case.line) + "\n")
        click.echo(_board_text(s.case) + "\n")
        click.echo(
            columns(
                ("red, black, mode", f"the {s.case.meter.name} shows"),
                [(text, shown) for text, shown in s.readings],
            )
        )
        click.echo("\nWhat is wrong? Which readings tell it, and which are blind to it?")
        click.echo("______________________________________________________________\n")
    click.echo("\f", nl=False)
    for number, s in enumerate(sheets, start=1):
        truth = ", ".join(h.text for h in s.case.faults) or "healthy"
        click.echo(f"Solution {number} (level {s.case.level}, seed {s.case.seed}): {truth}")
        click.echo(
            paragraph(
                "The shortest way: "
                + ", then ".join(step.text for step in s.way.steps)
                + f"; {s.way.seconds:.0f} s of bench work.",
                "  ",
            )
        )
        if s.way.left and s.case.faults:
            click.echo(paragraph(f"It cannot tell this from: {', '.join(s.way.left[:8])}.", "  "))
        click.echo(paragraph(f"{s.lesson.sentence}", "  ") + "\n")
