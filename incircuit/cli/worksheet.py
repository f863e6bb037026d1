"""`incircuit worksheet`."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.advising import (
    CAUTION,
    Progress,
    advice_options,
    band_words,
    faults_words,
    number,
    probe_json,
    stage,
    state_options,
)
from incircuit.cli.text import columns, paragraph, say_json

if TYPE_CHECKING:
    from incircuit.advise.worksheet import Hint, Step, Worksheet
    from incircuit.meter.profile import Meter

HEAD = ("step", "red", "black", "mode", "expect", "healthy boards", "you read", "a deviation points to")


@click.command(epilog="Example: incircuit worksheet boards/pump-drive/gate-drive.board")
@click.argument("board")
@click.option("--csv", "as_csv", is_flag=True, help="For a spreadsheet.")
@click.option("--html", "as_html", is_flag=True,
              help="To print: cautions, drawing with the steps at the pads, room to write.")
@click.option("-o", "output", default="", metavar="FILE", help="Write it there instead.")
@click.option("--readings", default="", metavar="FILE", help="Also write a readings file to fill in.")
@state_options
@advice_options
def worksheet(board: str, as_csv: bool, as_html: bool, output: str, readings: str, lift: tuple[str, ...],
              remove: tuple[str, ...], meter: str, costs: str, as_json: bool) -> None:
    """The shortest list of readings in place that shows every fault that can be shown.

    Ordered so that the probes move least, the usual suspects first.
    """
    from incircuit.advise.worksheet import worksheet as ask

    if as_csv + as_json + as_html > 1:
        raise click.UsageError("--csv, --json and --html exclude each other")
    for path in filter(None, (output, readings)):
        _must_be_new(path, path == readings)
    circuit, gauge, prices = stage(board, meter, costs, lift, remove)
    progress = Progress("looking for the shortest list")
    found = ask(circuit, gauge, prices, progress)
    progress.end()
    if readings:
        _write(readings, _stub(found, gauge, board, meter, lift, remove))
    if as_json:
        say_json(_json(found, gauge))
        return
    if as_html:
        from incircuit.report.sheet import worksheet_page

        text = worksheet_page(found, circuit, gauge, circuit.board.title or board)
    else:
        text = _csv(found, gauge) if as_csv else _text(found, gauge, circuit.board.title or board) + "\n"
    if output:
        _write(output, text)
        click.echo(f"{len(found.steps)} readings written to {output}")
    else:
        click.echo(text, nl=False)
    if not found.complete:
        click.echo("stopped early: only the pads looked at by then are in it", err=True)
        raise click.exceptions.Exit(130)


def _must_be_new(path: str, stub: bool) -> None:
    """Readings are never overwritten. Raises UsageError."""
    if stub and Path(path).exists():
        raise click.UsageError(f"--readings {path}: there already, and no reading is overwritten")


def _write(path: str, text: str) -> None:
    try:
        Path(path).write_text(text, encoding="utf-8")
    except OSError as error:
        raise click.UsageError(f"{path} cannot be written: {error.strerror}") from None


def _json(found: Worksheet, meter: Meter) -> dict[str, Any]:
    return {"meter": meter.name, "shown": found.shown, "gap": found.gap, "complete": found.complete,
            "caution": CAUTION,
            "hidden": [{"part": part, "fault": fault} for part, fault in found.hidden],
            "steps": [{"step": n, **probe_json(s.probe), "value": number(s.expected), "low": number(s.low),
                       "high": number(s.high), "points_to": [
                           {"low": number(h.low), "high": number(h.high),
                            "faults": [{"part": part, "fault": fault} for part, fault in h.faults]}
                           for h in s.hints]} for n, s in enumerate(found.steps, start=1)]}


def _text(found: Worksheet, meter: Meter, title: str) -> str:
    proven = "no shorter list does" if not found.gap else f"at most {found.gap} more than the shortest list"
    lines = [paragraph(f"{title}. Meter {meter.name}. {len(found.steps)} readings show {found.shown} faults; "
                       f"{proven}."), "", paragraph(CAUTION), ""]
    rows = [_row(n, s, meter) for n, s in enumerate(found.steps, start=1)]
    lines.append(columns(HEAD[:-1], [row[:-1] for row in rows]))
    for n, s in enumerate(found.steps, start=1):
        lines += ["", f"{n}  {s.probe.red} {s.probe.black} {s.probe.mode} off:"]
        lines += [paragraph(_hint(h, s, meter), "   ", "      ") for h in s.hints]
    if found.hidden:
        lines += ["", paragraph(f"No reading in place shows: {faults_words(found.hidden, 24)}. "
                                "The survey says what to lift.")]
    return "\n".join(lines)


def _row(n: int, s: Step, meter: Meter) -> tuple[str, ...]:
    said = "; ".join(_hint(h, s, meter) for h in s.hints)
    return (str(n), s.probe.red, s.probe.black, s.probe.mode,
            band_words(meter, s.probe.mode, s.expected, s.expected),
            band_words(meter, s.probe.mode, s.low, s.high), "________", said)


def _hint(h: Hint, s: Step, meter: Meter) -> str:
    return f"{band_words(meter, s.probe.mode, h.low, h.high)}: {faults_words(h.faults, 6)}"


def _csv(found: Worksheet, meter: Meter) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEAD)
    for n, s in enumerate(found.steps, start=1):
        row = list(_row(n, s, meter))
        row[6] = ""
        writer.writerow(row)
    return text.getvalue()


def _stub(found: Worksheet, meter: Meter, board: str, typed: str, lift: tuple[str, ...],
          remove: tuple[str, ...]) -> str:
    """A readings file whose readings are comments until they are filled in."""
    from incircuit.board.lexer import quoted

    def name(text: str) -> str:
        return quoted(text) if set(text) & set(' \t#"') else text

    lines = [f"# {board}: take away the # and write what the display shows at the end of each line.",
             f"# {CAUTION}", f"meter {name(typed)}", *(f"lift {pin}" for pin in lift),
             *(f"remove {ref}" for ref in remove)]
    for s in found.steps:
        band = band_words(meter, s.probe.mode, s.low, s.high)
        lines += [f"# healthy boards: {band}", f"# {name(s.probe.red)} {name(s.probe.black)} {s.probe.mode}"]
    return "\n".join(lines) + "\n"
