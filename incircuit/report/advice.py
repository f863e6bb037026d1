"""What to do next, in words: where things stand, what an outcome means, what to lift and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from incircuit.report.words import band_words, listed, probe_words

if TYPE_CHECKING:
    from incircuit.advise.following import Act, Advice
    from incircuit.advise.meanings import Outcome
    from incircuit.advise.suspects import Suspect
    from incircuit.meter.profile import Meter

NAMED = 4
"""Faults named for one outcome, and in a row of what is left."""


@dataclass(frozen=True, slots=True)
class Meaning:
    """One outcome of a reading: the displays, what they would mean, and how likely that is (0
    to 1)."""

    band: str
    means: str
    share: float


def stands(a: Advice) -> str:
    """Where things stand, in a sentence: the verdict, or what is left."""
    if not a.stop:
        return f"Now: {odds(a)}."
    if not a.suspects:
        return ("Nothing listed explains what was read, so no act is worth proposing: compare the board with "
                "its file and let judge say what path would do.")
    if a.done and not a.replace:
        return (f"The old {listed(sorted(a.done))} had failed and is replaced since. Take the readings of "
                "the worksheet once more before any power.")
    if a.replace:
        return f"The verdict is reached: {_mended(a)}."
    if a.suspects and not a.suspects[0].faults:
        return (f"No reading in place tells more. Healthy as far as it can be read "
                f"({_share(a.suspects[0].probability)}); what no reading shows is in the survey.")
    return f"No reading in place and no single lead tells more. Left: {odds(a)}."


def _mended(a: Advice) -> str:
    """What to do about it: bridges are looked for and removed, parts replaced."""
    bridges = sorted(name for name in a.replace if name.startswith("bridge "))
    parts = sorted(a.replace.difference(bridges))
    done = [f"find the bridge between {' and '.join(name.split()[1:])} and remove it (solder, dirt, or a "
            "short inside a part that has both nets)" for name in bridges]
    if parts:
        look = f"look for a {' or a '.join(a.look)}; where there is none, " if a.look else ""
        done.append(f"{look}replace {listed(parts)}")
    return ", and ".join(done)


def also(act: Act) -> str:
    """Other readings that would do as well, the first two named; empty where there are none."""
    if not act.also:
        return ""
    more = f" and {len(act.also) - 2} more" if len(act.also) > 2 else ""
    return f"as good: {', '.join(probe_words(p) for p in act.also[:2])}{more}"


def again(a: Advice) -> str:
    """What to read once more, after a repair or where nothing fits; empty where there is nothing."""
    if not a.again or not (a.replace or not a.suspects):
        return ""
    read = listed([probe_words(p) for p in a.again], 3)
    return f"After the repair read {read} again." if a.replace else f"Read {read} again, probes the same way."


def odds(a: Advice) -> str:
    """What may be the case, likeliest first."""
    said = [f"{suspect_words(s)} {_share(s.probability)}" for s in a.suspects[:NAMED]]
    rest = sum(s.probability for s in a.suspects[NAMED:])
    return ", ".join(said) + (f", {len(a.suspects) - NAMED} more {_share(rest)}" if rest >= 0.005 else "")


def suspect_words(s: Suspect) -> str:
    """The faults of one way the board may be."""
    return _together([s])


def _together(some: Sequence[Suspect]) -> str:
    """Ways the board may be that concern the same parts: ``Q1 short C-E and F1 open/missing``."""
    by_part: dict[str, dict[str, None]] = {}
    for part, fault in (f for s in some for f in s.faults):
        by_part.setdefault(part or fault, {})[fault] = None
    bridges = {fault for s in some for part, fault in s.faults if not part}
    said = [part if part in bridges else f"{part} {'/'.join(faults)}" for part, faults in by_part.items()]
    return " and ".join(said) or "healthy"


def _ways(some: Sequence[Suspect]) -> str:
    """What may be the case, those that concern the same parts together; a sound board first."""
    by_parts: dict[frozenset[str], list[Suspect]] = {}
    for s in some:
        by_parts.setdefault(frozenset(part or fault for part, fault in s.faults), []).append(s)
    said = [_together(group) for parts, group in by_parts.items() if parts]
    return " or ".join(x for x in ("as healthy" if frozenset() in by_parts else "",
                                   listed(said, NAMED) if said else "") if x)


def likeliest(a: Advice, o: Outcome) -> list[Suspect]:
    """What an outcome would leave, likeliest first."""
    return [a.suspects[k] for k in sorted(o.conditions, key=lambda k: (-a.suspects[k].probability, k))]


def meaning(a: Advice, act: Act, o: Outcome, meter: Meter) -> Meaning:
    """An outcome of a reading in words."""
    from incircuit.judge.ruling import summed

    some = likeliest(a, o)
    return Meaning(band_words(meter, act.probe.mode, o.low, o.high), _ways(some),
                   summed(s.probability for s in some))


def meaning_words(m: Meaning) -> str:
    """An outcome as a line."""
    return f"{m.band}: {m.means} ({_share(m.share)})"


def lift_meanings(a: Advice, meter: Meter) -> tuple[Meaning, ...]:
    """What the reading after the lead is lifted would mean; none where nothing is to be lifted."""
    if a.lift is None:
        return ()
    shown = (band_words(meter, a.lift.probe.mode, x, x) for x in (a.lift.other, a.lift.nominal))
    return tuple(Meaning(band, suspect_words(s), s.probability)
                 for band, s in zip(shown, a.between, strict=True))


def lift_words(a: Advice, meter: Meter) -> str:
    """The lead to lift, why, and what the reading then means; empty where nothing is to be lifted."""
    if a.lift is None:
        return ""
    first, second = lift_meanings(a, meter)
    return (f"No reading in place tells {first.means} from {second.means}. The cheapest way: {a.lift.act} "
            f"({a.lift.seconds:.0f} s), then read {probe_words(a.lift.probe)}. About {first.band}: "
            f"{first.means}; about {second.band}: {second.means}.")


def _share(probability: float) -> str:
    from incircuit.predict.sentences import percent

    return percent(probability)
