"""What the workers compute: what to expect, the verdict, what to do next. Ready to be shown."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Protocol

from incircuit.advise.costs import Costs, load_costs
from incircuit.advise.following import advise
from incircuit.advise.worksheet import Hint, Step, Worksheet, worksheet
from incircuit.board import HEALTHY, Board
from incircuit.circuit.build import Circuit, build
from incircuit.errors import FolderError
from incircuit.judge.judge import Judgement, glance, judge_again
from incircuit.judge.memory import Memory
from incircuit.meter.profile import Meter, load_meter
from incircuit.predict.charging import falsifiers, predict_charging
from incircuit.predict.explanation import Explanation, explain
from incircuit.predict.measure import Ask
from incircuit.predict.prediction import Prediction, predict
from incircuit.predict.question import ask_about, different_pads
from incircuit.predict.reach import floating_gates, slow_parts
from incircuit.predict.sentences import blind_words, drive_sentence, path_sentences, unseen_parts
from incircuit.report.cautions import CAUTION
from incircuit.report.job import job_page
from incircuit.report.sheet import worksheet_page
from incircuit.report.words import band_words, faults_words, listed, span
from incircuit.story import Story, story_of_text, write_story
from incircuit.story.names import meter_named
from incircuit.web.bench import line_of, meter_of, now_of, story_in
from incircuit.web.boardtext import board_in
from incircuit.web.folder import path_in
from incircuit.web.nextwords import advice_json
from incircuit.web.verdictwords import glance_json, verdict_json

Task = dict[str, Any]
Progress = Callable[[int, int], None]


class Voice(Protocol):
    """Where a task under way is told of."""

    def __call__(self, done: int, of: int) -> None:
        """So many of so many."""

    def early(self, found: dict[str, Any]) -> None:
        """What is known ahead of the answer."""


MOST_FAULTS = 16
_SOLVED: dict[tuple[str, str], Memory] = {}
"""What this worker has solved for a board and its readings: one reading more is judged in a fraction."""
STORIES_KEPT = 4


def _opened(folder: str, task: Task) -> tuple[Board, Story, Meter, str]:
    """Board, story, meter and its name. Raises IncircuitError."""
    board = board_in(folder, task["board"])
    story = story_in(folder, board, task["readings"])
    name = meter_named(meter_of(story), path_in(folder, task["readings"], "readings"))
    return board, story, load_meter(name), name


def see(folder: str, task: Task, _: Progress) -> dict[str, Any]:
    """What the meter should show between two pads in every mode and both ways, and why."""
    board, story, meter, _name = _opened(folder, task)
    state = now_of(board, story)
    question = ask_about(board, state, task["red"], task["black"], task.get("part") or None)
    different_pads(question)
    mode = task["mode"]
    if mode in meter.all_modes and mode not in meter.modes:
        found: tuple[Prediction, ...] = (predict_charging(question, meter, mode),)
        others = [] if mode == "volts" else [ref for ref, _ in falsifiers(question, meter, mode)]
        why: dict[str, str | list[str]] = {"beside": _some(others, 6)} if others else {}
    else:
        found = predict(question, meter)
        mode = mode if mode in meter.modes else meter.modes[0]
        why = _why(explain(question, meter, Ask(mode)))
    return {
        "part": question.part.ref if question.part else "", "others": list(question.others),
        "meter": meter.name, "mode": mode, "rows": [_expected(p) for p in found], "why": why,
        "slow": list(slow_parts(question, meter, [p for p in found if p.mode in meter.modes])),
        "gates": list(floating_gates(question)),
    }


def _expected(p: Prediction) -> dict[str, Any]:
    number, _, unit = p.shown.text.partition(" ")
    return {"mode": p.mode, "red": p.red, "black": p.black, "digits": number, "unit": unit,
            "beep": p.shown.beep if p.mode == "continuity" else None, "healthy": span(p.low, p.high),
            "alone": span(*p.alone_shown) if p.alone_shown else ""}


def _why(e: Explanation) -> dict[str, str | list[str]]:
    return {
        "drive": drive_sentence(e), "paths": list(path_sentences(e)),
        "told": _some([f"{s.part} {s.fault} {s.shown.text}" for s in e.sights if s.told], MOST_FAULTS),
        "blind": _some(blind_words(e), MOST_FAULTS), "unseen": _some(unseen_parts(e), 20),
        "cannot": _some(e.cannot_matter, 20),
    }


def _some(names: Sequence[str], most: int) -> str:
    return listed(names, most) if names else ""


def verdict(folder: str, task: Task, voice: Voice) -> dict[str, Any]:
    """What all readings together mean; ahead of it whether the last one is as on a healthy board."""
    board, story, meter, _name = _opened(folder, task)
    solved = _SOLVED.get((task["board"], task["readings"]))
    if solved and (last := glance(board, story, solved)):
        voice.early(glance_json(*last, meter))
    return verdict_json(_judged(folder, board, story, task, voice), story, meter)


def ready(folder: str, task: Task, _: Progress) -> dict[str, Any]:
    """Solve beforehand what the next verdict needs, while a person reads the display between these pads."""
    board, story, meter, _name = _opened(folder, task)
    question = ask_about(board, now_of(board, story), task["red"], task["black"])
    (found,) = predict(question, meter, [task["mode"]], [False])
    line = line_of({**task, "shown": found.shown.text})
    more = story_of_text(f"{write_story(story)}{line}\n", story.file, board)
    if not more.problems:
        _judged(folder, board, more, task)
    return {}


def _judged(folder: str, board: Board, story: Story, task: Task,
            progress: Progress | None = None) -> Judgement:
    key = task["board"], task["readings"]
    good = _good(folder, board, task)
    found, memory = judge_again(board, story, _SOLVED.pop(key, Memory()), reference=good, progress=progress)
    _SOLVED[key] = memory  # the newest last
    while len(_SOLVED) > STORIES_KEPT:
        del _SOLVED[next(iter(_SOLVED))]
    return found


def _good(folder: str, board: Board, task: Task) -> Story | None:
    """The readings of the known-good board, where one was chosen. Raises FolderError."""
    name = task.get("good", "")
    if not name:
        return None
    if name == task["readings"]:
        raise FolderError(f"{name} are the readings of this board: choose another file for the good one")
    return story_in(folder, board, name)


def following(folder: str, task: Task, progress: Progress) -> dict[str, Any]:
    """The next act."""
    board, story, meter, name = _opened(folder, task)
    found = advise(board, story, meter, _costs(), name, progress)
    return advice_json(found, meter)


def _costs() -> Costs:
    return load_costs("")


def sheet(folder: str, task: Task, progress: Progress) -> dict[str, Any]:
    """The worksheet of the board as it came in: what was lifted since is no reason for another list."""
    _board, _circuit, meter, found = _sheet(folder, task, progress)
    return {
        "steps": [_step(s, meter) for s in found.steps], "shown": found.shown, "gap": found.gap,
        "hidden": faults_words(found.hidden, 24) if found.hidden else "", "caution": CAUTION,
    }


def _sheet(folder: str, task: Task, progress: Progress) -> tuple[Board, Circuit, Meter, Worksheet]:
    board, _story, meter, _name = _opened(folder, task)
    circuit = build(board, HEALTHY)
    return board, circuit, meter, worksheet(circuit, meter, _costs(), progress)


def paper(folder: str, task: Task, progress: Progress) -> dict[str, Any]:
    """The worksheet as a document to print."""
    board, circuit, meter, found = _sheet(folder, task, progress)
    return {"html": worksheet_page(found, circuit, meter, board.title or task["board"])}


def report(folder: str, task: Task, progress: Progress) -> dict[str, Any]:
    """The job record as a document to print."""
    board, story, meter, _name = _opened(folder, task)
    return {"html": job_page(_judged(folder, board, story, task, progress), story, meter, {})}


def _step(s: Step, meter: Meter) -> dict[str, Any]:
    return {"red": s.probe.red, "black": s.probe.black, "mode": s.probe.mode,
            "expect": band_words(meter, s.probe.mode, s.expected, s.expected),
            "healthy": band_words(meter, s.probe.mode, s.low, s.high),
            "hints": [_hint(h, s, meter) for h in s.hints]}


def _hint(h: Hint, s: Step, meter: Meter) -> dict[str, str]:
    return {"band": band_words(meter, s.probe.mode, h.low, h.high), "faults": faults_words(h.faults, 6)}


def charge(folder: str, task: Task, _: Progress) -> dict[str, Any]:
    """What the capacitors may hold once the plug is out, and how it is taken away."""
    from incircuit.power.discharge import stored
    from incircuit.web.powerwords import charge_json

    return charge_json(stored(board_in(folder, task["board"])))


def first_power(folder: str, task: Task, _: Progress) -> dict[str, Any]:
    """The first power-up after a repair, step by step."""
    from incircuit.power.powerup import powerup
    from incircuit.web.powerwords import powerup_json

    board, _story, meter, _name = _opened(folder, task)
    return powerup_json(powerup(board, meter), meter)


def picture(folder: str, task: Task, _: Progress) -> dict[str, Any]:
    """The drawing."""
    from incircuit.web.pictures import drawing

    return drawing(folder, task)


def pictures(folder: str, task: Task, _: Progress) -> dict[str, Any]:
    """Bands and course."""
    from incircuit.web.pictures import figures

    return figures(folder, task)


def exercise(_folder: str, task: Task, progress: Progress) -> dict[str, Any]:
    """The drill."""
    from incircuit.web.practice import drill

    return drill(task, progress)


ANSWERS: dict[str, Callable[[str, Task, Voice], dict[str, Any]]] = {
    "see": see, "ready": ready, "verdict": verdict, "next": following, "worksheet": sheet, "drawing": picture,
    "figures": pictures, "report": report, "paper": paper, "drill": exercise,
    "charge": charge, "powerup": first_power,
}
"""What a task may be of."""
