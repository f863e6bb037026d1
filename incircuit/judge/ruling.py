"""What the explanations mean: one verdict for the board and one for every part, no more than was shown."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from incircuit.compare.twins import twin_keys
from incircuit.judge.alike import alike_in_place, where
from incircuit.judge.causes import Cause
from incircuit.judge.evidence import LEAK_MISS
from incircuit.judge.explanation import Explanation
from incircuit.judge.memory import Notes
from incircuit.judge.scenes import Scene
from incircuit.judge.search import Weighed
from incircuit.judge.stage import changes_at
from incircuit.parts.elements import Change

FAR_AHEAD = 0.9
"""Probability a fault, or the group it cannot be told from, needs before it is called failed."""
CLEARED = 0.02
"""A part is healthy only below this probability of any fault, as a part of that of what is likeliest: of
forty places in which the same leak may be, none is likely …"""
REFUTED = 6.0
"""… and where each of its opens and shorts lies this far behind (natural log units)."""
DOUBTED = 0.15
"""Above this a part is not said to be explained."""
REFUTED_ALONE = 10.0
"""… and by this behind the leading explanation, where it explains the readings alone."""
HARD = ("open", "short")
RIVAL, RIVALS = 0.02, 10
"""Explanations at least so probable, and so many, are looked at whether any reading tells them apart."""

Name = tuple[str, str]
"""Part and fault."""
Group = tuple[Name, ...]


@dataclass(frozen=True, slots=True)
class PartRuling:
    """Verdict on one part: `word`, how probably it is faulty, its opens and shorts nothing spoke against.

    Of a part replaced on the way it is the old one, which was on the board; `fitted` is the new one.
    """

    part: str
    word: str
    probability: float
    unseen: tuple[str, ...]
    fitted: PartRuling | None = None


@dataclass(frozen=True, slots=True)
class Ruling:
    """Verdict on the story. `groups` are faults no reading in place can tell apart, as (part, fault)."""

    word: str
    lead: Explanation | None
    groups: tuple[Group, ...]
    parts: tuple[PartRuling, ...]


def rule(scenes: Sequence[Scene], causes: Sequence[Cause], found: Sequence[Explanation],
         context: Sequence[Weighed], alone: Sequence[Weighed], odd: frozenset[str],
         in_band: bool, unsure: frozenset[str], notes: Notes) -> Ruling:
    """The ruling. `found` are all explanations, most probable first; `context` weighs opens and shorts
    beside the leading one, `alone` every cause by itself; `odd` are parts that read otherwise in place
    than alone; `in_band` where no reading is outside its healthy band; `unsure` parts carry the current of
    readings that are, and that the leading explanation does not bring nearer.
    """
    fitting = [e for e in found if e.fits]
    lead = fitting[0] if fitting else None
    groups = _unrefuted(groups_of(scenes, causes, fitting, notes), lead, found)
    word = _word(lead, fitting, groups, in_band)
    spared = lead is not None and bool(lead.faults) and (
        _leakage_may(alone, lead, groups) or (in_band and _sound_may(fitting)))
    if word == "failed" and (spared or (lead and all(_spared_beside(part, lead, fitting)
                                                     for part, _ in names(lead)))):
        word = "undecided"
    open_ones = _not_refuted(context, context[0].fit.log_likelihood - REFUTED)
    best = lead.fit.log_likelihood if lead else math.inf
    open_ones |= _not_refuted([w for w in alone if w.fit.fits], best - REFUTED_ALONE)
    open_ones |= _not_refuted([w for w in alone if w.silent], -math.inf)
    new = {c.part: c.who for c in causes if c.specimen}
    likeliest = max(lead.probability, _healthy(fitting)) if lead else 1.0

    def ruled(who: str) -> PartRuling:
        return _part(who, word, lead, fitting, open_ones, groups, odd, unsure, spared, CLEARED * likeliest)

    parts = tuple(replace(ruled(ref), fitted=ruled(new[ref]) if ref in new else None)
                  for ref in dict.fromkeys(c.part for c in causes if c.part))
    failed = {p.part for p in parts if p.word == "failed"}
    failed |= {new[p.part] for p in parts if p.fitted and p.fitted.word == "failed"}
    if failed:  # what one part alone has done is sure, whatever else there may be
        word = "failed"
        lead = next(e for e in fitting if not e.slips and failed & {part for part, _ in names(e)})
    return Ruling(word, lead, groups, parts)


def summed(probabilities: Iterable[float]) -> float:
    """Probability of one or another of what excludes each other; rounding takes it no higher than 1.

    >>> summed([0.5, 0.25]), summed([0.7, 0.3000000000000002])
    (0.75, 1.0)
    """
    return min(1.0, math.fsum(probabilities))


def _word(lead: Explanation | None, fitting: Sequence[Explanation],
          groups: Sequence[Group], in_band: bool) -> str:
    if lead is None:
        return "unlisted"
    if not lead.faults and lead.slips:
        return "undecided"
    if not lead.faults or lead.silent:
        return "healthy" if in_band and _healthy(fitting) >= 0.5 else "undecided"
    return "failed" if _together(lead, fitting, groups) >= FAR_AHEAD and not lead.slips else "undecided"


def _healthy(fitting: Sequence[Explanation]) -> float:
    """Probability that nothing, or nothing that the readings see, has failed."""
    return summed(e.probability for e in fitting if not e.faults or e.silent)


def _leakage_may(alone: Sequence[Weighed], lead: Explanation, groups: Sequence[Group]) -> bool:
    """Whether an open or a short elsewhere explains all, if leakage reads as it hardly ever does.

    How often it does is known to an order of magnitude only: that refutes nothing. A part that is named with
    the lead's is not elsewhere.
    """
    least, mine = lead.fit.log_likelihood - REFUTED_ALONE, set(names(lead))
    named = {who for who, _ in mine} | {who for g in groups if mine & set(g) for who, _ in g}
    return any(LEAK_MISS in w.fit.misses and w.fit.fits and w.fit.log_likelihood > least and
               w.cause.who not in named - {""}
               for w in alone if w.cause and w.cause.defect.word in HARD)


def _sound_may(fitting: Sequence[Explanation]) -> bool:
    """Whether a sound board explains all. With every reading in its healthy band that condemns nobody: how
    readings of sound boards vary together is known less well than how each does."""
    return any(not e.faults and not e.slips for e in fitting)


def names(e: Explanation) -> tuple[tuple[str, str], ...]:
    """(part, fault) of an explanation's faults."""
    return tuple((f.cause.who, f.cause.fault) for f in e.faults)


def _together(lead: Explanation, fitting: Sequence[Explanation],
              groups: Sequence[Group]) -> float:
    """Probability of the lead and of whatever differs from it only within groups or on the same part, with
    another fault beside it or without."""
    mine = names(lead)
    alike = [e for e in fitting if len(e.faults) >= len(mine) and _same_parts(names(e), mine, groups)]
    return _least(alike)


def _stands_for(a: Name, b: Name, groups: Sequence[Group]) -> bool:
    """Whether two faults are one, of one part, or in one group."""
    return a == b or (a[0] == b[0] != "") or any(a in g and b in g for g in groups)


def _least(some: Sequence[Explanation]) -> float:
    """Least probability of some explanations, whether rates count tempered, as they are, or not at all."""
    return min(summed(e.probability for e in some), summed(e.by_rates for e in some),
               summed(e.flat for e in some))


def groups_of(scenes: Sequence[Scene], causes: Sequence[Cause], fitting: Sequence[Explanation],
              notes: Notes) -> tuple[Group, ...]:
    """Sets of faults, each containing one that matters here, that no reading in place can tell apart."""
    found = _by_name(scenes, causes, fitting, notes)
    lead = fitting[0] if fitting else None
    if lead is None or not lead.faults or lead.silent or lead.slips:
        return found
    mine = names(lead)
    rivals = [e for e in fitting[1:] if len(e.faults) == len(mine) and not e.silent and not e.slips
              and max(e.probability, e.by_rates, e.flat) >= RIVAL and not _same_parts(names(e), mine, found)]
    more = _named_apart(mine, alike_in_place(scenes, lead, rivals[:RIVALS], notes), found) if rivals else ()
    return tuple(_merged(found, more))


def _unrefuted(groups: Sequence[Group], lead: Explanation | None,
               found: Sequence[Explanation]) -> tuple[Group, ...]:
    """Groups without what the story has told from the lead: with its part off the board, say.

    Beside the first of two faults every other was weighed, and what did not fit is not among those found;
    in the place of the first not all were tried.
    """
    if lead is None:
        return tuple(groups)
    mine, least = names(lead), lead.fit.log_likelihood - REFUTED_ALONE
    alike = [names(e) for e in found if len(e.faults) == len(mine) and e.fits
             and e.fit.log_likelihood >= least]

    def stays(name: Name) -> bool:
        places = [k for k, m in enumerate(mine) if any(name in g and m in g for g in groups)]
        return not places or name in mine or (len(mine) > 1 and 0 in places) or any(
            name in n and _in_place(name, k, mine, n, groups) for k in places for n in alike)

    kept = (tuple(n for n in g if stays(n)) for g in groups)
    return tuple(g for g in kept if len(g) > 1)


def _in_place(name: Name, k: int, mine: Sequence[Name], others: Sequence[Name],
              groups: Sequence[Group]) -> bool:
    """Whether `others` are the lead's faults with `name` in the place of the one numbered `k`."""
    return all(any(m == n or any(m in g and n in g for g in groups) for n in others if n != name)
               for m in (*mine[:k], *mine[k + 1:]))


def _same_parts(some: Sequence[Name], mine: Sequence[Name], groups: Sequence[Group]) -> bool:
    """Whether an explanation differs from the lead within a part or a group only."""
    return all(any(_stands_for(a, b, groups) for b in some) for a in mine)


def _named_apart(mine: Sequence[Name], others: Sequence[Explanation],
                 groups: Sequence[Group]) -> tuple[Group, ...]:
    """For each fault of the lead, what stands in its place in the others."""
    found = []
    for k, name in enumerate(mine):
        there = [n for e in others for n in names(e) if _in_place(n, k, mine, names(e), groups)]
        if there:
            found.append((name, *dict.fromkeys(n for n in there if n != name)))
    return tuple(found)


def _merged(groups: Sequence[Group], more: Sequence[Group]) -> list[Group]:
    """Groups with more members: a group that shares its first member with one of `more` grows."""
    found = list(groups)
    for extra in more:
        at = next((k for k, g in enumerate(found) if extra[0] in g), None)
        if at is None:
            found.append(extra)
        else:
            found[at] = tuple(dict.fromkeys((*found[at], *extra)))
    return found


def _by_name(scenes: Sequence[Scene], causes: Sequence[Cause],
             fitting: Sequence[Explanation], notes: Notes) -> tuple[Group, ...]:
    """Groups that are one circuit by several names."""
    base = where(scenes, fitting[0] if fitting else None)
    changes: list[Change | None] = []
    for cause in causes:
        size = cause.defect.magnitude.typical if cause.defect.magnitude else None
        found = changes_at(notes, base, base.circuit, cause, (size,))
        changes.append(found[0][0] if found else None)
    keys = twin_keys(base.circuit, changes, tuple({s.red for s in scenes} | {s.black for s in scenes}))
    at = {(c.who, c.fault): k for c, k in zip(causes, keys, strict=True)}
    groups: list[Group] = []
    likely = {n for e in fitting if e.probability >= 0.01 and not e.silent for n in names(e)}
    for e in fitting:
        if e.probability < 0.01 or e.silent:
            continue
        for name in names(e):
            mine = at.get(name, frozenset())
            members = tuple(n for n, k in at.items()
                            if k & mine and (_word_of(n) == _word_of(name) or n in likely))
            if len(members) > 1 and members not in groups:
                groups.append(members)
    return tuple(groups)


def _word_of(name: tuple[str, str]) -> str:
    """Faults are grouped with their like: a bridge is a short by another name."""
    word = name[1].split()[0]
    return {"bridge": "short", "missing": "open"}.get(word, word)


def _part(ref: str, board_word: str, lead: Explanation | None, fitting: Sequence[Explanation],
          open_ones: dict[tuple[str, str], None], groups: Sequence[Group],
          odd: frozenset[str], unsure: frozenset[str], spared: bool, cleared: float) -> PartRuling:
    against = [e for e in fitting if any(part == ref for part, _ in names(e))]
    probability = summed(e.probability for e in against)
    in_lead = lead is not None and any(part == ref for part, _ in names(lead))
    unseen = tuple(fault for part, fault in open_ones if part == ref)
    if board_word == "unlisted":
        return PartRuling(ref, "undecided", probability, unseen)
    spared = spared or _spared_beside(ref, lead, fitting)
    sure = not spared and _least([e for e in against if not e.slips]) >= FAR_AHEAD
    if sure or (in_lead and board_word == "failed" and not spared and not _rivalled(ref, lead, groups)):
        return PartRuling(ref, "failed", probability, unseen)
    if in_lead or _named_beside(ref, lead, groups) or probability > (DOUBTED if unseen else cleared):
        return PartRuling(ref, "undecided", probability, unseen)
    if not unseen and ref not in unsure and probability <= cleared and not (lead and lead.slips):
        return PartRuling(ref, "healthy", probability, ())
    return PartRuling(ref, "explained" if ref in odd else "undecided", probability, unseen)


def _spared_beside(ref: str, lead: Explanation | None, fitting: Sequence[Explanation]) -> bool:
    """Whether the lead's other faults explain all readings without this part's: then how readings vary
    together is all that speaks against it, see `_sound_may`."""
    if lead is None or len(lead.faults) < 2:
        return False
    others = [name for name in names(lead) if name[0] != ref]
    return 0 < len(others) < len(lead.faults) and any(
        e.faults and not e.slips and set(names(e)) <= set(others) for e in fitting)


def _named_beside(ref: str, lead: Explanation | None, groups: Sequence[Group]) -> bool:
    """Whether a part may be what the lead calls another one."""
    mine = set(names(lead)) if lead else set()
    return any(mine & set(g) and any(part == ref for part, _ in g) for g in groups)


def _not_refuted(weighed: Sequence[Weighed], least: float) -> dict[tuple[str, str], None]:
    """Opens and shorts whose likelihood is no less, in order."""
    return {(w.cause.who, w.cause.fault): None for w in weighed
            if w.cause and w.cause.part and w.cause.defect.word in HARD and w.fit.log_likelihood > least}


def _rivalled(ref: str, lead: Explanation | None, groups: Sequence[Group]) -> bool:
    """Whether another part's fault could stand for this part's in the lead."""
    mine = [n for n in names(lead) if n[0] == ref] if lead else []
    return any(n in g and any(part not in (ref, "") for part, _ in g) for n in mine for g in groups)
