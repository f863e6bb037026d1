"""What to do next, for the page."""

from __future__ import annotations

from typing import Any

from incircuit.advise.following import Act, Advice
from incircuit.advise.outcomes import Probe
from incircuit.meter.profile import Meter
from incircuit.predict.sentences import percent
from incircuit.report.advice import Meaning, also, lift_meanings, meaning, stands, suspect_words
from incircuit.report.cautions import CAUTION
from incircuit.report.words import pad_words


def advice_json(a: Advice, meter: Meter) -> dict[str, Any]:
    """An advice for the page: one sentence on where things stand, then acts with what each outcome means."""
    return {
        "stop": a.stop, "replace": sorted(a.replace), "says": stands(a), "caution": CAUTION,
        "again": [_probe(p) for p in a.again],
        "acts": [_act(a, act, meter) for act in a.acts],
        "lift": _lift(a, meter),
    }


def _probe(p: Probe) -> dict[str, str]:
    return {"red": pad_words(p.red), "black": pad_words(p.black), "mode": p.mode}


def _act(a: Advice, act: Act, meter: Meter) -> dict[str, Any]:
    return {**_probe(act.probe), "bits": round(act.bits, 2), "seconds": round(act.seconds), "also": also(act),
            "outcomes": [_outcome(meaning(a, act, o, meter)) for o in act.outcomes]}


def _outcome(m: Meaning) -> dict[str, str]:
    return {"band": m.band, "means": m.means, "percent": percent(m.share)}


def _lift(a: Advice, meter: Meter) -> dict[str, Any] | None:
    if a.lift is None:
        return None
    one, other = (suspect_words(s) for s in a.between)
    return {**_probe(a.lift.probe), "statements": list(a.lift.statements),
            "seconds": round(a.lift.seconds), "one": one, "other": other,
            "outcomes": [{"band": m.band, "means": m.means} for m in lift_meanings(a, meter)]}
