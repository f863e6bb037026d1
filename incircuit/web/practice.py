"""The drill on the page: every question brings all lines so far, so that nothing is lost with a tab."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from incircuit.advise.conditions import conditions_of
from incircuit.circuit.build import build
from incircuit.draw.drawing import draw_board
from incircuit.drill.bench import Answer, Bench, act, start, state_now
from incircuit.drill.deal import deal
from incircuit.drill.results import keep, kept, progress_of, result_of
from incircuit.drill.review import Review, review
from incircuit.errors import DrillError
from incircuit.report.words import band_words, listed
from incircuit.web.boardtext import board_json

Task = dict[str, Any]
Progress = Callable[[int, int], None]
Played = tuple[Bench, tuple[Answer, ...]]
MOST_LINES = 300
HIGHEST_SEED = 2**53 - 1
"""What a number of JavaScript holds."""
_PLAYED: dict[tuple[int, int, tuple[str, ...]], Played] = {}
KEPT = 64


def drill(task: Task, progress: Progress) -> dict[str, Any]:
    """The exercise of a `level` and a `seed` after `lines` (JSON), reviewed once it is over.

    With `played`, a time, the result is kept in the file `results`. Raises DrillError for a line that
    cannot be done; the exercise is as before then.
    """
    level, seed = _number(task["level"], 99), _number(task["seed"], HIGHEST_SEED)
    lines = _lines(task["lines"])
    bench, answers = _played(level, seed, lines)
    board = bench.case.board
    state, _ = state_now(bench)
    probes = bench.last[:2] if bench.last else None
    found = review(bench, progress) if bench.over else None
    if found and task["played"] and task["results"]:
        keep(task["results"], result_of(bench, found, task["played"]))
    return {
        "level": level, "seed": str(seed), "line": bench.case.line, "title": board.title,
        "board": board_json(board), "modes": list(bench.case.meter.modes), "meter": bench.case.meter.name,
        "faults": [f"{c.part} {c.fault}" for c in conditions_of(build(board))],
        "lifted": sorted(f"{ref}.{pin}" for ref, pin in state.lifted), "removed": sorted(state.removed),
        "svg": draw_board(board, state=state, probes=probes),
        "answers": [{"line": line, "text": a.text, "seconds": round(a.seconds)}
                    for line, a in zip(lines, answers, strict=True)],
        "spent": round(bench.spent), "over": bench.over,
        "review": _review(bench, found) if found else None,
        "before": [{"level": p.level, "played": p.played, "right": p.right, "lately": round(p.lately)}
                   for p in progress_of(kept(task["results"]))] if task["results"] else [],
    }


def _review(bench: Bench, r: Review) -> dict[str, Any]:
    """The lesson of an exercise, ready to be shown."""
    def band(text: str, limits: tuple[float, ...]) -> str:
        return band_words(bench.case.meter, text.split()[-1], *limits) if len(limits) == 2 else ""

    return {
        "right": r.right, "truth": ", ".join(h.text for h in r.truth) or "healthy", "points": r.points,
        "spent": round(r.spent), "shortest": round(r.way.seconds), "wrong": round(r.cost - r.spent),
        "way": [{"text": s.text, "healthy": band(s.text, s.healthy), "here": band(s.text, s.here),
                 "seconds": round(s.seconds)} for s in r.way.steps],
        "left": listed(r.way.left, 8) if r.way.left and r.truth else "",
        "blind": [bench.lines[n - 1] for n in r.blind], "needless": [bench.lines[n - 1] for n in r.needless],
        "lesson": r.lesson.sentence,
    }


def _played(level: int, seed: int, lines: tuple[str, ...]) -> Played:
    """The bench after these lines; what was played before is not played again."""
    key = (level, seed, lines)
    found = _PLAYED.get(key)
    if found is None:
        if not lines:
            found = (start(deal(level, seed)), ())
        else:
            bench, answers = _played(level, seed, lines[:-1])
            bench, answer = act(bench, lines[-1])
            found = (bench, (*answers, answer))
        _PLAYED[key] = found
        while len(_PLAYED) > KEPT:
            del _PLAYED[next(iter(_PLAYED))]
    return found


def _number(text: str, most: int) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 20 and int(text) <= most):
        raise DrillError("level and seed are whole numbers")
    return int(text)


def _lines(text: str) -> tuple[str, ...]:
    try:
        found = json.loads(text or "[]")
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, list) or len(found) > MOST_LINES or not all(isinstance(x, str) for x in found):
        raise DrillError(f"a drill has at most {MOST_LINES} lines of text")
    return tuple(found)
