"""What to do next, in the words of the page."""

from __future__ import annotations

from typing import Any

from incircuit.advise.following import Act, Advice
from incircuit.advise.meanings import Outcome
from incircuit.advise.outcomes import Probe
from incircuit.advise.suspects import Suspect
from incircuit.meter.profile import Meter
from incircuit.predict.sentences import percent
from incircuit.report.cautions import CAUTION
from incircuit.report.words import band_words, faults_words, listed

NAMED = 4
"""Faults named for one outcome."""


def advice_json(a: Advice, meter: Meter) -> dict[str, Any]:
    """An advice for the page: one sentence on where things stand, then acts with what each outcome means."""
    return {
        "stop": a.stop, "replace": sorted(a.replace), "says": _stands(a), "caution": CAUTION,
        "again": [_probe(p) for p in a.again],
        "acts": [_act(a, act, meter) for act in a.acts],
        "lift": _lift(a, meter),
    }


def _pad(node: str) -> str:
    """A node as it is typed: a lifted pin is ``D3.K``."""
    return node.replace(" ", ".", 1)


def _probe(p: Probe) -> dict[str, str]:
    return {"red": _pad(p.red), "black": _pad(p.black), "mode": p.mode}


def _stands(a: Advice) -> str:
    if not a.stop:
        return f"Now: {_odds(a)}."
    if a.done and not a.replace:
        return (f"The old {listed(sorted(a.done))} had failed and is replaced since. Take the readings of "
                "the worksheet once more before any power.")
    if a.replace:
        look = f"look for a {' or a '.join(a.look)}; where there is none, " if a.look else ""
        return f"The verdict is reached: {look}replace {listed(sorted(a.replace))}."
    if a.suspects and not a.suspects[0].faults:
        return (f"No reading in place tells more. Healthy as far as it can be read "
                f"({percent(a.suspects[0].probability)}); what no reading shows is in the survey.")
    return f"No reading in place and no single lead tells more. Left: {_odds(a)}."


def _odds(a: Advice) -> str:
    said = [f"{_words(s)} {percent(s.probability)}" for s in a.suspects[:NAMED]]
    rest = sum(s.probability for s in a.suspects[NAMED:])
    return ", ".join(said) + (f", {len(a.suspects) - NAMED} more {percent(rest)}" if rest >= 0.005 else "")


def _words(s: Suspect) -> str:
    return faults_words(s.faults) if s.faults else "healthy"


def _act(a: Advice, act: Act, meter: Meter) -> dict[str, Any]:
    return {**_probe(act.probe), "bits": round(act.bits, 2), "seconds": round(act.seconds),
            "outcomes": [_outcome(a, act, o, meter) for o in act.outcomes]}


def _outcome(a: Advice, act: Act, o: Outcome, meter: Meter) -> dict[str, Any]:
    some = [a.suspects[k] for k in sorted(o.conditions, key=lambda k: (-a.suspects[k].probability, k))]
    sound = any(not s.faults for s in some)
    faults = [f for s in some for f in s.faults]
    said = faults_words(faults[:NAMED]) + (f" and {len(faults) - NAMED} more" if len(faults) > NAMED else "")
    means = " or ".join(x for x in ("as healthy" if sound else "", said) if x)
    return {"band": band_words(meter, act.probe.mode, o.low, o.high), "means": means,
            "percent": percent(sum(s.probability for s in some))}


def _lift(a: Advice, meter: Meter) -> dict[str, Any] | None:
    if a.lift is None:
        return None
    one, other = (_words(s) for s in a.between)
    first, second = (band_words(meter, a.lift.probe.mode, x, x) for x in (a.lift.other, a.lift.nominal))
    return {**_probe(a.lift.probe), "statements": a.lift.act.split(", "),
            "seconds": round(a.lift.seconds), "one": one, "other": other,
            "outcomes": [{"band": first, "means": one}, {"band": second, "means": other}]}
