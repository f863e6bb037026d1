"""One sentence for the verdict, and what would settle it."""

from __future__ import annotations

from incircuit.compare.compare import Comparison
from incircuit.compare.unlisted import Unlisted
from incircuit.compare.verdict import Candidate
from incircuit.predict.question import Question
from incircuit.predict.sentences import percent
from incircuit.units import format_value

_WORDS = {"short": "shorted", "open": "open", "leaky": "leaking", "drifted": "drifted", "dried": "dried out",
          "reversed": "in backwards", "missing": "missing", "wrong-value": "of the wrong value"}


def fault_words(part: str, fault: str, magnitude: float | None = None) -> str:
    """A fault as said at a bench.

    >>> fault_words("Q1", "short C-E"), fault_words("D3", "leaky", 470.0)
    ('Q1 shorted C-E', 'D3 leaking (about 470 Ω)')
    """
    word, _, pins = fault.partition(" ")
    text = f"{part} {_WORDS.get(word, word)}" + (f" {pins}" if pins else "")
    if magnitude is None:
        return text
    if word in ("leaky", "short"):
        return f"{text} (about {format_value(magnitude, 'Ω', digits=2 if word == 'short' else 3)})"
    return f"{text} (about {magnitude:.2g} times)"


def why(question: Question, c: Comparison) -> str:
    """Why the verdict is what it is."""
    verdict, part = c.verdict, c.verdict.part
    read = f"{read_text(c)}"
    match verdict.word:
        case "healthy" if part is None:
            return f"{read} is what a healthy board shows here; no single part lies between these pads."
        case "healthy":
            return f"{read} is what {part} shows when it is healthy, in place as alone."
        case "explained" if verdict.healthy_fits:
            return _explained_by_neighbours(c, read) + _own_faults(c)
        case "explained":
            return (f"{read} is not what a healthy board shows, but {_names(verdict.candidates)} explains it "
                    f"without any fault of {part}.")
        case "failed":
            return _failed(c, read)
        case "undecided":
            return _undecided(question, c, read)
        case _:
            return f"{read} fits neither the healthy board nor any single listed fault. " + _unlisted(c)


def read_text(c: Comparison) -> str:
    """What was read, as a display would show it."""
    if c.typed.beep is not None:
        return "A beep" if c.typed.beep else "Silence"
    if c.typed.value is None:
        return "OL"
    return format_value(c.typed.value, c.prediction.shown.unit, digits=4)


def _explained_by_neighbours(c: Comparison, read: str) -> str:
    others = [(p, s) for p, s in c.explanation.shares if p != c.verdict.part and s >= 0.01]
    alone = c.prediction.alone_shown
    text = f"{read} is what a healthy board shows here"
    if others:
        text += f": {', '.join(p for p, _ in others[:3])} carry" + ("s" if len(others[:3]) == 1 else "")
        text += f" {percent(min(1.0, max(s for _, s in others)))} of the meter's current"
    if alone:
        text += f"; alone, {c.verdict.part} would show {alone[0].text} to {alone[1].text}"
    return text + "."


def _own_faults(c: Comparison) -> str:
    """Whether the part's own faults would have shown."""
    own = [s for s in c.explanation.sights if s.part == c.verdict.part]
    hidden = [s.fault for s in own if not s.told]
    if not own:
        return ""
    if hidden:
        return (f" It says nothing about {c.verdict.part}: {' or '.join(hidden)} would read the same, "
                "so lift a lead or read another way to judge it.")
    return f" An open or shorted {c.verdict.part} would read otherwise, so it is fine."


def _names(candidates: tuple[Candidate, ...], most: int = 3) -> str:
    texts = [fault_words(k.part, k.fault, k.magnitude) for k in candidates[:most]]
    more = len(candidates) - most
    return " or ".join(texts) + (f" or {more} more" if more > 0 else "")


def _failed(c: Comparison, read: str) -> str:
    lead = next(k for k in c.verdict.candidates if k.part == c.verdict.part)
    text = f"{read} cannot come from a healthy board; {fault_words(lead.part, lead.fault, lead.magnitude)} fits"
    if c.verdict.twins:
        return (f"{text}, and so does the same fault of {' or '.join(c.verdict.twins)} beside it: "
                "no reading in place can tell these apart.")
    return f"{text} and nothing else is nearly as probable."


def _undecided(question: Question, c: Comparison, read: str) -> str:
    part = c.verdict.part
    if not c.verdict.healthy_fits:
        return f"{read} is not healthy, but several faults fit: {_names(c.verdict.candidates, 4)}."
    own = [s.fault for s in c.explanation.sights if s.part == part and not s.told]
    if part not in c.explanation.can_matter and part is not None and not own:
        return f"{part} cannot influence this reading: read where it lies between the probes."
    if own:
        return (f"{read} is what a healthy board shows here, but {part} {' or '.join(own)} would show the same: "
                f"{'read it the other way round or lift a lead' if question.part else 'read elsewhere'}.")
    return f"{read} is what a healthy board shows, but {part} is not what lies between these pads."


def _unlisted(c: Comparison) -> str:
    path: Unlisted | None = c.unlisted
    if path is None or path.ohms is None:
        return ("It shows more than the healthy board would: no contact at a pad, a broken track, "
                "or parts that differ from the list.")
    low, high = path.low, path.high
    band = (f" ({format_value(low, 'Ω')} to {format_value(high, 'Ω')})"
            if low is not None and high is not None and low < high else "")
    return (f"An unlisted path of about {format_value(path.ohms, 'Ω')}{band} between {c.prediction.red} and "
            f"{c.prediction.black} would do it.")
