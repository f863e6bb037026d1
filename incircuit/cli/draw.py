"""`incircuit draw`."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from incircuit.cli.advising import known_parts, state_options
from incircuit.cli.setup import MODES, NAMES

if TYPE_CHECKING:
    from incircuit.board import Board, State
    from incircuit.draw.flow import Flow
    from incircuit.meter.profile import Meter
    from incircuit.predict.question import Question

WHOLE = 45
"""A board with more parts is drawn as a block map unless something narrows it."""
NEAR = 24
"""As many parts are drawn around a reading."""
SLOW = 12
"""More parts take over a second to arrange."""
LEAST = 0.01
"""Candidates below this probability are not marked."""
PICTURES = ("circuit", "blocks", "bands", "course")


@click.command(context_settings=NAMES,
               epilog="Example: incircuit draw boards/pump-drive/gate-drive.board --reading GATE DRV diode "
                      "-o gate.svg")
@click.argument("board")
@click.option("--reading", nargs=3, metavar="RED BLACK MODE",
              help="Put the probes there and show who carries the meter's current.")
@click.option("--shown", default="", metavar="DISPLAY", help="What you read there: the suspects are marked.")
@click.option("--around", multiple=True, metavar="PART|NET", help="Only what lies near. Repeatable.")
@click.option("--hops", type=click.IntRange(0, 20), default=1, show_default=True,
              help="How many parts away is near.")
@click.option("--mark", multiple=True, metavar="PART", help="Frame this part. Repeatable.")
@click.option(
    "--picture",
    type=click.Choice(PICTURES),
    help="circuit (the drawing), blocks (map of the stages), bands (alone, healthy, faults and what "
    "you read on one axis) or course (what the display does). Default: circuit; blocks for a "
    f"board of more than {WHOLE} parts.",
)
@click.option("--meter", default="handheld", show_default=True, metavar="NAME|FILE",
              help="A shipped meter or a profile of your own.")
@state_options
@click.option("--scale", type=click.IntRange(1, 8), default=2, show_default=True, help="Pixels of a .png.")
@click.option("-o", "output", required=True, metavar="FILE", help="FILE.svg or FILE.png.")
def draw(
    board: str,
    reading: tuple[str, str, str] | None,
    shown: str,
    around: tuple[str, ...],
    hops: int,
    mark: tuple[str, ...],
    picture: str | None,
    meter: str,
    lift: tuple[str, ...],
    remove: tuple[str, ...],
    scale: int,
    output: str,
) -> None:
    """A picture of the board or of a neighbourhood, from the same text the predictions come from."""
    from incircuit.board import make_state, read_board

    suffix = Path(output).suffix.lower()
    if suffix not in (".svg", ".png"):
        raise click.UsageError(f"-o {output}: write FILE.svg or FILE.png")
    read = read_board(board)
    state = make_state(read, lift=lift, remove=remove)
    known_parts(read, mark)
    _known(read, around)
    if reading is None and (shown or picture in ("bands", "course")):
        raise click.UsageError(
            f"{'--shown' if shown else f'--picture {picture}'} needs --reading RED BLACK MODE"
        )
    if picture is None:
        picture = "blocks" if len(read.parts) > WHOLE and not (reading or around) else "circuit"
        if picture == "blocks":
            click.echo(f"{len(read.parts)} parts: a map of the stages. --around PART draws a neighbourhood.",
                       err=True)
    if (
        picture == "circuit"
        and sys.stderr.isatty()
        and min(len(read.parts), NEAR if reading else WHOLE) > SLOW
    ):
        click.echo("looking for a clear arrangement, some seconds (Ctrl-C stops)", err=True)
    if picture == "blocks":
        from incircuit.draw.blocks import block_picture

        svg = block_picture(read)
    elif reading is None:
        from incircuit.draw.drawing import draw_board

        svg = draw_board(read, state=state, marks=dict.fromkeys(mark, ""), around=around or None, hops=hops)
    else:
        svg = _of_reading(read, state, reading, shown, picture, meter, mark, around, hops)
    _write(output, svg, scale)


def _known(board: Board, around: Sequence[str]) -> None:
    """Raises StateError for what is neither a part nor a net."""
    from incircuit.board.faults import did_you_mean
    from incircuit.errors import StateError
    from incircuit.units import shown

    have = [*(p.ref for p in board.parts), *board.net_names()]
    for name in around:
        if name not in have:
            hint = did_you_mean(name, have)
            raise StateError(f'--around: there is no part or net "{shown(name)}" on this board'
                             + (f": {hint}" if hint else ""))


def _of_reading(
    board: Board,
    state: State,
    reading: tuple[str, str, str],
    shown: str,
    picture: str,
    meter: str,
    mark: tuple[str, ...],
    around: tuple[str, ...],
    hops: int,
) -> str:
    """A picture of one reading."""
    from incircuit.compare.compare import compare
    from incircuit.meter.profile import load_meter
    from incircuit.meter.typed import last_digit, parse_shown
    from incircuit.predict.explanation import explain
    from incircuit.predict.measure import Ask
    from incircuit.predict.question import ask_about, different_pads

    red, black, mode = reading
    if mode not in MODES:
        raise click.UsageError(f"--reading: {mode} is no mode: one of {', '.join(MODES)}")
    question, gauge = ask_about(board, state, red, black), load_meter(meter)
    different_pads(question)
    if picture == "course":
        return _course(question, gauge, Ask(mode))
    found = None
    if shown:
        found = compare(question, gauge, Ask(mode), parse_shown(shown, mode), last_digit(shown, mode))
    e = found.explanation if found else explain(question, gauge, Ask(mode))
    if picture == "bands":
        from incircuit.draw.band import bands_of

        return bands_of(e, gauge, found, question.part.ref if question.part else None)
    from incircuit.draw.drawing import draw_board
    from incircuit.draw.flow import flow_of

    suspects = found.verdict.candidates if found and not found.verdict.healthy_fits else ()
    marks: dict[str, str] = dict.fromkeys(mark, "")
    for c in reversed([c for c in suspects if c.probability >= LEAST]):
        marks[c.part] = c.fault
    lead = next((c for c in suspects if c.fault.partition(" ")[0] in ("open", "short")), None)
    if lead is not None and lead.probability >= LEAST:  # the current as it most likely runs on this board
        faulty = replace(state, faults=(*state.faults, f"{lead.part} {lead.fault}"))
        e = explain(ask_about(board, faulty, red, black), gauge, Ask(mode))
    flow = flow_of(board, state, e)
    refs = None if around else _near(question, flow, marks)
    return draw_board(
        board,
        state=state,
        probes=(red, black),
        currents=flow,
        marks=marks,
        around=around or None,
        hops=hops,
        refs=refs,
    )


def _near(question: Question, flow: Flow, marks: Mapping[str, str]) -> tuple[str, ...] | None:
    """On a large board: who carries the current, who is marked, who can matter, nearest the pads first."""
    from incircuit.draw.scene import neighbourhood
    from incircuit.predict.reach import can_matter

    board = question.circuit.board
    if len(board.parts) <= NEAR:
        return None
    chosen = dict.fromkeys([*flow.parts, *marks])
    matter = set(can_matter(question))
    pads = [n.replace(" ", ".", 1).partition(".")[0] if " " in n else n
            for n in (question.red_node, question.black_node)]
    for hops in range(1, 6):
        for ref in neighbourhood(board, pads, hops, most=len(board.parts), crowded=len(board.parts)):
            if ref in matter and len(chosen) < NEAR:
                chosen[ref] = None
    if question.part:
        chosen[question.part.ref] = None
    return tuple(p.ref for p in board.parts if p.ref in chosen)


def _course(question: Question, meter: Meter, ask: object) -> str:
    from incircuit.draw.course import course_picture
    from incircuit.predict.course import course_of
    from incircuit.predict.measure import Ask

    assert isinstance(ask, Ask)
    return course_picture(course_of(question, meter, ask, boards=64))


def _write(output: str, svg: str, scale: int) -> None:
    from incircuit.draw.png import png_of

    data = svg.encode("utf-8") if output.lower().endswith(".svg") else png_of(svg, scale)
    try:
        Path(output).write_bytes(data)
    except OSError as error:
        raise click.UsageError(f"{output} cannot be written: {error.strerror}") from None
    click.echo(f"written to {output}")
