"""The job record: what came in, was read, was concluded and why, what was replaced, what is open."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import TYPE_CHECKING, Any

from incircuit.draw.svg import printable
from incircuit.report.cautions import CAUTION, stored_energy
from incircuit.report.drawings import drawings_of
from incircuit.report.page import page
from incircuit.report.words import listed, span

if TYPE_CHECKING:
    from incircuit.judge.judge import Judgement, Line
    from incircuit.meter.profile import Meter
    from incircuit.story.model import ReadingEntry, StateEntry, Story

LISTED = 0.01
MOST_ODDS = 8
UNITS = {"farads": "F", "esr": "Ω", "volts": "V"}
"""Of modes that do not read a resting board with the meter's own current."""

MEANINGS = {
    "off, explained": "off: explained by the conclusion",
    "at the edge": "at the edge of what healthy boards read",
    "off, open": "off: not explained",
}
"""What the marks of readings say on paper, where more than the mark."""

ACTS = {
    "lift": "{0} lifted",
    "resolder": "{0} soldered back",
    "remove": "{0} taken off",
    "fit": "{0}: new part fitted",
    "short": "wire laid from {0} to {1}",
    "unshort": "wire from {0} to {1} taken off",
    "charge": "{0} charged to {1} V",
    "discharge": "{0} discharged",
    "power": "supply on {0} and {1}: {2} V",
    "hot": "{0} at {1} °C",
    "ambient": "board at {0} °C",
    "meter": "meter: {0}",
}
"""What a statement of a readings file says on paper."""


def job_page(judgement: Judgement, story: Story, meter: Meter, fields: Mapping[str, str],
             came_in: str = "") -> str:
    """The job record as one HTML file. `fields` go on top, by name: customer, device …"""
    board = judgement.board
    lines = _lines(judgement, story, meter)
    failed = [p.part for p in judgement.ruling.parts if p.word == "failed"]
    fitted = dict.fromkeys(e.args[0] for e in story.statements if e.word == "fit")
    marks = {ref: "failed, replaced" if ref in fitted else "failed" for ref in failed}
    marks |= {ref: "replaced" for ref in fitted if ref not in marks}
    touched = [*marks, *(part for line in judgement.lines for part, share in line.carried_by if share >= 0.1)]
    key = "Framed: " + ", ".join(f"{ref} {word}" for ref, word in marks.items()) if marks else ""
    stamps = [*(r.stamp for r in story.readings if r.stamp), *(s.stamp for s in story.statements if s.stamp)]
    return page(
        "job.html", title=printable(board.title or "board"),
        fields=[(name, printable(value)) for name, value in fields.items() if value], when=_when(stamps),
        came_in=printable(came_in) or _came_in(judgement), verdict=_verdict(judgement, fitted.keys()),
        why=printable(_why(judgement)), odds=_odds(judgement), lines=lines, timed=bool(stamps),
        replaced=[printable(said) for said in _replaced(story)], checks=_checks(judgement, lines, fitted),
        open_points=[printable(said) for said in _open_points(judgement, story)], caution=CAUTION,
        more_cautions=stored_energy(board), meter=_meter(meter),
        drawings=drawings_of(board, None, marks=marks, only=touched or None, key=key))


def _when(stamps: list[str]) -> str:
    if not stamps:
        return ""
    first, last = min(stamps), max(stamps)
    return printable(f"Read {first}." if first == last else f"Read from {first} to {last}.")


def _came_in(judgement: Judgement) -> str:
    board = judgement.board
    worked = " The board file says it has been worked on before." if "worked-on" in board.flags else ""
    return f"{len(board.parts)} parts described, {len(judgement.lines)} readings taken.{worked}"


def _why(judgement: Judgement) -> str:
    from incircuit.judge.words import why

    return why(judgement)


def _verdict(judgement: Judgement, fitted: Set[str]) -> str:
    from incircuit.judge.called import failed_words

    named = failed_words(judgement, fitted)
    return printable(f"{judgement.ruling.word.upper()}{': ' + named if named else ''}")


def _odds(judgement: Judgement) -> list[tuple[str, str]]:
    from incircuit.judge.words import explanation_words
    from incircuit.predict.sentences import percent

    shown = [e for e in judgement.explanations if e.fits and e.probability >= LISTED and not e.silent]
    return [(percent(e.probability), printable(explanation_words(e))) for e in shown[:MOST_ODDS]]


def _lines(judgement: Judgement, story: Story, meter: Meter) -> list[dict[str, Any]]:
    """Readings and acts in the order of the story."""
    from incircuit.story.model import ReadingEntry, StateEntry

    judged = {id(line.moment.reading): line for line in judgement.lines}
    rows: list[dict[str, Any]] = []
    number = 0
    for entry in story.entries:
        if isinstance(entry, StateEntry):
            rows.append(_act(entry))
        elif isinstance(entry, ReadingEntry):
            number += 1
            rows.append(_reading(number, entry, judged.get(id(entry)), meter))
    return rows


def _act(entry: StateEntry) -> dict[str, Any]:
    args = [*entry.args, "", "", ""]
    said = ACTS.get(entry.word, entry.word + " {0} {1} {2}").format(*args)
    said += f": {entry.remark}" if entry.remark else ""
    return {"act": printable(said.strip()), "time": printable(entry.stamp)}


def _reading(number: int, r: ReadingEntry, line: Line | None, meter: Meter) -> dict[str, Any]:
    from incircuit.predict.prediction import limits
    from incircuit.units import format_value

    healthy = ""
    if line and r.mode in meter.modes:
        healthy = span(*limits(meter, r.mode, line.healthy))
    elif line and r.mode in UNITS:
        ends = [
            "OL" if x is None else format_value(x, UNITS[r.mode])
            for x in (line.healthy.low, line.healthy.high)
        ]
        healthy = ends[0] if ends[0] == ends[1] else " to ".join(ends)
    meaning = "not judged" if line is None else MEANINGS.get(line.mark, line.mark)
    after = f", {r.when}" if isinstance(r.when, str) and r.when else (
        f", after {r.when:g} s" if isinstance(r.when, float) else "")
    return {
        "act": "",
        "number": number,
        "time": printable(r.stamp),
        "red": printable(r.red),
        "black": printable(r.black),
        "mode": r.mode,
        "shown": printable(r.shown + after),
        "healthy": healthy,
        "meaning": printable(meaning + (f" — {r.remark}" if r.remark else "")),
    }


def _replaced(story: Story) -> list[str]:
    return [f"{e.args[0]}{': ' + e.remark if e.remark else ''}{' (' + e.stamp + ')' if e.stamp else ''}"
            for e in story.statements if e.word == "fit"]


def _checks(judgement: Judgement, rows: list[dict[str, Any]], fitted: Mapping[str, None]) -> list[str]:
    """Readings taken with new parts in place, and whether they are as on a healthy board."""
    if not fitted:
        return []
    found = []
    numbers = {id(line.moment.reading): n for n, line in enumerate(judgement.lines, start=1)}
    for line in judgement.lines:
        if line.moment.fitted and not line.moment.state.removed and not line.moment.state.lifted:
            r = line.moment.reading
            row = next(row for row in rows if row.get("number") == numbers[id(r)])
            word = "as healthy" if line.in_band else "NOT as healthy"
            found.append(
                f"Reading {row['number']}, {row['red']} to {row['black']}, {row['mode']}: {row['shown']}, "
                f"{word} ({row['healthy']})."
            )
    return found


def _open_points(judgement: Judgement, story: Story) -> list[str]:
    """Whatever a careful colleague would ask about."""
    said = [*_left_undone(story)]
    after = [line for line in judgement.lines if line.moment.fitted]
    fitted = {e.args[0] for e in story.statements if e.word == "fit"}
    said += [f"{p.part} failed and no new part is recorded." for p in judgement.ruling.parts
             if p.word == "failed" and p.part not in fitted]
    if fitted and not after:
        said.append(f"No reading was taken after {listed(sorted(fitted))} went in.")
    off = [line for line in judgement.lines if not line.in_band and not line.fits]
    if off:
        said.append(f"{len(off)} readings are not explained by the conclusion.")
    unsure = [f"{p.part} ({', '.join(p.unseen)})" if p.unseen else p.part
              for p in judgement.ruling.parts if p.word == "undecided"]
    if unsure:
        said.append(f"Not decided by these readings: {listed(unsure, 24)}.")
    return said


def _left_undone(story: Story) -> list[str]:
    """Leads lifted, parts taken off and wires laid that nobody put back."""
    lifted: dict[str, None] = {}
    removed: dict[str, None] = {}
    wires: dict[tuple[str, ...], None] = {}
    for e in story.statements:
        what = e.args[0] if e.args else ""
        if e.word == "lift":
            lifted[what] = None
        elif e.word == "remove":
            removed[what] = None
        elif e.word == "short":
            wires[tuple(sorted(e.args[:2]))] = None
        elif e.word == "unshort":
            wires.pop(tuple(sorted(e.args[:2])), None)
        elif e.word in ("fit", "resolder"):
            for pin in [p for p in lifted if p == what or p.rpartition(".")[0] == what]:
                del lifted[pin]
            removed.pop(what, None)
    return [
        *(f"{pin} is still lifted." for pin in lifted),
        *(f"{ref} is still off the board." for ref in removed),
        *(f"The wire from {a} to {b} is still on." for a, b in wires),
    ]


def _meter(meter: Meter) -> dict[str, Any]:
    from incircuit.meter.sheet import accuracy_words, mode_lines
    from incircuit.units import format_value

    accuracy: dict[str, str] = {}
    if meter.diode:
        accuracy["diode"] = accuracy_words(meter.diode.accuracy)
    if meter.continuity:
        accuracy["continuity"] = accuracy_words(meter.continuity.range.accuracy)
    for name, mode in (
        ("ohms", meter.ohms),
        ("farads", meter.farads),
        ("esr", meter.esr),
        ("volts", meter.volts),
    ):
        if mode is not None:
            accuracy[name] = listed(list(dict.fromkeys(accuracy_words(r.accuracy) for r in mode.ranges)), 8)
    return {"name": printable(meter.name), "source": printable(meter.source),
            "leads": format_value(meter.lead_resistance, "Ω"),
            "modes": [{"name": name, "source": said, "accuracy": accuracy.get(name, "")}
                      for name, said in mode_lines(meter)]}
