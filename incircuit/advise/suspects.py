"""What may be the case now, with probabilities: from the judge where something was read, else from priors."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from incircuit.advise.conditions import conditions_of, sized
from incircuit.board.model import Board
from incircuit.board.state import HEALTHY, State
from incircuit.circuit.build import Circuit
from incircuit.errors import StateError, StoryError
from incircuit.judge.causes import TEMPER
from incircuit.judge.explanation import HEALTHY as SOUND
from incircuit.judge.judge import Judgement
from incircuit.meter.typed import parse_shown
from incircuit.parts.elements import Change, Resistance
from incircuit.story import ReadingEntry, Story, moments

Name = tuple[str, str]
LEAST = 1e-4
"""Explanations below this probability are left out …"""
MOST = 120
"""… and beyond so many the least likely ones."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """One way the board may be: its faults (part, fault), none for healthy, and their `sizes`; `parts` is the
    decision it asks for, which parts to replace; `change` what it does to the circuit as it stands now. What
    failed and is replaced since is in `done`."""

    faults: tuple[Name, ...]
    parts: frozenset[str]
    probability: float
    change: Change
    sizes: tuple[float | None, ...] = ()
    done: tuple[Name, ...] = ()


def state_now(board: Board, story: Story | None) -> State:
    """The state of the board after the last line. Raises StateError while a supply is on, and StoryError."""
    if story is None:
        return HEALTHY
    nets = list(board.net_names())[:2]
    if len(nets) < 2:
        return HEALTHY
    last = ReadingEntry(nets[0], nets[1], "ohms", "OL", parse_shown("OL", "ohms"), 0.0)
    found, problems = moments(replace(story, entries=(*story.entries, last)), board)
    real = tuple(p for p in problems if p.line <= len(story.entries))
    if real:
        raise StoryError(real)
    if problems:
        raise StateError("the board is powered: take the supply off, discharge, verify on volts, and "
                         "record that before the next reading")
    return found[-1].state


def suspects_of(circuit: Circuit, judged: Judgement | None,
                fitted: Mapping[str, int] | None = None) -> tuple[Suspect, ...]:
    """All that may be the case, likeliest first; probabilities add up to 1. `judged` None: nothing read;
    `fitted` says how often each part has been replaced (default: none)."""
    nothing = judged is None or not judged.lines
    found = _by_odds(circuit) if judged is None or nothing else _by_readings(circuit, judged, fitted or {})
    kept = sorted((s for s in found if s.probability >= LEAST or not s.faults),
                  key=lambda s: (-s.probability, s.faults, s.done))[:MOST]
    total = sum(s.probability for s in kept) or 1.0
    return tuple(replace(s, probability=s.probability / total) for s in kept)


def _by_odds(circuit: Circuit) -> list[Suspect]:
    conditions = conditions_of(circuit)
    weights = [max(c.weight, 1e-12) ** TEMPER for c in conditions]
    total = sum(weights) or 1.0
    sound = Suspect((), frozenset(), SOUND, Change())
    return [sound, *(Suspect((c.name,), frozenset({c.part}), (1.0 - SOUND) * w / total, c.change)
                     for c, w in zip(conditions, weights, strict=True))]


def _by_readings(circuit: Circuit, judged: Judgement, fitted: Mapping[str, int]) -> list[Suspect]:
    found = []
    for e in judged.explanations:
        if e.fits and e.probability >= LEAST:
            here = [f for f in e.faults if f.cause.specimen == fitted.get(f.cause.part, 0)]
            gone = [f for f in e.faults if f not in here]
            names, old = (tuple((f.cause.part, f.cause.fault) for f in some) for some in (here, gone))
            parts = frozenset(f.cause.part or f.cause.fault for f in here)
            suspect = Suspect(names, parts, e.probability, Change(), tuple(f.size for f in here), old)
            what = change_on(circuit, suspect)
            if what is not None:
                found.append(replace(suspect, change=what))
    return found


def change_on(circuit: Circuit, suspect: Suspect) -> Change | None:
    """All faults of a suspect on a circuit of the board in any state; a part that is off does nothing. None
    where the board cannot have one of them."""
    pieces: list[Change] = []
    sizes = suspect.sizes or (None,) * len(suspect.faults)
    for (part, fault), size in zip(suspect.faults, sizes, strict=True):
        if not part:
            a, b = fault.split(" ")[1:]
            pieces.append(Change(add=(Resistance(fault, "", a, b, float(size or 0.1)),)))
        elif part not in circuit.state.removed:
            one = sized(circuit, part, fault, size)
            if one is None:
                return None
            pieces.append(one)
    return Change(frozenset(n for p in pieces for n in p.remove), tuple(x for p in pieces for x in p.add))


def fitted_in(story: Story | None) -> dict[str, int]:
    """How often each part has been replaced by a new one."""
    return dict(Counter(e.args[0] for e in story.statements if e.word == "fit") if story else {})


def decisions(suspects: Sequence[Suspect]) -> dict[frozenset[str], float]:
    """Probability of each decision: which parts to replace; none: the board is healthy."""
    found: dict[frozenset[str], float] = {}
    for s in suspects:
        found[s.parts] = found.get(s.parts, 0.0) + s.probability
    return found
