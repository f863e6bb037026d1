"""What the verdict on the board and those on its parts must never say against each other."""

from __future__ import annotations

from incircuit.judge.judge import Judgement
from incircuit.judge.ruling import names


def contradictions(found: Judgement) -> list[str]:
    """Every pair of statements of a judgement that cannot both be so."""
    ruling, said = found.ruling, []
    each = [(p.part, p) for p in ruling.parts] + [(f"{p.part} (new)", p.fitted)
                                                  for p in ruling.parts if p.fitted]
    failed = {who for who, p in each if p.word == "failed"}
    healthy = {who for who, p in each if p.word == "healthy"}
    lead = set(names(ruling.lead)) if ruling.lead else set()
    named = lead | {n for g in ruling.groups if lead & set(g) for n in g}
    if failed and ruling.word != "failed":
        said.append(f"board {ruling.word}, {sorted(failed)} failed")
    if ruling.word == "failed" and not failed and len({who for who, _ in named}) < 2 and "" not in {
            who for who, _ in named}:
        said.append(f"board failed, nobody named: {sorted(named)}")
    if failed and not failed & {who for who, _ in lead}:
        said.append(f"{sorted(failed)} failed, the lead is {sorted(lead)}")
    said += [f"{who} healthy and {fault} named" for who, fault in sorted(named) if who in healthy]
    said += [f"{who} healthy, {p.probability:.2f} faulty" for who, p in each
             if p.word == "healthy" and p.probability > 0.02]
    bridged = {who for g in ruling.groups if any(not part for part, _ in g) for who, _ in g}
    # a bridge is a short by another name
    said += [f"{who} failed, {p.probability:.2f} faulty" for who, p in each
             if p.word == "failed" and p.probability < (0.1 if who in bridged else 0.85)]
    said += [f"{who} {p.probability!r} faulty" for who, p in each if not 0.0 <= p.probability <= 1.0]
    if ruling.word == "unlisted" and (failed or healthy or ruling.lead):
        said.append("nothing fits, and parts are judged")
    if ruling.word in ("failed", "healthy") and any(line.mark == "off, open" for line in found.lines):
        said.append(f"board {ruling.word}, a reading open")
    if ruling.word == "healthy" and any(not line.in_band for line in found.lines):
        said.append("board healthy, readings outside the healthy band")
    return said
