"""One reading against what should be: alone, healthy in place, and what was read."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.compare.hypotheses import weigh
from incircuit.compare.likelihood import Seen
from incircuit.compare.unlisted import Unlisted, unlisted_path
from incircuit.compare.verdict import Verdict, decide
from incircuit.meter.display import Shown, range_half_width
from incircuit.meter.profile import Meter
from incircuit.meter.typed import Typed
from incircuit.predict.explanation import Explanation, explain
from incircuit.predict.measure import Ask, ranges_of, show
from incircuit.predict.prediction import Prediction
from incircuit.predict.question import Question


@dataclass(frozen=True, slots=True)
class Comparison:
    """The answer to one reading; `typed` is what was read, as a value [V or ohm], OL or a beep.

    `read` is the same as this meter's display would show it.
    """

    typed: Typed
    read: Shown
    prediction: Prediction
    explanation: Explanation
    verdict: Verdict
    unlisted: Unlisted | None


def seen_on(meter: Meter, mode: str, typed: Typed, step: float = 0.0) -> Seen:
    """A typed reading with the meter's error at that point; `step` is the last digit typed [V or ohm]."""
    if typed.beep is not None and meter.continuity is not None:
        return Seen(None, beeps=typed.beep, beeps_below=meter.continuity.beeps_below,
                    full_scale=meter.continuity.range.full_scale)
    scales = ranges_of(meter, mode)
    end = scales[-1].full_scale
    if typed.value is None:
        return Seen(None, float(range_half_width(scales[-1], end)), full_scale=end)
    value = typed.value
    scale = next((s for s in scales if value <= s.full_scale), scales[-1])
    return Seen(value, float(range_half_width(scale, value)), 0.5 * max(scale.resolution, step),
                full_scale=scale.full_scale)


def compare(question: Question, meter: Meter, ask: Ask, typed: Typed, step: float = 0.0,
            engine: str = "own") -> Comparison:
    """Judge one reading by single faults.

    `step` is the weight of the last digit typed [V or ohm]; `engine` solves the nominal board.
    Raises MeterError where the meter lacks the mode, SolveError where nothing could be proven.
    """
    explanation = explain(question, meter, ask, engine)
    prediction = explanation.prediction
    seen = seen_on(meter, ask.mode, typed, step)
    own = (question.part.ref,) if question.part else ()
    suspects = tuple(dict.fromkeys([*own, *explanation.can_matter]))
    hypotheses = weigh(question, meter, ask, seen, suspects)
    verdict = decide(question, hypotheses, prediction, seen)
    path = unlisted_path(question, meter, ask, seen) if verdict.word == "unlisted" else None
    return Comparison(typed, _display(meter, ask.mode, typed), prediction, explanation, verdict, path)


def _display(meter: Meter, mode: str, typed: Typed) -> Shown:
    """What was typed, on the range it would be read on."""
    scales = ranges_of(meter, mode)
    value = float("inf") if typed.value is None else typed.value
    on = next((k for k, scale in enumerate(scales) if value <= scale.full_scale), len(scales) - 1)
    return show(meter, mode, value, on)
