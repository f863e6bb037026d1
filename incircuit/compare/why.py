"""One or two sentences for the verdict, in the meter's own digits."""

from __future__ import annotations

from incircuit.compare.compare import Comparison
from incircuit.compare.sizes import size_words
from incircuit.compare.unlisted import Unlisted
from incircuit.compare.verdict import Candidate
from incircuit.predict.question import Question
from incircuit.predict.sentences import percent
from incircuit.units import format_value

_WORDS = {"short": "shorted", "open": "open", "leaky": "leaking", "drifted": "drifted", "dried": "dried out",
          "high-esr": "with high ESR",
          "reversed": "in backwards", "missing": "missing", "wrong-value": "of the wrong value"}
LEAST_SHARE = 0.01
"""Neighbours that carry less of the meter's current than this are not named."""


def fault_words(part: str, fault: str, magnitude: float | None = None,
                span: tuple[float, float] | None = None) -> str:
    """A fault as said at a bench.

    >>> fault_words("Q1", "short C-E"), fault_words("D3", "leaky", 470.0, (420.0, 510.0))
    ('Q1 shorted C-E', 'D3 leaking (about 470 Ω)')
    """
    word, _, pins = fault.partition(" ")
    text = f"{part} {_WORDS.get(word, word)}" + (f" {pins}" if pins else "")
    size = size_words(word, magnitude, span)
    return f"{text} ({size})" if size else text


def candidate_words(c: Candidate) -> str:
    """A candidate as said at a bench."""
    return fault_words(c.part, c.fault, c.magnitude, c.span)


def why(question: Question, c: Comparison) -> str:
    """Why the verdict is what it is."""
    verdict, part, read = c.verdict, c.verdict.part, read_text(c)
    match verdict.word:
        case "healthy" if part is None:
            return f"{read} is what a healthy board shows here; no single part lies between these pads."
        case "healthy":
            return (f"{read} is what {part} shows when it is healthy, in place as alone; open or shorted "
                    "between these pads it would read otherwise." + _unseen(c))
        case "explained" if verdict.healthy_fits:
            return _explained_by_neighbours(c, read) + _own_faults(c)
        case "explained":
            return (f"{read} is not what a healthy board shows, but {_names(verdict.candidates)} explains it "
                    f"without any fault of {part}.")
        case "failed":
            return _failed(c, read)
        case "undecided":
            return _undecided(c, read, question.part is not None)
        case _:
            return f"{read} fits neither the healthy board nor any single listed fault. " + _unlisted(c)


def read_text(c: Comparison) -> str:
    """What was read, as this meter's display shows it."""
    if c.typed.beep is not None:
        return "A beep" if c.typed.beep else "Silence"
    return c.read.text


def _unseen(c: Comparison) -> str:
    """What else of the part the reading does not see: a leak that is too small."""
    own = [k for k in c.verdict.candidates if k.part == c.verdict.part and k.fault.split()[0] == "leaky"]
    spans = [k.span[0] for k in own if k.span is not None and not k.blind]
    if not spans:
        return ""
    return f" A leak of more than about {format_value(min(spans), 'Ω', digits=2)} would not show."


def _explained_by_neighbours(c: Comparison, read: str) -> str:
    others = [(p, s) for p, s in c.explanation.shares if p != c.verdict.part and s >= LEAST_SHARE][:3]
    alone = c.prediction.alone_shown
    text = f"{read} is what a healthy board shows here"
    if others:
        verb = "carries" if len(others) == 1 else "carry"
        text += f": {listed([p for p, _ in others])} {verb}"
        text += (f" {percent(others[0][1])} of the meter's current" if len(others) == 1
                 else " the meter's current")
    if alone:
        band = alone[0].text if alone[0].text == alone[1].text else f"{alone[0].text} to {alone[1].text}"
        text += f"; alone, {c.verdict.part} would show {band}"
    return text + "."


def listed(names: list[str], word: str = "and") -> str:
    """Names as a sentence has them: ``R1, R2 and R3``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {word} {names[-1]}"


def _own_faults(c: Comparison) -> str:
    """Whether the part's own faults would have shown."""
    if c.verdict.hidden:
        part = c.verdict.part
        return (f" It does not say whether {part} is good: with {part} {_hidden(c)} it would read the same, "
                "so lift a lead or read another way.")
    return f" An open or a short of {c.verdict.part} between these pads would read otherwise."


def _hidden(c: Comparison) -> str:
    return listed([fault_words("", fault).strip() for fault in c.verdict.hidden], "or")


def _names(candidates: tuple[Candidate, ...], most: int = 3) -> str:
    texts = [candidate_words(k) for k in candidates[:most]]
    more = len(candidates) - most
    return " or ".join(texts) + (f" or {more} more" if more > 0 else "")


def _failed(c: Comparison, read: str) -> str:
    lead = next(k for k in c.verdict.candidates if (k.part, k.fault) == (c.verdict.part, c.verdict.fault))
    text = f"{read} is not what a healthy board shows; {candidate_words(lead)} fits"
    if c.verdict.twins:
        return (f"{text}, and so does a fault of {listed(list(c.verdict.twins), 'or')}: "
                "no reading in place can tell these apart.")
    if all(k.part == lead.part for k in c.verdict.candidates):
        return f"{text}, and no single fault of another part does."
    return f"{text}, and no fault of another part is nearly as probable."


def _undecided(c: Comparison, read: str, asked: bool) -> str:
    part, found = c.verdict.part, c.verdict.candidates
    if not c.verdict.healthy_fits:
        if c.verdict.healthy_probability > 1.0 - found[0].probability:
            return (f"{read} is just outside what 99 of 100 healthy boards show: {_names(found, 2)} would do "
                    "it, and so would a healthy board at its edge.")
        return f"{read} is not what a healthy board shows, but several faults fit: {_names(found, 4)}."
    if asked and part not in c.explanation.can_matter:
        return f"{part} cannot influence this reading: read where it lies between the probes."
    if c.verdict.hidden:
        return (f"{read} is what a healthy board shows here, but with {part} {_hidden(c)} it would "
                "show the same: read it the other way round or lift a lead.")
    return f"{read} is what a healthy board shows, but {part} is not what lies between these pads."


def _unlisted(c: Comparison) -> str:
    path: Unlisted | None = c.unlisted
    if c.typed.value is not None and c.typed.value < 0.0:
        return ("Below zero it needs a source on the board, such as a capacitor that is still charged: "
                "discharge and verify, then read again.")
    if path is None or path.ohms is None:
        return ("It shows more than the healthy board would: no contact at a pad, a broken track, "
                "or parts that differ from the list.")
    low, high = path.low, path.high
    text = f"about {format_value(path.ohms, 'Ω', digits=3)}"
    if low is not None and high is not None and high > 1.05 * low:
        text += f" ({format_value(low, 'Ω', digits=3)} to {format_value(high, 'Ω', digits=3)})"
    return f"An unlisted path of {text} between {c.prediction.red} and {c.prediction.black} would do it."


