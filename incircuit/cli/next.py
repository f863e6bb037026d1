"""`incircuit next`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.advising import (
    CAUTION,
    Progress,
    advice_options,
    band_words,
    faults_words,
    lift_json,
    number,
    pad_words,
    probe_json,
    probe_words,
)
from incircuit.cli.text import listed, paragraph, say_json

if TYPE_CHECKING:
    from incircuit.advise.following import Act, Advice
    from incircuit.advise.meanings import Outcome
    from incircuit.advise.suspects import Suspect
    from incircuit.meter.profile import Meter

NAMED = 4
"""Faults named for one outcome."""


@click.command("next", epilog="Example: incircuit next boards/pump-drive/gate-drive.board bench.readings")
@click.argument("board")
@click.argument("readings", required=False)
@advice_options
def following(board: str, readings: str | None, meter: str, costs: str, as_json: bool) -> None:
    """The next act: the reading that tells most for its cost, or the lead to lift.

    READINGS is the bench story so far; with none, where to begin. The five best, and what each outcome
    would mean.
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


def _json(a: Advice, meter: Meter) -> dict[str, Any]:
    def suspect(s: Suspect) -> dict[str, Any]:
        return {"faults": [{"part": part or None, "fault": fault} for part, fault in s.faults],
                "probability": s.probability}

    return {
        "meter": meter.name, "stop": a.stop, "replace": sorted(a.replace),
        "read_again": [probe_json(p) for p in a.again], "look_for": list(a.look),
        "replaced": sorted(a.done), "caution": CAUTION,
        "acts": [{"reading": probe_json(act.probe), "bits": act.bits, "seconds": act.seconds, "outcomes": [
            {"low": number(o.low), "high": number(o.high), "overload": o.high == float("inf"),
             "probability": sum(a.suspects[k].probability for k in o.conditions),
             "means": [suspect(a.suspects[k]) for k in _likeliest(a, o)[:NAMED]]} for o in act.outcomes]}
            for act in a.acts],
        "lift": lift_json(a.lift), "between": [suspect(s) for s in a.between],
        "suspects": [suspect(s) for s in a.suspects[:12]],
    }


def _likeliest(a: Advice, o: Outcome) -> list[int]:
    return sorted(o.conditions, key=lambda k: (-a.suspects[k].probability, k))


def _text(a: Advice, meter: Meter, title: str) -> str:
    lines = [paragraph(f"{title}. Meter {meter.name}. {CAUTION}"), ""]
    if a.stop:
        return "\n".join([*lines, paragraph(_verdict(a))])
    lines.append(paragraph(f"Now: {_odds(a)}."))
    if a.lift:
        lines += ["", paragraph(_lift(a, meter), after="  ")]
    for n, act in enumerate(a.acts, start=1):
        lines += ["", paragraph(f"{n}  {probe_words(act.probe)}   ({act.bits:.2f} bit, {act.seconds:.0f} s)")]
        lines += [paragraph(_outcome(a, act, o, meter), "     ", "       ") for o in act.outcomes]
    return "\n".join(lines)


def _verdict(a: Advice) -> str:
    if a.done and not a.replace:
        return (f"The old {listed(sorted(a.done))} had failed and is replaced since. Take the readings of "
                "the worksheet once more before any power.")
    if a.replace:
        again = f", then read {listed([probe_words(p) for p in a.again], 3)} again" if a.again else ""
        look = f"look for a {' or a '.join(a.look)}; where there is none, " if a.look else ""
        return f"The verdict is reached: {look}replace {listed(sorted(a.replace))}{again}."
    if decided := [s for s in a.suspects[:1] if not s.faults]:
        return (f"No reading in place tells more. Healthy as far as it can be read ({_percent(decided[0])}); "
                "what no reading shows is in the survey.")
    return f"No reading in place and no single lead tells more. Left: {_odds(a)}."


def _odds(a: Advice) -> str:
    said = [f"{_words(s)} {_percent(s)}" for s in a.suspects[:NAMED]]
    rest = sum(s.probability for s in a.suspects[NAMED:])
    return ", ".join(said) + (f", {len(a.suspects) - NAMED} more {rest:.0%}" if rest >= 0.005 else "")


def _lift(a: Advice, meter: Meter) -> str:
    assert a.lift is not None
    one, other = (_words(s) for s in a.between)
    lift = a.lift
    pads = f"{pad_words(lift.probe.red)} {pad_words(lift.probe.black)}"
    first, second = (band_words(meter, lift.probe.mode, x, x) for x in (lift.other, lift.nominal))
    return (f"No reading in place tells {one} from {other}. The cheapest way: {lift.act} "
            f"({lift.seconds:.0f} s), then read {pads} {lift.probe.mode}. About {first}: {one}; "
            f"about {second}: {other}.")


def _outcome(a: Advice, act: Act, o: Outcome, meter: Meter) -> str:
    share = sum(a.suspects[k].probability for k in o.conditions)
    some = [a.suspects[k] for k in _likeliest(a, o)]
    sound = any(not s.faults for s in some)
    means = faults_words([f for s in some for f in s.faults], NAMED) if any(s.faults for s in some) else ""
    said = " or ".join(x for x in ("as healthy" if sound else "", means) if x)
    return f"{band_words(meter, act.probe.mode, o.low, o.high)}: {said} ({share:.0%})"


def _words(s: Suspect) -> str:
    return faults_words(s.faults) if s.faults else "healthy"


def _percent(s: Suspect) -> str:
    return f"{s.probability:.0%}"
