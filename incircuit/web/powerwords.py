"""What the board may hold and how it is powered up first, in the words of the page."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from incircuit.meter.profile import Meter
from incircuit.power.discharge import Bank, Stored
from incircuit.power.limits import CAUTIONS, LIMITS
from incircuit.power.powerup import Step
from incircuit.predict.prediction import Prediction
from incircuit.report import charge
from incircuit.report.words import listed, span
from incircuit.units import format_value

BRIEF = 2
"""Capacitors named in the line on every view."""


def charge_json(found: Stored) -> dict[str, Any]:
    """What every bank holds, the most energy first; `marks` are words for the drawing, `brief` one line."""
    worst = [b for b in found.banks if not b.slight]
    slight = [b for b in found.banks if b.slight]
    return {
        "brief": _brief(worst), "banks": [_bank(b) for b in worst], "head": list(charge.bleed_head()),
        "slight": [charge.slight_words(b) for b in slight], "slight_head": charge.slight_head(),
        "stacks": [charge.stack_words(a, b) for a, b in found.stacks],
        "unknown": charge.unknown_words(found), "nothing": "" if found.banks else charge.NOTHING,
        "limits": [limit.source for limit in LIMITS],
        "cautions": [{"text": text, "source": source} for text, source in CAUTIONS],
        "marks": {ref: f"{b.volts:.3g} V" for b in worst for ref in b.refs},
    }


def _brief(banks: Sequence[Bank]) -> str:
    if not banks:
        return ""
    first = banks[0]
    joules = format_value(sum(b.joules for b in banks), "J", 2)
    refs = [ref for b in banks for ref in b.refs]
    volts = max(b.volts for b in banks)
    return f"{listed(refs, BRIEF)} may hold {'up to ' if len(banks) > 1 else ''}{volts:.3g} V, {joules}" + (
        ": can kill" if first.can_hurt else "")


def _bank(b: Bank) -> dict[str, Any]:
    return {"parts": list(b.refs), "plus": b.plus, "minus": b.minus, "says": charge.held_words(b),
            "hurt": charge.hurt_words(b), "bleeds": charge.bleed_words(b),
            "rows": [list(row) for row in charge.bleed_rows(b)],
            "resistor": charge.resistor_words(b.discharger)}


def powerup_json(steps: Sequence[Step], meter: Meter) -> dict[str, Any]:
    """The steps of the first power-up in order."""
    return {"meter": meter.name, "steps": [_step(s) for s in steps]}


def _step(s: Step) -> dict[str, Any]:
    expected = [_reading(e.prediction, e.red, e.black) for e in s.expected]
    return {"title": s.title, "do": s.do, "stop": s.stop, "caution": s.caution,
            "limit": charge.limit_words(s), "open": charge.unpredicted_words(s), "expected": expected,
            "readings": [_reading(p, p.red, p.black) for p in s.readings]}


def _reading(p: Prediction, red: str, black: str) -> dict[str, str]:
    return {"red": red, "black": black, "mode": p.mode, "expect": p.shown.text,
            "healthy": span(p.low, p.high)}
