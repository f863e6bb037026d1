"""`incircuit explain`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.predict import headline
from incircuit.cli.setup import MODES, Setup, prepare, shared_options
from incircuit.cli.text import columns, listed, paragraph, say_json, span_of

if TYPE_CHECKING:
    from incircuit.predict.explanation import Explanation


@click.command(epilog="Example: incircuit explain boards/pump-drive/gate-drive.board GATE DRV --mode diode")
@click.argument("board")
@click.argument("red")
@click.argument("black")
@click.option("--mode", type=click.Choice(MODES), default="diode", show_default=True)
@shared_options
def explain(board: str, red: str, black: str, mode: str, **options: Any) -> None:
    """Why a reading is what it is: who carries the current, and what the reading cannot see."""
    from incircuit.predict.explanation import explain as ask
    from incircuit.predict.measure import Ask

    setup = prepare(board, red, black, **options)
    found = ask(setup.question, setup.meter, Ask(mode, setup.swap), setup.engine)
    if setup.as_json:
        say_json(explanation_json(found))
    else:
        click.echo(_text(setup, found))


def explanation_json(e: Explanation) -> dict[str, Any]:
    """An explanation as JSON."""
    return {
        "mode": e.mode, "red": e.red, "black": e.black, "display": e.shown.text,
        "amps": e.amps, "volts": e.volts,
        "paths": [{"parts": list(p.parts), "nodes": list(nodes), "share": p.share}
                  for p, nodes in zip(e.paths, e.path_nodes, strict=True)],
        "can_matter": list(e.can_matter), "cannot_matter": list(e.cannot_matter),
        "junctions": [{"part": j.part, "element": j.element, "anode": j.anode, "cathode": j.cathode,
                       "volts": j.volts, "amps": j.amps, "conducts": j.conducts} for j in e.junctions],
        "carried_by": [{"part": part, "share": share} for part, share in e.shares],
        "blind_to": blind_json(e), "told_apart": [
            {"part": s.part, "fault": s.fault, "display": s.shown.text} for s in e.sights if s.told],
        "moving": list(e.moving),
    }


def blind_json(e: Explanation) -> list[dict[str, Any]]:
    """Faults under which the reading stays within what healthy boards show."""
    return [{"part": s.part, "fault": s.fault} for s in e.sights if not s.told]


def _text(setup: Setup, e: Explanation) -> str:
    from incircuit.predict.sentences import drive_sentence, junction_sentence, path_sentences, sight_words

    lines = [headline(setup), "", paragraph(drive_sentence(e))]
    lines += [paragraph(line, "  ", "    ") for line in path_sentences(e)]
    if e.junctions:
        lines += ["", "Junctions in reach:"]
        lines += [paragraph(junction_sentence(j, e), "  ", "    ") for j in e.junctions]
    lines += ["", paragraph(f"Can matter here: {listed(e.can_matter)}.", after="  "),
              paragraph(f"Cannot matter: {listed(e.cannot_matter)}.", after="  ")]
    if e.moving:
        lines.append(paragraph(f"Charge through the meter before it settles: {listed(e.moving)}.", after="  "))
    if e.sights:
        rows = [(s.part, s.fault, s.shown.text, span_of(setup.meter, e.mode, s.band), sight_words(s))
                for s in e.sights]
        lines += ["", f"With a single fault it would show (healthy: {e.shown.text}):",
                  columns(("part", "fault", "display", "band", "this reading"), rows)]
    return "\n".join(lines)
