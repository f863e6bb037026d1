"""What the editor asks while a board is typed: its faults, its parts and nets, the line of a new part."""

from __future__ import annotations

import os
from typing import Any

from incircuit.board import KINDS, Board, KindSpec, lint, parse_board
from incircuit.board.lexer import quoted
from incircuit.errors import BoardError, FolderError, MarkError, Problem, UnitError
from incircuit.marking import read_mark
from incircuit.units import format_value, parse_value, rkm
from incircuit.web.folder import path_in, read_board_text

LONGEST = 300_000
"""Characters of a board text the page takes."""


def board_in(folder: str, name: str, text: str | None = None) -> Board:
    """The board of a file of the folder, or of a text meant for it; no include leads out of the folder.

    Raises FolderError, or BoardError whose faults name files without their folder.
    """
    path = path_in(folder, name, "board")
    typed = read_board_text(folder, name).text if text is None else text
    if len(typed) > LONGEST:
        raise FolderError(f"{name} is too large for the page: at most {LONGEST:,} characters")
    try:
        return parse_board(typed, path, within=folder)
    except BoardError as error:
        raise BoardError(tuple(_short(p, path) for p in error.problems)) from None


def _short(p: Problem, path: str) -> Problem:
    home = os.path.dirname(path)
    file = os.path.relpath(p.file, home) if os.path.isabs(p.file) else p.file
    message, hint = (text.replace(os.path.join(home, ""), "") for text in (p.message, p.hint))
    return Problem(file, p.line, p.column, message, p.text, hint, p.warning)


def checked(folder: str, name: str, text: str) -> dict[str, Any]:
    """Everything that is wrong or looks wrong, and what is there if nothing is wrong."""
    try:
        board = board_in(folder, name, text)
    except BoardError as error:
        return {"sound": False, "problems": [problem_json(p, name) for p in error.problems]}
    path = path_in(folder, name, "board")
    warnings = [problem_json(_short(p, path), name) for p in lint(board)]
    return {"sound": True, "problems": warnings, **board_json(board)}


def problem_json(p: Problem, name: str) -> dict[str, Any]:
    """A fault for the page; `here` where it is in the file being edited."""
    return {"line": p.line, "column": p.column, "message": p.message, "hint": p.hint, "warning": p.warning,
            "file": p.file, "here": p.file == name}


def board_json(board: Board) -> dict[str, Any]:
    """Title, nets and parts of a board."""
    return {
        "title": board.title,
        "nets": [{"name": name, "pad": next((n.pad for n in board.nets if n.name == name), ""),
                  "text": next((n.text for n in board.nets if n.name == name), ""),
                  "hidden": any(n.name == name and n.hidden for n in board.nets)}
                 for name in board.net_names()],
        "parts": [{"ref": p.ref, "kind": p.kind, "pins": [list(pin) for pin in p.pins],
                   "value": "" if p.value is None else rkm(p.value, KINDS[p.kind].unit.strip("()")),
                   "words": list(p.words)} for p in board.parts],
    }


def kinds_json() -> list[dict[str, Any]]:
    """Every kind of part with what a form needs to know about it."""
    return [{"name": k.name, "doc": k.doc, "style": k.style, "pins": list(k.pins or ()),
             "optional": list(k.optional), "unit": k.unit, "value": k.value_required,
             "words": [list(group) for group in k.word_groups],
             "layouts": {word: list(pins) for word, pins in k.word_layouts}} for k in KINDS.values()]


MARKED = {"Ω": "resistor", "F": "capacitor", "H": "coil", "V": "zener"}


def part_line(ask: dict[str, Any]) -> dict[str, Any]:
    """The line of a part from a form: `ref`, `kind`, `pins` [[pin, net], …], `value` as typed or as marked,
    `words`. Gives `line` and its `problems`, and `choices` where the mark means several values."""
    kind = KINDS.get(str(ask.get("kind", "")))
    if kind is None:
        raise FolderError("name a kind of part")
    value, choices = _value(str(ask.get("value", "")).strip(), kind)
    pins = [(str(pin).strip(), str(net).strip()) for pin, net in ask.get("pins", []) if str(net).strip()]
    bare = kind.style == "bare" and [pin for pin, _ in pins] == ["1", "2"]
    nets = [net if bare else f"{pin}={net}" for pin, net in pins]
    words = [str(word) for word in ask.get("words", []) if str(word).strip()]
    remark = str(ask.get("remark", "")).strip()
    pieces = [str(ask.get("ref", "")).strip() or "?", kind.name, *nets, value, *words,
              f"text={quoted(remark)}" if remark else ""]
    line = " ".join(piece for piece in pieces if piece)
    if not line.isprintable():
        raise FolderError("a part is one line of plain text")
    try:
        parse_board(line, "part", within=os.devnull)  # an include goes nowhere
        problems: list[dict[str, Any]] = []
    except BoardError as error:
        problems = [problem_json(p, "part") for p in error.problems]
    return {"line": line, "problems": problems, "choices": choices}


def _value(text: str, kind: KindSpec) -> tuple[str, list[dict[str, str]]]:
    """The value as a board file has it, and what else a mark may mean.

    A code is read as one before it is read as a plain number: nobody types 104 for 104 farads.
    """
    if not text or kind.unit not in MARKED:
        return text, []
    value, _, rest = text.partition(" ")
    try:
        meanings = [m for m in read_mark(text) if m.part == MARKED[kind.unit]]
        rest = ""
    except MarkError:
        meanings = _meanings(value, kind)
    if not meanings:
        return text, []
    found = []
    for m in meanings:
        even = m.tolerance is not None and m.tolerance.minus == m.tolerance.plus
        tolerance = f" {rkm(m.tolerance.plus, '%')}" if m.tolerance and even else ""
        says = format_value(m.value, m.unit) + (f", {m.tolerance.text}" if m.tolerance else "")
        found.append({"value": (rkm(m.value, m.unit) + tolerance + (f" {rest}" if rest else "")).strip(),
                      "says": f"{says} ({m.kind})"})
    try:
        parse_value(value, kind.unit)
        written = not value.isdigit() or len(value) < 3
    except UnitError:
        written = False
    return (text if written else found[0]["value"]), ([] if written else found)


def _meanings(value: str, kind: KindSpec) -> list[Any]:
    try:
        return [m for m in read_mark(value) if m.part == MARKED[kind.unit]]
    except MarkError:
        return []
