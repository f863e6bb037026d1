"""A judgement in plain sentences."""

from __future__ import annotations

from incircuit.compare.why import fault_words, listed
from incircuit.judge.explanation import Explanation, Failed
from incircuit.judge.judge import Judgement
from incircuit.judge.slips import Slip
from incircuit.units import DAY, duration, format_value

_SLIPS = {
    "no contact": "no contact at a pad (coating, flux)",
    "leads swapped": "taken with the leads the other way round",
    "wrong pad": "taken with a probe on another pad",
    "charge left": "falsified by a charge left on a capacitor: discharge and read again",
    "still moving": "taken while a capacitor was still charging: wait until it stands and read again",
}


def cause_words(fault: Failed) -> str:
    """A fault as said at a bench, with its size where that is known."""
    cause = fault.cause
    if cause.part:
        who = f"the new {cause.part}" if cause.specimen else cause.part
        return fault_words(who, cause.fault, fault.size, fault.band)
    a, b = cause.between
    size = f" (about {format_value(fault.size, 'Ω', 2)})" if fault.size else ""
    return f"a bridge between {a} and {b}{size}"


def slip_words(slip: Slip) -> str:
    """A slip, with the number of the reading counted from 1."""
    detail = f" ({slip.detail})" if slip.detail else ""
    return f"reading {slip.number + 1} {_SLIPS[slip.kind]}{detail}"


def explanation_words(e: Explanation) -> str:
    """All of an explanation in one phrase."""
    said = " and ".join(cause_words(f) for f in e.faults) or "healthy board"
    slips = e.slips
    if slips[1:] and all(s.kind == "charge left" for s in slips):
        numbers = listed([str(s.number + 1) for s in slips])
        return f"{said} with readings {numbers} {_SLIPS['charge left']} ({slips[0].detail})"
    return " with ".join([said, *(slip_words(s) for s in slips)])


def why(j: Judgement) -> str:
    """One or two sentences for the verdict, and where a display may not have stood still when it was read."""
    return _verdict(j) + _haste(j)


def _haste(j: Judgement) -> str:
    """Readings outside the band over a capacitor that keeps a display moving, taken nobody says when."""
    slow = [(k, line) for k, line in enumerate(j.lines, start=1) if line.stirs and not line.in_band]
    if not slow:
        return ""
    numbers = listed([*(str(k) for k, _ in slow[:3]), *(["more"] if len(slow) > 3 else [])])
    refs = list(dict.fromkeys(ref for _, line in slow for ref in line.stirs[:2]))
    most = max(line.seconds for _, line in slow)
    longest = f"up to {duration(most)}" if most <= DAY else "more than a day"
    one = len(slow) == 1
    counts = f"Reading {numbers} counts" if one else f"Readings {numbers} count"
    charge = f"{listed(refs)} {'charge' if refs[1:] else 'charges'}"
    return (f" {counts} as settled; while {charge} a healthy display moves for {longest}: if "
            f"{'it was' if one else 'they were'} not left to stand, write first or after 5s behind.")


def _verdict(j: Judgement) -> str:
    lead = j.ruling.lead
    count = len(j.lines)
    readings = f"all {count} readings" if count > 1 else "the reading"
    match j.ruling.word:
        case "failed" if lead:
            verb = "explain" if len(lead.faults) > 1 else "explains"
            what = explanation_words(lead)
            if not lead.faults[0].cause.part:  # "a bridge", which begins the sentence
                what = f"A{what[1:]}"
            text = f"{what} {verb} {readings}; a healthy board does not"
            rivals = _rivals(j)
            told = f" No reading in place can tell {rivals} apart from it." if rivals else ""
            return f"{text}.{_sure(j, lead)}{told}{_beside(j)}"
        case "healthy":
            dark = len({part for part, _ in j.silent})
            more = f" No reading so far can see some faults of {dark} parts." if dark else ""
            return f"A healthy board explains {readings}.{more}"
        case "unlisted" if j.unlisted:
            a, b = j.unlisted.between
            return (f"Nothing listed explains {readings}. A path of about "
                    f"{format_value(j.unlisted.ohms, 'Ω')} between {a} and {b} would: "
                    f"look for {', '.join(j.unlisted.marks[:4])}.")
        case "unlisted":
            return f"Nothing listed explains {readings}, nor one path between the pads: check the board file."
        case _ if lead and lead.slips:
            again = "those readings" if lead.slips[1:] else "that reading"
            return f"Most likely: {explanation_words(lead)}. Take {again} again."
        case _ if lead and lead.faults:
            several = " or ".join(explanation_words(e) for e in j.explanations[:3] if e.fits)
            return f"Several explanations fit: {several}."
        case _:
            return "No reading has been taken yet." if not count else "The readings so far do not decide."


def _sure(j: Judgement, lead: Explanation) -> str:
    """Of two faults, which part has failed for certain where the other may be another."""
    failed = {p.part for p in j.ruling.parts
              if p.word == "failed" or (p.fitted and p.fitted.word == "failed")}
    named = {n for g in j.ruling.groups for n in g}
    open_ones = [f for f in lead.faults
                 if f.cause.part not in failed and (f.cause.who, f.cause.fault) not in named]
    if len(lead.faults) < 2 or not open_ones or not failed:
        return ""
    return f" Only {' and '.join(sorted(failed))} is sure; {cause_words(open_ones[0])} may be something else."


def _beside(j: Judgement) -> str:
    """Whether there may be a second fault that would not have shown."""
    guilty = {f.cause.part for f in j.ruling.lead.faults} if j.ruling.lead else set()
    dark = sum(1 for p in j.ruling.parts if p.unseen and p.part not in guilty and p.word != "failed")
    if not dark:
        return ""
    return f" A second fault is not excluded: an open or a short of {dark} other parts would not have shown."


def _rivals(j: Judgement) -> str:
    lead = j.ruling.lead
    mine = {(f.cause.who, f.cause.fault) for f in lead.faults} if lead else set()
    others = [n for g in j.ruling.groups if mine & set(g) for n in g if n not in mine]
    return " or ".join(fault_words(part, fault) if part else fault for part, fault in dict.fromkeys(others))
