"""`incircuit report`."""

from __future__ import annotations

from pathlib import Path

import click

from incircuit.cli.advising import CAUTION
from incircuit.cli.text import paragraph


@click.command(
    epilog="Example: incircuit report boards/pump-drive/gate-drive.board examples/gate-drive.readings "
    '--device "pump drive no. 7" -o job.html'
)
@click.argument("board")
@click.argument("readings")
@click.option("-o", "output", required=True, metavar="FILE.html", help="Where to write it.")
@click.option("--meter", default="", metavar="NAME|FILE",
              help="The meter where the readings name none (default: handheld).")
@click.option("--customer", default="", metavar="TEXT", help="Whose it is.")
@click.option("--device", default="", metavar="TEXT", help="What it is, with its serial number.")
@click.option("--order", default="", metavar="TEXT", help="The job's number.")
@click.option("--technician", default="", metavar="TEXT", help="Who did it.")
@click.option("--complaint", default="", metavar="TEXT", help="What came in, in the customer's words.")
def report(board: str, readings: str, output: str, meter: str, customer: str, device: str, order: str,
           technician: str, complaint: str) -> None:
    """The job record: one page to hand to the customer or to keep.

    What came in, what was read, what was concluded and why, parts replaced, checks after the repair, open
    points, cautions, and the meter with its profile. Times come from the readings file.
    """
    from incircuit.board import read_board
    from incircuit.judge.judge import judge
    from incircuit.meter.profile import load_meter
    from incircuit.report.job import job_page
    from incircuit.story import story_of_file

    read = read_board(board)
    story = story_of_file(readings, read)
    found = judge(read, story, meter)
    named = next((line.moment.meter for line in found.lines if line.moment.meter), "") or meter or "handheld"
    fields = {"customer": customer, "device": device, "order": order, "technician": technician}
    text = job_page(found, story, load_meter(named), fields, complaint)
    try:
        Path(output).write_text(text, encoding="utf-8")
    except OSError as error:
        raise click.UsageError(f"{output} cannot be written: {error.strerror}") from None
    click.echo(f"written to {output}\n{paragraph(CAUTION)}")
