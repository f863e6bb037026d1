"""A judgement in the words of the page."""

from __future__ import annotations

from typing import Any

from incircuit.judge.called import failed_words, fitted, good_words
from incircuit.judge.judge import Judgement, Line
from incircuit.judge.reference import Beside
from incircuit.judge.ruling import PartRuling, summed
from incircuit.judge.words import explanation_words, why
from incircuit.meter.profile import Meter, load_meter
from incircuit.meter.typed import DENIED
from incircuit.predict.prediction import Band, limits
from incircuit.predict.sentences import percent
from incircuit.report.words import listed, span
from incircuit.story import Moment, Story

LISTED = 0.01
"""Explanations below this probability are not listed."""
MOST_LISTED = 8
LEAST_SHARE = 0.05
"""Who carries less of a reading's current is not named."""


def verdict_json(j: Judgement, story: Story, meter: Meter) -> dict[str, Any]:
    """The verdict, every reading with the healthy band, what explains them all, every part. `meter` is that
    of readings for which the story names none."""
    new = fitted(story)
    good = {b.number: b for b in j.beside}
    lines = [_line(line, meter, good.get(k)) for k, line in enumerate(j.lines)]
    return {
        "word": j.ruling.word, "why": why(j), "good": good_words(j), "meter": j.meter, "count": len(j.lines),
        "failed": failed_words(j, new), "lines": lines,
        "candidates": _candidates(j), "parts": [_part(p, p.part in new) for p in j.ruling.parts],
    }


def glance_json(moment: Moment, healthy: Band, inside: bool, meter: Meter) -> dict[str, Any]:
    """The last reading, ahead of the verdict."""
    place = moment.reading.place
    return {"line": place.line if place else 0, "healthy": _healthy(moment, healthy, meter),
            "mark": "as healthy" if inside else "off"}


def _part(p: PartRuling, replaced: bool) -> dict[str, Any]:
    fitted = {"word": p.fitted.word, "unseen": list(p.fitted.unseen)} if p.fitted else None
    return {"part": p.part, "word": p.word, "odds": p.probability, "unseen": list(p.unseen),
            "replaced": replaced, "fitted": fitted}


def _line(line: Line, meter: Meter, good: Beside | None) -> dict[str, Any]:
    r = line.moment.reading
    carriers = [part for part, share in line.carried_by if share >= LEAST_SHARE]
    return {"line": r.place.line if r.place else 0, "mark": line.mark,
            "healthy": _healthy(line.moment, line.healthy, meter),
            "by": listed(carriers or ["nothing"], 4), "good": good.shown if good else "",
            "differs": good is not None and good.differs}


def _healthy(moment: Moment, band: Band, meter: Meter) -> str:
    r = moment.reading
    if r.typed.word:  # climbs, drifts, a chirp: on all healthy boards, on none, or on some
        return r.typed.word if band.low is None else f"{r.typed.word} or not" if band.high is None else (
            DENIED[r.typed.word])
    taken_with = load_meter(moment.meter) if moment.meter else meter
    return span(*limits(taken_with, r.mode, band))


def _candidates(j: Judgement) -> list[dict[str, Any]]:
    shown = [e for e in j.explanations if e.fits and e.probability >= LISTED and not e.silent][:MOST_LISTED]
    rows = [{"odds": e.probability, "percent": percent(e.probability), "says": explanation_words(e),
             "parts": [f.cause.part for f in e.faults if f.cause.part]} for e in shown]
    unseen = summed(e.probability for e in j.explanations if e.fits and e.silent)
    if unseen >= LISTED and rows:
        rows.append({"odds": unseen, "percent": percent(unseen),
                     "says": "faults that no reading so far can see", "parts": []})
    return rows
