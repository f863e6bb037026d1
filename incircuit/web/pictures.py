"""The drawing on the page: of what is typed or of the bench as it is, with probes, currents, suspects."""

from __future__ import annotations

import json
from typing import Any

from incircuit.board import HEALTHY, Board, State
from incircuit.board.pads import split_pin
from incircuit.draw.band import band_picture, rows_of
from incircuit.draw.course import course_picture
from incircuit.draw.drawing import draw_board
from incircuit.draw.flow import Flow, flow_of
from incircuit.draw.scene import neighbourhood
from incircuit.errors import IncircuitError
from incircuit.meter.profile import load_meter
from incircuit.predict.course import BOARDS, course_of
from incircuit.predict.explanation import explain
from incircuit.predict.measure import Ask
from incircuit.predict.question import ask_about, different_pads
from incircuit.story.bench import UNPOWERED
from incircuit.story.names import meter_named
from incircuit.web.bench import meter_of, now_of, story_in
from incircuit.web.boardtext import board_in
from incircuit.web.folder import path_in

Task = dict[str, Any]
WHOLE = 24
"""Parts up to which a board is drawn whole; of a larger one the neighbourhood of the probes."""
MOST_MARKS = 12


def drawing(folder: str, task: Task) -> dict[str, Any]:
    """The picture as SVG, and how many parts are in it. With a `text` that text is drawn, as typed."""
    board = board_in(folder, task["board"], task["text"] or None)
    pads = [pad for pad in (task["red"], task["black"]) if pad]
    state, flow = HEALTHY, None
    if not task["text"]:
        story = story_in(folder, board, task["readings"])
        state = now_of(board, story)
        meter = meter_named(meter_of(story), path_in(folder, task["readings"], "readings"))
        flow = _flow(board, state, meter, task)
    marks = _marks(board, task["marks"])
    refs = None if len(board.parts) <= WHOLE else _near(board, pads or list(marks), task["shown"].split())
    svg = draw_board(board, state=state, probes=(task["red"], task["black"]) if pads else None, currents=flow,
                     marks=marks, refs=refs)
    return {"svg": svg, "parts": len(board.parts) if refs is None else len(refs), "of": len(board.parts)}


def figures(folder: str, task: Task) -> dict[str, Any]:
    """The bands of a reading on one axis, with what was read there last; and its course, where it moves."""
    board = board_in(folder, task["board"])
    story = story_in(folder, board, task["readings"])
    meter = load_meter(meter_named(meter_of(story), path_in(folder, task["readings"], "readings")))
    question = ask_about(board, now_of(board, story), task["red"], task["black"])
    different_pads(question)
    ask = Ask(task["mode"])
    found = explain(question, meter, ask)
    read = next((e for e in reversed(story.readings) if (e.red, e.black, e.mode) == (
        task["red"], task["black"], task["mode"]) and (e.typed.value is not None or e.typed.overload)), None)
    rows = rows_of(found, None, question.part.ref if question.part else None)
    bands = band_picture(rows, "V" if task["mode"] == "diode" else "Ω",
                         reading=read.typed.value if read else None, shown=read.shown if read else "",
                         resolution=read.step if read else 0.0,
                         title=f"{task['mode']}, red {task['red']}, black {task['black']}")
    course = course_of(question, meter, ask, BOARDS) if found.moving else None
    moves = course is not None and course.moves
    return {"bands": bands, "course": course_picture(course) if course and moves else "",
            "sentence": course.sentence if course and moves else ""}


def _flow(board: Board, state: State, meter: str, task: Task) -> Flow | None:
    """The meter's current; none while there is no reading to light up."""
    if not task["red"] or not task["black"] or task["red"] == task["black"] or task["mode"] not in UNPOWERED:
        return None
    try:
        question = ask_about(board, state, task["red"], task["black"])
        return flow_of(board, state, explain(question, load_meter(meter), Ask(task["mode"])))
    except IncircuitError:
        return None  # said where the reading is asked about


def _near(board: Board, pads: list[str], shown: list[str]) -> tuple[str, ...]:
    """Parts around the probes or what is marked, or around what the board begins with; those already shown
    while the probes are among them, so that the picture stays as it is."""
    named = {n.pad: n.name for n in board.nets if n.pad}
    around = [split_pin(board, pad)[0] or named.get(pad, pad) for pad in pads]
    known = [p for p in board.parts if p.ref in shown]
    there = {p.ref for p in known} | {net for p in known for _, net in p.pins}
    if known and len(known) <= WHOLE and there >= set(around):
        return tuple(p.ref for p in known)
    return neighbourhood(board, around or [board.parts[0].ref], 2, WHOLE)


def _marks(board: Board, text: str) -> dict[str, str]:
    """Parts to mark with a few words each, from JSON."""
    try:
        given = json.loads(text or "{}")
    except (ValueError, RecursionError):
        return {}
    refs = {p.ref for p in board.parts}
    pairs = given.items() if isinstance(given, dict) else ()
    return {ref: str(words)[:40] for ref, words in list(pairs)[:MOST_MARKS] if ref in refs}
