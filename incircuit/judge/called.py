"""Which parts a judgement calls what, an old part told from a new one; where a good board reads otherwise."""

from __future__ import annotations

from collections.abc import Set

from incircuit.judge.judge import Judgement
from incircuit.story.model import Story


def fitted(story: Story) -> frozenset[str]:
    """Refs with a new part in place: what failed there is the old one."""
    return frozenset(entry.args[0] for entry in story.statements if entry.word == "fit")


def called(j: Judgement, word: str, new: Set[str]) -> list[str]:
    """The parts with a verdict, an old one told from a new one where either could be meant.

    `new` are the refs of `fitted`.
    """
    found = []
    for p in j.ruling.parts:
        if p.word == word:
            found.append(_named(p.part, new) if word == "failed" else p.part)
        if p.fitted and p.fitted.word == word and (word == "failed" or word != p.word):
            found.append(f"the new {p.part}")
    return found


def failed_words(j: Judgement, new: Set[str]) -> str:
    """What failed; where no part alone can be called so, everything it may be: ``Q1 or bridge RTN SW``."""
    failed = called(j, "failed", new)
    lead = j.ruling.lead
    if failed or j.ruling.word != "failed" or lead is None:
        return ", ".join(failed)
    mine = [(f.cause.who, f.cause.fault) for f in lead.faults]
    rivals = [name for group in j.ruling.groups if set(mine) & set(group) for name in group]
    names = (_named(part, new) if part else fault for part, fault in (*mine, *rivals))
    return " or ".join(dict.fromkeys(names))


def _named(ref: str, new: Set[str]) -> str:
    return f"{ref} (the old one, replaced since)" if ref in new else ref


def good_words(j: Judgement, most: int = 12) -> str:
    """Where the known-good board reads otherwise; empty where nothing was read on both alike."""
    if not j.beside:
        return ""
    off = [f"reading {b.number + 1} (good board {b.shown})" for b in j.beside if b.differs]
    if not off:
        return ("known-good board: the same within the meter's accuracy in all "
                f"{len(j.beside)} readings taken on both")
    more = f" and {len(off) - most} more" if len(off) > most else ""
    return f"known-good board: beyond the meter's accuracy it differs in {', '.join(off[:most])}{more}"
