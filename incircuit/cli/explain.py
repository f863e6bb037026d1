"""`incircuit explain`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.predict import course_lines, headline, notes
from incircuit.cli.setup import MODES, NAMES, Setup, prepare, shared_options
from incircuit.cli.text import columns, listed, paragraph, say_json, span, span_of

if TYPE_CHECKING:
    from incircuit.predict.explanation import Explanation

MOST_JUNCTIONS = 6
MOST_FAULTS = 16
"""As many are shown to people; `--json` has all."""


@click.command(context_settings=NAMES,
               epilog="Example: incircuit explain boards/pump-drive/gate-drive.board GATE DRV --mode diode")
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
    from incircuit.predict.course import course_of
    from incircuit.predict.measure import Ask
    from incircuit.predict.reach import floating_gates, slow_parts
    from incircuit.predict.sentences import drive_sentence, path_sentences

    p = e.prediction
    alone = f"; {setup.question.part.ref} alone: {span(*p.alone_shown)}" if (
        setup.question.part and p.alone_shown) else ""
    lines = [headline(setup), "", paragraph(drive_sentence(e)),
             paragraph(f"Healthy boards show {span(p.low, p.high)}{alone}.")]
    lines += [paragraph(line, "  ", "    ") for line in path_sentences(e)]
    lines += _junctions(e)
    lines += ["", paragraph(f"Can matter here: {listed(e.can_matter)}.", after="  "),
              paragraph(f"Cannot matter: {listed(e.cannot_matter)}.", after="  ")]
    lines += _faults(setup, e)
    lines += notes(slow_parts(setup.question, setup.meter, [p]), floating_gates(setup.question))
    if e.moving:
        ask = Ask(e.mode, setup.swap)
        lines += course_lines([course_of(setup.question, setup.meter, ask)])
    return "\n".join(lines)


def _junctions(e: Explanation) -> list[str]:
    """Those that carry the current, largest share first, a line each; the others in one paragraph."""
    from incircuit.predict.sentences import junction_sentence, shut_junction

    lines: list[str] = []
    carrying = sorted((j for j in e.junctions if j.conducts), key=lambda j: -abs(j.amps))
    if carrying:
        lines += ["", "Junctions on the way:"]
        lines += [paragraph(junction_sentence(j, e), "  ", "    ") for j in carrying[:MOST_JUNCTIONS]]
        if len(carrying) > MOST_JUNCTIONS:
            lines.append(f"  and {len(carrying) - MOST_JUNCTIONS} more that carry less")
    resting = sorted((j for j in e.junctions if not j.conducts), key=lambda j: -abs(j.volts))
    words = [word for j in resting if (word := shut_junction(j))]
    dead = len(resting) - len(words)
    if words:
        tail = f"; {dead} more have no voltage across" if dead else ""
        shut = listed(words, MOST_JUNCTIONS)
        lines += ["", paragraph(f"Junctions that stay shut: {shut}{tail}.", after="  ")]
    return lines


def _faults(setup: Setup, e: Explanation) -> list[str]:
    """The faults that would show, in a table; those that would not, by part."""
    told = [s for s in e.sights if s.told]
    lines: list[str] = []
    if told:
        rows = [(s.part, s.fault, s.shown.text, span_of(setup.meter, e.mode, s.band) if s.band else "")
                for s in told[:MOST_FAULTS]]
        lines += ["", "One fault that this reading would show:",
                  columns(("part", "fault", "display", "such boards show"), rows)]
        if len(told) > MOST_FAULTS:
            lines.append(f"  and {len(told) - MOST_FAULTS} more")
    return lines + blind_lines(e)


def blind_lines(e: Explanation) -> list[str]:
    """What the reading is blind to: single faults, then parts of which it sees nothing."""
    from incircuit.predict.sentences import blind_words, unseen_parts

    dark, unseen = blind_words(e), unseen_parts(e)
    lines: list[str] = []
    if dark:
        lines += ["", paragraph("Blind to (such a board can still read as healthy): "
                                f"{listed(dark, MOST_FAULTS, '; ')}.", after="  ")]
    if unseen:
        lines += ["", paragraph(f"No open or short of these would move the display: {listed(unseen)}.",
                                after="  ")]
    return lines
