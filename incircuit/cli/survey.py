"""`incircuit survey`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.advising import (
    Progress,
    advice_options,
    band_words,
    faults_words,
    known_parts,
    lift_json,
    number,
    pad_words,
    probe_json,
    probe_words,
    stage,
    state_options,
)
from incircuit.cli.text import columns, listed, paragraph, say_json

if TYPE_CHECKING:
    from incircuit.advise.survey import Sight, Survey
    from incircuit.meter.profile import Meter


@click.command(epilog="Example: incircuit survey boards/pump-drive/gate-drive.board D3 R7")
@click.argument("board")
@click.argument("parts", nargs=-1, metavar="[PART]...")
@state_options
@advice_options
def survey(board: str, parts: tuple[str, ...], lift: tuple[str, ...], remove: tuple[str, ...], meter: str,
           costs: str, as_json: bool) -> None:
    """Which faults can be judged in place, by which reading, and what must be lifted for the others.

    For every part and fault: the reading that shows it best, what it would be confused with, or the
    cheapest lead to lift. Ctrl-C stops with what is known so far.
    """
    from incircuit.advise.survey import survey as ask

    circuit, gauge, prices = stage(board, meter, costs, lift, remove)
    known_parts(circuit.board, parts)
    progress = Progress("surveying")
    found = ask(circuit, gauge, prices, parts, progress)
    progress.end()
    if as_json:
        say_json(_json(found, gauge))
    else:
        click.echo(_text(found, gauge, circuit.board.title or board))
    if not found.complete:
        click.echo("stopped early: this is what was known by then", err=True)
        raise click.exceptions.Exit(130)


def _json(found: Survey, meter: Meter) -> dict[str, Any]:
    return {"meter": meter.name, "visible": found.visible, "complete": found.complete, "faults": [{
        "part": s.part, "fault": s.fault, "in_place": s.best is not None,
        "reading": probe_json(s.best) if s.best else None,
        "healthy": {"low": number(s.healthy[0]), "high": number(s.healthy[1])} if s.best else None,
        "faulty": {"low": number(s.faulty[0]), "high": number(s.faulty[1])} if s.best else None,
        "margin": s.margin if s.best else None, "readings": s.readings,
        "confused_with": [{"part": part, "fault": fault} for part, fault in s.confused],
        "lift": lift_json(s.lift),
    } for s in found.sights]}


def _text(found: Survey, meter: Meter, title: str) -> str:
    seen = [s for s in found.sights if s.best]
    lines = [paragraph(f"{title}. Meter {meter.name}. {len(seen)} of {len(found.sights)} faults "
                       f"({found.visible:.0%}) show in place.")]
    if seen:
        head = ("fault", "best reading", "healthy", "with the fault", "margin", "or it is")
        lines += ["", columns(head, [_row(meter, s) for s in seen])]
    dark = [s for s in found.sights if not s.best]
    if dark:
        lines += ["", "No reading in place shows:"]
        for lift in dict.fromkeys(_lift_words(s, meter) for s in dark):
            those = [(s.part, s.fault) for s in dark if _lift_words(s, meter) == lift]
            lines.append(paragraph(f"{faults_words(those, 12)}: {lift}", "  ", "    "))
    return "\n".join(lines)


def _row(meter: Meter, s: Sight) -> tuple[str, ...]:
    assert s.best is not None
    return (f"{s.part} {s.fault}", probe_words(s.best), _band(meter, s, s.healthy), _band(meter, s, s.faulty),
            f"{s.margin:.0%}", faults_words(s.confused, 2) if s.confused else "")


def _band(meter: Meter, s: Sight, ends: tuple[float, float]) -> str:
    assert s.best is not None
    return band_words(meter, s.best.mode, *ends)


def _lift_words(s: Sight, meter: Meter) -> str:
    if s.lift is None:
        return "no reading with one lead lifted shows it either"
    lift = s.lift
    pads = listed([pad_words(lift.probe.red), pad_words(lift.probe.black)], between=" ")
    healthy = band_words(meter, lift.probe.mode, lift.nominal, lift.nominal)
    return f"{lift.act} and read {pads} {lift.probe.mode} (healthy about {healthy})"
