"""How right a judgement is, against what was hidden."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from incircuit.judge.explanation import Explanation
from incircuit.judge.judge import Judgement
from tests.judge.bench import Hidden
from tests.judge.stories import Trial

LEVELS = ("right", "group", "one of two", "undecided", "as healthy", "unlisted", "missed", "condemned",
          "cleared")
BINS = (0.02, 0.1, 0.3, 0.5, 0.7, 0.85, 0.95, 0.99, 0.999, 1.01)

Name = tuple[str, str]


@dataclass
class Calibration:
    """How often what was said with some probability was so, by bin of that probability."""

    said: list[list[tuple[float, bool]]] = field(default_factory=lambda: [[] for _ in BINS[1:]])

    def add(self, probability: float, so: bool) -> None:
        """Count one statement."""
        for k, (low, high) in enumerate(pairwise(BINS)):
            if low <= probability < high:
                self.said[k].append((probability, so))

    def table(self) -> str:
        """One line a bin: how many, mean stated, share that was so and its standard error (binomial, of what
        was stated)."""
        lines = [f"{'stated odds':>16}{'statements':>12}{'mean stated':>13}{'were so':>9}{'error':>8}"]
        for (low, high), some in zip(pairwise(BINS), self.said, strict=True):
            if some:
                mean = sum(p for p, _ in some) / len(some)
                so = sum(s for _, s in some) / len(some)
                error = math.sqrt(sum(p * (1.0 - p) for p, _ in some)) / len(some)
                bin_ = f"{low:g} to {min(high, 1.0):g}"
                lines.append(f"{bin_:>16}{len(some):12}{mean:13.3f}{so:9.3f}{error:8.3f}")
        return "\n".join([*lines, self.either_way()])

    def either_way(self, low: float = 0.85, high: float = 0.95) -> str:
        """Statements of about 90 %, that a thing is so or that it is not, in one line."""
        every = [one for some in self.said for one in some]
        stated = [(p, so) for p, so in every if low <= p < high]
        stated += [(1.0 - p, not so) for p, so in every if low < 1.0 - p <= high]
        if not stated:
            return "about 90 %, so or not so: none"
        mean, count = sum(p for p, _ in stated) / len(stated), len(stated)
        error = math.sqrt(sum(p * (1.0 - p) for p, _ in stated)) / count
        return (f"about 90 %, so or not so: {count} statements, {mean:.3f} stated, "
                f"{sum(so for _, so in stated) / count:.3f} were so, error {error:.3f}")


def visible(trial: Trial, found: Judgement) -> bool:
    """Whether the faults move any reading of the story out of what healthy boards show."""
    sound = set(trial.sound.splitlines())
    return any(not line.in_band and line.moment.reading.line not in sound for line in found.lines)


def level(trial: Trial, found: Judgement) -> set[str]:
    """What happened, of `LEVELS`: one of the first seven, and condemned or cleared beside it.

    right: the hidden faults are named, or no fault where there is none; group: among faults named
    together; undecided: left open with the hidden faults among what fits; as healthy: called healthy
    with every reading in the healthy band; condemned: a healthy part called failed; cleared: a part
    with a hidden open or short, or one that shows, called healthy.
    """
    hidden = [_name(f) for f in trial.faults]
    guilty = {f.part for f in trial.faults}
    shows = visible(trial, found)
    said = set()
    if any(p.word == "failed" and p.part not in guilty for p in found.ruling.parts) and not _bridged(trial):
        said.add("condemned")
    single = len(trial.faults) == 1  # of two faults one may hide behind the other
    loud = {f.part for f in trial.faults if (single and shows) or f.word in ("open", "short")} - {""}
    if any(p.word == "healthy" and p.part in loud for p in found.ruling.parts):
        said.add("cleared")
    return said | {_main(hidden, found, shows)}


def same_faults(e: Explanation, trial: Trial) -> bool:
    """Whether an explanation names the hidden faults themselves, no others and none too few."""
    told = {(f.cause.part, f.cause.fault) for f in e.faults}
    return told == {_name(f) for f in trial.faults} and not e.slips


def _bridged(trial: Trial) -> bool:
    return any(f.defect is None for f in trial.faults)


def _main(hidden: Sequence[Name], found: Judgement, shows: bool) -> str:
    word, lead = found.ruling.word, found.ruling.lead
    if word == "unlisted":
        return "unlisted"
    if word == "healthy":
        return "right" if not hidden else "missed" if shows else "as healthy"
    if word == "failed":
        assert lead is not None
        if _matches(lead, hidden, ()):
            return "right"
        if _matches(lead, hidden, found.ruling.groups):
            return "group"
        one = len(hidden) == 2 and any(_matches(lead, (h,), found.ruling.groups) for h in hidden)
        return "one of two" if one else "missed"
    fits = [e for e in found.explanations if e.fits and (not e.silent or not shows)]
    if any(_matches(e, hidden, found.ruling.groups) for e in fits if e.probability > 0.002):
        return "undecided"
    return "missed" if shows else "as healthy"


def _matches(e: Explanation, hidden: Sequence[Name], groups: Sequence[Sequence[Name]]) -> bool:
    """Whether an explanation names the hidden parts (of a bridge: its nets), or their group."""
    told = [(f.cause.part, f.cause.fault) for f in e.faults]
    if not hidden or not told:
        return not hidden and not told

    def same(a: Name, b: Name) -> bool:
        return (a[0] == b[0] != "") or a == b or any(a in g and b in g for g in groups)

    return all(any(same(t, h) for t in told) for h in hidden) and len(told) <= len(hidden)


def _name(f: Hidden) -> Name:
    a, b = sorted(f.between)
    return (f.part, f.defect.name) if f.defect else ("", f"{f.word} {a} {b}")


def table(counts: Iterable[tuple[str, Counter[str]]]) -> str:
    """Counts as a table, one line a row."""
    lines = [f"{'':34}" + "".join(f"{word:>12}" for word in LEVELS) + f"{'of':>8}"]
    lines += [f"{name:34}" + "".join(f"{c[word]:12}" for word in LEVELS) + f"{c['all']:8}"
              for name, c in counts]
    return "\n".join(lines)
