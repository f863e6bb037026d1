"""`incircuit next`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.advising import (
    CAUTION,
    Progress,
    advice_options,
    lift_json,
    number,
    probe_json,
    probe_words,
)
from incircuit.cli.text import paragraph, say_json
from incircuit.report.advice import NAMED, again, also, lift_words, likeliest, meaning, meaning_words, stands

if TYPE_CHECKING:
    from incircuit.advise.following import Advice
    from incircuit.advise.suspects import Suspect
    from incircuit.meter.profile import Meter


@click.command("next", epilog="Example: incircuit next boards/pump-drive/gate-drive.board bench.readings")
@click.argument("board")
@click.argument("readings", required=False)
@advice_options
def following(board: str, readings: str | None, meter: str, costs: str, as_json: bool) -> None:
    """The next act: the reading that tells most for its cost, or the lead to lift.

    READINGS is the bench story so far; with none, where to begin. The five best ideas, and what each
    outcome would mean.
    """
    from incircuit.advise.costs import load_costs
    from incircuit.advise.following import advise
    from incircuit.board import read_board
    from incircuit.meter.profile import load_meter
    from incircuit.story import story_of_file

    read = read_board(board)
    if readings and not Path(readings).exists():
        raise click.UsageError(f"{readings}: no such readings file; without one, next says where to begin")
    story = story_of_file(readings, read) if readings else None
    name = (story.meter if story else "") or meter
    gauge, progress = load_meter(name), Progress("weighing readings")
    found = advise(read, story, gauge, load_costs(costs), name, progress)
    progress.end()
    if as_json:
        say_json(_json(found, gauge))
    else:
        click.echo(_text(found, gauge, read.title or board))
    if not found.complete:
        click.echo("stopped early: only the pads looked at by then are weighed", err=True)
        raise click.exceptions.Exit(130)


def _json(a: Advice, meter: Meter) -> dict[str, Any]:
    from incircuit.judge.ruling import summed

    def suspect(s: Suspect) -> dict[str, Any]:
        return {"faults": [{"part": part or None, "fault": fault} for part, fault in s.faults],
                "probability": s.probability}

    return {
        "meter": meter.name, "complete": a.complete, "stop": a.stop, "replace": sorted(a.replace),
        "read_again": [probe_json(p) for p in a.again], "look_for": list(a.look),
        "replaced": sorted(a.done), "caution": CAUTION,
        "acts": [{"reading": probe_json(act.probe), "bits": act.bits, "seconds": act.seconds,
                  "also": [probe_json(p) for p in act.also], "outcomes": [
            {"low": number(o.low), "high": number(o.high), "overload": o.high == float("inf"),
             "probability": summed(a.suspects[k].probability for k in o.conditions),
             "means": [suspect(x) for x in likeliest(a, o)[:NAMED]]} for o in act.outcomes]}
            for act in a.acts],
        "lift": lift_json(a.lift), "between": [suspect(s) for s in a.between],
        "suspects": [suspect(s) for s in a.suspects[:12]],
    }


def _text(a: Advice, meter: Meter, title: str) -> str:
    lines = [paragraph(f"{title}. Meter {meter.name}. {CAUTION}"), ""]
    lines.append(paragraph(" ".join(filter(None, (stands(a), again(a))))))
    if a.lift:
        lines += ["", paragraph(lift_words(a, meter), after="  ")]
    for n, act in enumerate(a.acts, start=1):
        told = "; ".join(filter(None, (f"{act.bits:.2f} bit, {act.seconds:.0f} s", also(act))))
        lines += ["", paragraph(f"{n}  {probe_words(act.probe)}   ({told})", after="   ")]
        said = [meaning_words(meaning(a, act, o, meter)) for o in act.outcomes]
        lines += [paragraph(text, "     ", "       ") for text in said]
    if a.acts:
        lines += ["", "Any other display: a fault of another size. Record it and ask again."]
    return "\n".join(lines)
