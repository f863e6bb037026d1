"""A Board back to text: as it was typed where it was typed, canonical where it was built in code."""

from __future__ import annotations

import re
from collections.abc import Iterator

from incircuit.board.faults import Faults, Line, did_you_mean
from incircuit.board.grammar import parse_head, parse_net
from incircuit.board.kinds import KINDS
from incircuit.board.lexer import Token, quoted, split_line
from incircuit.board.model import Board, Net, Part, Statement, Supply
from incircuit.board.partline import parse_part
from incircuit.board.reader import parse_board
from incircuit.board.supplies import WORDS, supply_line
from incircuit.errors import BoardError, Problem
from incircuit.units import rkm

_NEEDS_QUOTES = re.compile(r'[ \t"#=\\]|^$')


def write_board(board: Board) -> str:
    """The text of a board file that reads back as this board.

    A board read from a file comes back as it was typed, comments, blanks and includes included
    (line ends are ``\\n``). Where parts or nets were changed since, their lines are written anew
    and keep their comment; what has been taken out goes, what is new comes at the end. Parts of
    included files stay in their files. Raises BoardError for a board that no file can say, such
    as a net with a blank in its name.
    """
    text = "".join(f"{line}\n" for line in (*_kept(board), *_added(board)))
    if not _includes(board):
        _check_same(board, parse_board(text, "<board>"), text)
    return text


def part_line(part: Part) -> str:
    """The canonical statement of a part.

    >>> part_line(Part("R7", "resistor", (("1", "A"), ("2", "B")), 4700.0, 0.01))
    'R7 resistor A B 4k7 1%'
    """
    kind = KINDS.get(part.kind)
    if kind is None:
        message = f'{part.ref}: "{part.kind}" is not a kind of part'
        raise BoardError((Problem("<board>", 1, 1, message, hint=did_you_mean(part.kind, KINDS)),))
    bare = kind.style == "bare" and part.pin_names == ("1", "2")
    pieces = [part.ref, part.kind, *(net if bare else f"{name}={net}" for name, net in part.pins)]
    if part.value is not None:
        pieces.append(rkm(part.value, kind.unit))
    if part.rating is not None:
        pieces.append(_rating(part.rating, kind.rating_unit))
    pieces += [_rating(number, unit) for unit, number in part.ratings]
    if part.tolerance is not None:
        pieces.append(rkm(part.tolerance, "%"))
    pieces += part.words
    pieces += [f"{key}={quoted(text) if _NEEDS_QUOTES.search(text) else text}" for key, text in part.options]
    return " ".join(pieces)


def net_line(net: Net) -> str:
    """The canonical statement of a net.

    >>> net_line(Net("DRV", "driver output", pad="TP3"))
    'net DRV "driver output" pad=TP3'
    """
    pieces = ["net", net.name]
    if net.text:
        pieces.append(quoted(net.text))
    if net.hidden:
        pieces.append("hidden")
    if net.pad:
        pieces.append(f"pad={net.pad}")
    return " ".join(pieces)


def _rating(number: float, unit: str) -> str:
    text = rkm(number, unit)
    return text if text.endswith(unit) or unit in text else text + unit


def _head_line(board: Board) -> str:
    return " ".join(["board", quoted(board.title), *board.flags])


def _includes(board: Board) -> bool:
    return any(statement.word == "include" for statement in board.statements)


def _kept(board: Board) -> Iterator[str]:
    """The statements of the file, those that no longer hold written anew or left out."""
    parts = {part.ref: part for part in board.parts}
    nets = {net.name: net for net in board.nets}
    lines = {supply_line(supply) for supply in board.supplies}
    said = {"alike": {" ".join(group) for group in board.alike}, **dict.fromkeys(WORDS, lines)}
    for statement in board.statements:
        new = statement.text
        if statement.word == "part":
            new = _part_again(statement, parts.get(statement.ref))
        elif statement.word == "net":
            new = _net_again(statement, nets.get(statement.ref), board)
        elif statement.word == "board":
            new = _head_again(statement, board)
        elif statement.word in said and statement.ref not in said[statement.word]:
            new = ""
        if new or not statement.text:
            yield new + statement.gap + statement.comment
        elif statement.comment:  # the statement went, what was remarked beside it stays
            yield statement.comment


def _again(statement: Statement) -> tuple[list[Token], Line, Faults]:
    line, faults = Line("<board>", 1, statement.text), Faults()
    split = split_line(line, faults)
    return (split.tokens if split else []), line, faults


def _part_again(statement: Statement, part: Part | None) -> str:
    if part is None:
        return ""
    return statement.text if parse_part(*_again(statement)) == part else part_line(part)


def _net_again(statement: Statement, net: Net | None, board: Board) -> str:
    if net is None:
        return ""
    typed = parse_net(*_again(statement))
    if typed is None or typed == net:
        return statement.text
    # the net may carry the text and pad of its declaration in another file
    elsewhere = net.place and statement.place and net.place.file != statement.place.file
    text_fits = typed.text in ("", net.text) or elsewhere
    fits = typed.hidden == net.hidden and typed.pad in ("", net.pad) and text_fits
    return statement.text if fits and _includes(board) else net_line(net)


def _head_again(statement: Statement, board: Board) -> str:
    typed = parse_head(*_again(statement))
    if typed is not None and typed.title == board.title:
        others = set(board.flags) - set(typed.flags)  # may come from included files
        if set(typed.flags) <= set(board.flags) and (not others or _includes(board)):
            return statement.text
    return _head_line(board)


def _added(board: Board) -> Iterator[str]:
    """Canonical statements for what no statement of the file stands for."""
    said = {(statement.word, statement.ref) for statement in board.statements}
    words = {word for word, _ in said}
    if "board" not in words and (board.title or (board.flags and not _includes(board))):
        yield _head_line(board)
    own = [part.ref for part in board.parts if _is_own(board, part)]
    yield from (net_line(n) for n in board.nets if ("net", n.name) not in said and _is_own(board, n))
    yield from (part_line(p) for p in board.parts if ("part", p.ref) not in said and _is_own(board, p))
    for group in board.alike:
        if ("alike", " ".join(group)) not in said and not set(group).isdisjoint(own):
            yield " ".join(["alike", *group])
    for supply in board.supplies:
        if (supply.word, supply_line(supply)) not in said and _is_own(board, supply):
            yield supply_line(supply)


def _is_own(board: Board, item: Part | Net | Supply) -> bool:
    """Whether an item belongs to the board's own file rather than to an included one."""
    if item.place is None or not _includes(board):
        return True
    top = board.statements[0].place
    return top is None or item.place.file == top.file


def _rest(board: Board) -> tuple[object, ...]:
    return (len(board.parts), len(board.nets), set(board.alike), set(board.flags), board.title,
            set(board.supplies))


def _check_same(board: Board, back: Board, text: str) -> None:
    """Raise BoardError if what was written does not read back as the board; order does not count."""
    parts, nets = {p.ref: p for p in back.parts}, {n.name: n for n in back.nets}
    what = next((f"part {p.ref}" for p in board.parts if parts.get(p.ref) != p), "")
    what = what or next((f"net {n.name}" for n in board.nets if nets.get(n.name) != n), "")
    if not what and _rest(back) != _rest(board):
        what = "this board"
    if what:
        raise BoardError((Problem("<board>", 1, 1, f"{what} cannot be written so that it reads back the same",
                                  text.split("\n", 1)[0], "use the words and units of the kinds table"),))
