"""`incircuit judge`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.advising import Progress
from incircuit.cli.text import columns, listed, paragraph, say, say_json

if TYPE_CHECKING:
    from incircuit.board import Board
    from incircuit.judge.explanation import Explanation
    from incircuit.judge.judge import Judgement, Line
    from incircuit.story import Story

LISTED = 0.01
"""Explanations below this probability are not listed."""


@click.command(epilog="Example: incircuit judge boards/pump-drive/gate-drive.board examples/gate.readings")
@click.argument("board")
@click.argument("readings")
@click.option("--meter", default="", metavar="NAME|FILE",
              help="The meter where the readings name none (default: handheld).")
@click.option("--reference", metavar="READINGS",
              help="Readings of a known-good board of the same batch: they narrow what is healthy.")
@click.option("--why", "sources", is_flag=True, help="Say where the odds of each fault come from.")
@click.option("--json", "as_json", is_flag=True, help="For programs; SI units, schema 1.")
def judge(board: str, readings: str, meter: str, reference: str | None, sources: bool, as_json: bool) -> None:
    """A verdict on every part from all readings of a readings file."""
    from incircuit.board import read_board
    from incircuit.judge.called import fitted
    from incircuit.judge.judge import judge as ask
    from incircuit.story import story_of_file

    read = read_board(board)
    story = story_of_file(readings, read)
    _right_board(read, story)
    good = story_of_file(reference, read) if reference else None
    progress = Progress("weighing every fault")
    found = ask(read, story, meter, good, progress)
    progress.end()
    if as_json:
        say_json(judgement_json(found, fitted(story)))
    else:
        say(judgement_text(found, fitted(story), sources))


def _right_board(board: Board, story: Story) -> None:
    """Raises StoryError with a word ahead of all that is wrong, where most readings are not on this board."""
    from incircuit.errors import Problem, StoryError
    from incircuit.story import moments

    readings = story.readings
    here = len(moments(story, board)[0])
    if len(readings) > 1 and here < len(readings) / 2:
        said = f"{len(readings) - here} of {len(readings)} readings are not on this board"
        hint = "is it the story of another one?"
        raise StoryError((Problem(story.file, 1, 1, said, hint=hint), *story.problems))


def show_verdict(board: Board, story: Story) -> None:
    """The verdict so far, after a line has been recorded."""
    from incircuit.judge.called import fitted
    from incircuit.judge.judge import judge as ask

    progress = Progress("weighing every fault")
    found = ask(board, story, progress=progress)
    progress.end()
    click.echo("")
    say(judgement_text(found, fitted(story), False))


def judgement_json(j: Judgement, new: frozenset[str]) -> dict[str, Any]:
    """A judgement as JSON; `new` are the refs with a new part."""
    from incircuit.judge.ruling import summed
    from incircuit.judge.words import why

    return {
        "verdict": j.ruling.word,
        "parts": [{"part": p.part, "verdict": p.word, "probability_faulty": p.probability,
                   "unseen": list(p.unseen), "replaced": p.part in new,
                   "fitted": p.fitted and {"verdict": p.fitted.word,
                                           "probability_faulty": p.fitted.probability}}
                  for p in j.ruling.parts],
        "candidates": [_candidate(e) for e in j.explanations if e.fits and (e.faults or e.slips)],
        "healthy": {"probability": summed(e.probability for e in j.explanations if e.fits and not e.faults)},
        "groups": [[{"part": part or None, "fault": fault} for part, fault in g] for g in j.ruling.groups],
        "unlisted": None if j.unlisted is None else {
            "between": list(j.unlisted.between), "ohms": [j.unlisted.low, j.unlisted.high],
            "nominal": j.unlisted.ohms, "marks": list(j.unlisted.marks)},
        "readings": [_reading(line) for line in j.lines],
        "blind_to": [{"part": part, "fault": fault} for part, fault in j.silent],
        "reference": [{"reading": b.number, "shown": b.shown, "differs": b.differs} for b in j.beside],
        "meter": j.meter,
        "why": why(j),
    }


def _candidate(e: Explanation) -> dict[str, Any]:
    return {
        "faults": [{"part": f.cause.part or None, "fault": f.cause.fault, "magnitude": f.size,
                    "new": f.cause.specimen > 0,
                    "between": list(f.cause.between) if not f.cause.part else None} for f in e.faults],
        "slips": [{"reading": s.number, "kind": s.kind, "detail": s.detail} for s in e.slips],
        "probability": e.probability, "fits": e.fits, "blind": e.silent,
    }


def _reading(line: Line) -> dict[str, Any]:
    r = line.moment.reading
    return {
        "red": r.red, "black": r.black, "mode": r.mode, "shown": r.shown, "value": r.typed.value,
        "healthy": {"low": line.healthy.low, "high": line.healthy.high, "overload": line.healthy.overload},
        "in_band": line.in_band, "fits": line.fits, "mark": line.mark,
        "carried_by": [{"part": part, "share": share} for part, share in line.carried_by],
    }


def judgement_text(j: Judgement, new: frozenset[str], sources: bool) -> str:
    """A judgement on one screen: verdict first. `new` are the refs with a new part."""
    from incircuit.judge.called import called, failed_words, good_words
    from incircuit.judge.words import explanation_words, why
    from incircuit.predict.sentences import percent

    verdict = f"{j.ruling.word.upper()} {failed_words(j, new)}".strip()
    lines = [paragraph(verdict), paragraph(why(j), "  "), ""]
    if j.lines:
        lines.append(columns(("", "red", "black", "mode", "you read", "healthy boards", "", "carried by"),
                             [_row(n, line) for n, line in enumerate(j.lines, start=1)]))
    if j.beside:
        lines += ["", paragraph(good_words(j), "", "  ")]
    shown = [e for e in j.explanations if e.fits and e.probability >= LISTED and not e.silent][:8]
    if shown:
        rows = [(percent(e.probability), explanation_words(e)) for e in shown]
        unseen = sum(e.probability for e in j.explanations if e.fits and e.silent)
        if unseen >= LISTED:
            rows.append((percent(unseen), "faults that no reading so far can see"))
        lines += ["", columns(("odds", "explains all readings"), rows)]
    for word in ("failed", "healthy", "explained"):
        refs = called(j, word, new)
        if refs:
            lines += ["", paragraph(f"{word}: {listed(refs, 24)}", after="  ")]
    open_ones = [p for p in j.ruling.parts if p.word == "undecided"]
    if open_ones:
        names = [f"{p.part} ({', '.join(p.unseen)})" if p.unseen else p.part for p in open_ones]
        lines += ["", paragraph(f"not decided: {listed(names, 12)}", after="  ")]
    if sources:
        lines += ["", "Where the odds come from:"]
        lines += [paragraph(line, "  ", "    ") for line in _sources(shown)]
    return "\n".join(lines)


def _row(number: int, line: Line) -> tuple[str, ...]:
    r = line.moment.reading
    carriers = [part for part, share in line.carried_by if share >= 0.1]
    dark = line.healthy.low is None  # what leaks on a meter that reads OL is nobody's current
    return (str(number), r.red, r.black, r.mode, r.shown, _span(line), line.mark,
            "nothing" if dark or not carriers else listed(carriers, 3))


def _span(line: Line) -> str:
    from incircuit.meter.typed import DENIED, UNIT_OF_MODE
    from incircuit.units import format_value

    word, mode = line.moment.reading.typed.word, line.moment.reading.mode
    if word:
        sure, never = line.healthy.low is None, line.healthy.high is not None
        return word if sure else DENIED[word] if never else f"{word} or not"
    unit = UNIT_OF_MODE[mode]
    low, high = (None if x is None else f"{x:.3f} V" if mode == "diode" else format_value(x, unit)
                 for x in (line.healthy.low, line.healthy.high))
    if low is None:
        return "OL"
    number, _, scale = low.rpartition(" ")
    return f"{number if high and high.endswith(f' {scale}') else low} to {high or 'OL'}"


def _sources(shown: list[Explanation]) -> list[str]:
    found = dict.fromkeys(
        f"{f.cause.part or 'bridge'} {f.cause.fault}: weight {f.cause.rate:.3g}, {f.cause.source}"
        for e in shown for f in e.faults
    )
    return list(found) or ["no fault is in question"]
