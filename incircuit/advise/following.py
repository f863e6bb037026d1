"""The next act: the reading that is expected to tell most for its cost, or the lead to lift.

What a reading is worth is how much it is expected to lower the entropy of the decision, which parts to
replace (de Kleer and Williams, Artificial Intelligence 32 (1987) 97), over what it costs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.advise.acts import cheapest_act
from incircuit.advise.charging import charging_outcomes, joined
from incircuit.advise.costs import Costs
from incircuit.advise.lifts import Lift
from incircuit.advise.meanings import Outcome, outcomes_at
from incircuit.advise.outcomes import Outcomes, Probe, Progress, outcomes_of
from incircuit.advise.pairs import pads_now
from incircuit.advise.suspects import Suspect, decisions, fitted_in, state_now, suspects_of
from incircuit.advise.worksheet import seconds
from incircuit.board.model import Board
from incircuit.board.pads import resolve_pad
from incircuit.board.state import pad_node
from incircuit.circuit.build import Circuit, build
from incircuit.judge.judge import Judgement, judge
from incircuit.meter.profile import Meter
from incircuit.paths.regions import land_of
from incircuit.predict.variants import NO_CHANGE
from incircuit.story import ReadingEntry, StateEntry, Story

SHOWN = 5
"""Acts listed."""
SAME = 0.3
"""Two readings are one idea where what they tell each beyond the other is less than this part of it all."""
WORTH = 0.02
"""A reading that is expected to tell less than this [bit] tells nothing."""
PAIRS = 45
"""Pairs of pads looked at: on larger boards those of the likeliest suspects."""
RIVALS = 3
"""Pairs of rivals for which an act by hand is looked for."""
SURE = 0.9
"""Probability at which a part is replaced …"""
SOUND_SURE = 0.97
"""… and at which a board is left as healthy: a missed fault costs more than a reading."""


@dataclass(frozen=True, slots=True)
class Act:
    """A reading with what it is worth [bit], its cost [s] and what each outcome would mean. The conditions of
    an outcome are numbers of suspects. `also` are others that tell the same things apart, best first."""

    probe: Probe
    bits: float
    seconds: float
    outcomes: tuple[Outcome, ...]
    also: tuple[Probe, ...] = ()


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next. `stop`: the verdict is reached, `replace` (empty: nothing) and read `again`;
    `look` for a bridge before; `done` are parts that had failed and are replaced already.

    `acts` best first; `lift` where no reading in place separates `between`. `complete` is False where it was
    stopped early: then other readings may be better, and nothing is said of leads.
    """

    suspects: tuple[Suspect, ...]
    acts: tuple[Act, ...]
    lift: Lift | None
    between: tuple[Suspect, ...]
    stop: bool
    replace: frozenset[str]
    again: tuple[Probe, ...]
    look: tuple[str, ...] = ()
    done: frozenset[str] = frozenset()
    complete: bool = True


def entropy(weights: Sequence[float]) -> float:
    """Entropy [bit] of weights that need not add up to 1.

    >>> entropy([1.0, 1.0]), entropy([3.0])
    (1.0, 0.0)
    """
    total = sum(weights)
    parts = [w / total for w in weights if w > 0.0] if total > 0.0 else []
    return abs(-sum(p * math.log2(p) for p in parts))


def worth(suspects: Sequence[Suspect], outcomes: Sequence[Outcome]) -> float:
    """Expected loss of entropy of the decision [bit]; an outcome's conditions are numbers of suspects."""
    before = entropy(list(decisions(suspects).values()))
    after = 0.0
    for o in outcomes:
        some = [suspects[k] for k in o.conditions]
        after += sum(s.probability for s in some) * entropy(list(decisions(some).values()))
    return before - after


def advise(board: Board, story: Story | None, meter: Meter, costs: Costs, meter_name: str = "",
           progress: Progress | None = None) -> Advice:
    """The next act after a story, or with none the first. Raises StoryError, StateError, MeterError."""
    circuit = build(board, state_now(board, story))
    judged = judge(board, story, meter_name) if story is not None and story.readings else None
    suspects = suspects_of(circuit, judged, fitted_in(story))
    verdict = reached(judged, suspects) if judged is not None else None
    if judged is not None and verdict is not None:
        return Advice(suspects, (), None, (), True, verdict.replace, _off(judged), verdict.look, verdict.done)
    if judged is not None and not suspects:  # nothing listed explains what was read
        return Advice((), (), None, (), True, frozenset(), _off(judged))
    conditions = [NO_CHANGE, *(s.change for s in suspects)]
    outcomes = outcomes_of(circuit, conditions, meter, _pairs(circuit, suspects), progress=progress)
    if judged is not None and outcomes.complete:
        outcomes = joined(outcomes, charging_outcomes(circuit, conditions[1:],
                                                      [s.probability for s in suspects], meter))
    acts = _ranked(outcomes, suspects, _taken(story, circuit), _last(story), costs)
    useful = ideas([a for a in acts if a.bits >= WORTH], [s.probability for s in suspects])[:SHOWN]
    if not outcomes.complete:
        return Advice(suspects, useful, None, (), False, frozenset(), (), complete=False)
    lift, between = None, _rivals(outcomes, suspects)[:1]
    if between and (not useful or _separates_nothing(useful, suspects, between[0])):
        lift, between = _by_hand(circuit, meter, costs, suspects, _rivals(outcomes, suspects))
    stop = not useful and lift is None
    if stop and judged is not None and (seen := _by_eye(suspects)):
        return Advice(suspects, (), None, (), True, seen.replace, _off(judged), seen.look)
    rivals = tuple(suspects[k] for pair in between for k in pair)
    return Advice(suspects, useful, lift, rivals, stop, frozenset(), ())


@dataclass(frozen=True, slots=True)
class Verdict:
    """Parts to replace (none: the board is healthy now), solder bridges that would read alike, which are
    looked for, not measured, and parts that had failed and are replaced already."""

    replace: frozenset[str]
    look: tuple[str, ...] = ()
    done: frozenset[str] = frozenset()


def reached(judged: Judgement, suspects: Sequence[Suspect]) -> Verdict | None:
    """The verdict, where it stands: one decision that has no rival but bridges that can be seen, or a board
    as good as certainly healthy."""
    odds = decisions(suspects)
    nothing = odds.get(frozenset(), 0.0)
    done = frozenset(part for s in suspects if not s.faults and s.probability >= 1.0 - SURE
                     for part, _ in s.done)
    if judged.ruling.word == "healthy" and nothing >= SOUND_SURE:
        return Verdict(frozenset())
    if judged.ruling.word != "failed" or judged.ruling.lead is None:
        return None
    if done and nothing >= SURE:
        return Verdict(frozenset(), done=done)
    seen = _bridges(judged, suspects)
    by_eye = sum(odds.get(frozenset({name}), 0.0) for name in seen)
    names = frozenset(seen)
    parts = {d: p for d, p in odds.items() if d and not d & names}
    best = max(parts, key=lambda d: (parts[d], sorted(d)), default=frozenset[str]())
    if best and parts[best] + by_eye >= SURE and parts[best] >= 0.1 * by_eye:
        return Verdict(best, seen)
    lead = max(odds, key=lambda d: (odds[d], sorted(d)), default=frozenset[str]())
    return Verdict(lead) if lead and odds[lead] >= SURE else None


def _by_eye(suspects: Sequence[Suspect]) -> Verdict | None:
    """The verdict where nothing to read is left: the likeliest parts, if all but a few of their rivals are
    solder bridges in place of some of them, which are looked for."""
    odds = decisions(suspects)
    bridges = frozenset(fault for s in suspects for part, fault in s.faults if not part)
    best = max((d for d in odds if d and not d & bridges), key=lambda d: (odds[d], sorted(d)), default=None)
    if best is None:
        return None
    seen = {d: p for d, p in odds.items() if d & bridges and d - bridges < best}
    if odds[best] + sum(seen.values()) < SURE or odds[best] < 0.1 * sum(seen.values()):
        return None
    likely = [s for s in suspects if s.parts in seen and s.probability >= 1.0 - SURE]
    return Verdict(best, tuple(dict.fromkeys(f for s in likely for part, f in s.faults if not part)))


def _bridges(judged: Judgement, suspects: Sequence[Suspect]) -> tuple[str, ...]:
    """Solder bridges that read like a part's fault that is suspected."""
    likely = {name for s in suspects if s.probability >= 1.0 - SURE for name in s.faults}
    found = [fault for group in judged.ruling.groups if likely & set(group) and any(part for part, _ in group)
             for part, fault in group if not part]
    return tuple(dict.fromkeys(found))


def _off(judged: Judgement) -> tuple[Probe, ...]:
    """The readings that were off, to be taken again after the repair."""
    found = [Probe(n.moment.reading.red, n.moment.reading.black, n.moment.reading.mode)
             for n in judged.lines if not n.in_band]
    return tuple(dict.fromkeys(found))[:3]


def _pairs(circuit: Circuit, suspects: Sequence[Suspect]) -> tuple[tuple[str, str], ...]:
    """Pairs of pads, those at the likeliest suspects first, `PAIRS` at most."""
    board = circuit.board
    pads = pads_now(circuit)
    weight = dict.fromkeys(sorted(pads), 0.0)
    pair_weight: dict[tuple[str, str], float] = {}
    for s in suspects:
        for ref in s.parts:
            nets = sorted(_nodes(circuit, ref) & pads) if _is_part(board, ref) else []
            for k, a in enumerate(nets):
                weight[a] += s.probability / len(nets)
                for b in nets[k + 1:]:
                    pair_weight[a, b] = pair_weight.get((a, b), 0.0) + s.probability
    names = sorted(pads)
    every = [(a, b) for k, a in enumerate(names) for b in names[k + 1:]]
    every.sort(key=lambda p: (-pair_weight.get(p, 0.0), -min(weight[p[0]], weight[p[1]]), p))
    return tuple(every[:PAIRS])


def _nodes(circuit: Circuit, ref: str) -> set[str]:
    """The nodes of a part, lifted pins off their nets."""
    return {pad_node(ref, pin) if (ref, pin) in circuit.state.lifted else net
            for pin, net in circuit.board.part(ref).pins}


def _is_part(board: Board, ref: str) -> bool:
    return any(p.ref == ref for p in board.parts)


def _ranked(outcomes: Outcomes, suspects: Sequence[Suspect], taken: frozenset[Probe], last: Probe | None,
            costs: Costs) -> list[Act]:
    acts = []
    for k, probe in enumerate(outcomes.probes):
        if probe in taken:
            continue
        found = tuple(Outcome(o.low, o.high, tuple(c - 1 for c in o.conditions))
                      for o in outcomes_at(outcomes, k, range(1, len(suspects) + 1)))
        acts.append(Act(probe, worth(suspects, found), seconds(costs, last, probe), found))
    return sorted(acts, key=lambda a: (-a.bits / a.seconds, a.probe.red, a.probe.black, a.probe.mode))


def ideas(acts: Sequence[Act], odds: Sequence[float]) -> tuple[Act, ...]:
    """The best of all acts that tell the same suspects apart, the others named in its `also`."""
    found: list[Act] = []
    for act in acts:
        k = next((k for k, kept in enumerate(found) if _alike(kept, act, odds)), None)
        if k is None:
            found.append(act)
        else:
            found[k] = replace(found[k], also=(*found[k].also, act.probe))
    return tuple(found)


def _alike(one: Act, other: Act, odds: Sequence[float]) -> bool:
    """Whether two readings are one idea, by their variation of information, 2·H(both) − H(one) − H(other)
    (M. Meila, J. Multivariate Anal. 98 (2007) 873, from memory)."""
    parts = [[set(o.conditions) for o in act.outcomes] for act in (one, other)]
    both = [a & b for a in parts[0] for b in parts[1]]
    joint, *each = (entropy([sum(odds[k] for k in part) for part in some]) for some in (both, *parts))
    return 2.0 * joint - sum(each) <= SAME * joint


def _taken(story: Story | None, circuit: Circuit) -> frozenset[Probe]:
    """Readings since the board was last changed: taking them again tells nothing."""
    found: list[Probe] = []
    for entry in story.entries if story else ():
        if isinstance(entry, StateEntry) and entry.word != "meter":
            found = []
        elif isinstance(entry, ReadingEntry):
            found.append(Probe(_net(circuit, entry.red), _net(circuit, entry.black), entry.mode))
    return frozenset(found)


def _net(circuit: Circuit, pad: str) -> str:
    return resolve_pad(circuit.board, circuit.state, pad)


def _last(story: Story | None) -> Probe | None:
    readings = story.readings if story else ()
    return Probe(readings[-1].red, readings[-1].black, readings[-1].mode) if readings else None


def _rivals(outcomes: Outcomes, suspects: Sequence[Suspect]) -> list[tuple[int, int]]:
    """The likeliest faulty parts, where a fault leads, with each of the likeliest other decisions that no
    reading in place tells from them. Bridges are left to the eye."""
    if not suspects or not suspects[0].faults:
        return []  # no lead is lifted on a board that reads healthy; the survey says what would be seen
    parts = [k for k, s in enumerate(suspects) if all(part for part, _ in s.faults)]
    lead = next((k for k in parts if suspects[k].faults), None)
    if lead is None:
        return []
    found = []
    for k in parts:
        s = suspects[k]
        likely = s.probability >= 0.1 * suspects[lead].probability
        rival = s.parts != suspects[lead].parts and (s.faults or suspects[lead].probability >= 0.25)
        if likely and rival and not any(outcomes.told(p, lead + 1, k + 1)
                                        for p in range(len(outcomes.probes))):
            found.append((lead, k))
    return found


def _separates_nothing(acts: Sequence[Act], suspects: Sequence[Suspect], rivals: Sequence[int]) -> bool:
    """Whether the two rivals hold nearly all the probability that is left."""
    return sum(suspects[k].probability for k in rivals) >= SURE and acts[0].bits < 5 * WORTH


def _by_hand(circuit: Circuit, meter: Meter, costs: Costs, suspects: Sequence[Suspect],
             rivals: Sequence[tuple[int, int]]) -> tuple[Lift | None, list[tuple[int, int]]]:
    """The cheapest act for the first two rivals that any act tells apart, and those two."""
    land = land_of(circuit.elements)
    for one, other in rivals[:RIVALS]:
        lift = cheapest_act(circuit, land, meter, costs, suspects[one], suspects[other])
        if lift is not None:
            return lift, [(one, other)]
    return None, list(rivals[:1])
