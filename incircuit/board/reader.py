"""From a board file to a Board: lines, includes, and what only the whole can show."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import dataclass, field

from incircuit.board.faults import Faults, Line, TooManyFaults
from incircuit.board.grammar import Alike, Head, Include, parse_alike, parse_head, parse_include, parse_net
from incircuit.board.lexer import Split, split_line
from incircuit.board.model import Board, Net, Part, Place, Statement, Supply
from incircuit.board.partline import parse_part
from incircuit.board.source import LARGEST, decoded, read_text
from incircuit.board.supplies import check_supplies, parse_supply, supply_line
from incircuit.board.whole import check_alike, check_pads, merged_net
from incircuit.errors import BoardError, Problem

DEEPEST = 20
"""So many files may include each other in a chain."""

Step = Callable[["Reader", Split, Line], str]


@dataclass(slots=True)
class Reader:
    """What has been read so far, over all files."""

    faults: Faults = field(default_factory=Faults)
    head: Head | None = None
    flags: dict[str, None] = field(default_factory=dict)
    nets: dict[str, Net] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    alike: list[Alike] = field(default_factory=list)
    statements: list[Statement] = field(default_factory=list)
    chain: list[tuple[str, str]] = field(default_factory=list)  # (shown path, identity) being read
    files: dict[str, str] = field(default_factory=dict)  # identity to where it was included
    lines: dict[str, Line] = field(default_factory=dict)  # line that declared each net
    supplies: list[tuple[Supply, Line]] = field(default_factory=list)
    broken: set[str] = field(default_factory=set)  # refs of parts with faults of their own
    heads: dict[str, int] = field(default_factory=dict)  # line of each file's board statement
    within: str = ""  # identity of the folder that includes may not leave, empty for any


def read_board(path: str | os.PathLike[str]) -> Board:
    """The board of a file and of what it includes.

    Line ends become ``\\n`` and a byte order mark is dropped. Raises BoardError with every fault
    found, each with its file, line and column; no other exception for any content or path.
    """
    shown = os.fspath(path)
    text = read_text(shown)
    if isinstance(text, Problem):
        raise BoardError((text,))
    return _read(text, shown, _identity(shown))


def parse_board(text: str, file: str = "<text>", within: str = "") -> Board:
    """The board of a text. `file` is shown in faults, and includes are relative to its folder.

    `within` is a folder that no include may lead out of, for a text that a stranger may have typed.
    Raises BoardError as `read_board`.
    """
    if len(text) > LARGEST:
        raise BoardError((Problem(file, 1, 1, "is too large",
                                  hint=f"a board file has at most {LARGEST:,} bytes"),))
    clean = decoded(text.encode("utf-8", "surrogatepass"), file)
    if isinstance(clean, Problem):
        raise BoardError((clean,))
    return _read(clean, file, _identity(file), _identity(within) if within else "")


def _read(text: str, shown: str, identity: str, within: str = "") -> Board:
    reader = Reader(within=within)
    reader.files[identity] = ""
    try:
        _read_lines(reader, text, shown, identity)
        check_pads(reader.nets, reader.lines, reader.parts, reader.faults)
        check_alike(reader.alike, reader.parts, reader.broken, reader.faults)
        used = {*reader.nets, *(net for part in reader.parts.values() for _, net in part.pins)}
        if not reader.broken:
            check_supplies(reader.supplies, used, reader.faults)
    except TooManyFaults:
        pass
    reader.faults.raise_if_any()
    title = reader.head.title if reader.head else ""
    return Board(title, tuple(reader.nets.values()), tuple(reader.parts.values()),
                 tuple(group.refs for group in reader.alike), tuple(reader.flags), tuple(reader.statements),
                 tuple(dict.fromkeys(supply for supply, _ in reader.supplies)))


def _read_lines(reader: Reader, text: str, shown: str, identity: str) -> None:
    reader.chain.append((shown, identity))
    lines = text.split("\n")
    if lines[-1] == "":
        lines.pop()  # what follows the last newline is no line
    for number, raw in enumerate(lines, 1):
        line = Line(shown, number, raw)
        split = split_line(line, reader.faults)
        if split is None:
            continue
        word = split.tokens[0].text if split.tokens else "blank"
        kind = word if not split.tokens or word in _STEPS else "part"
        ref = _STEPS.get(kind, _part)(reader, split, line) if split.tokens else ""
        if len(reader.chain) == 1:
            place = Place(shown, number, split.tokens[0].column if split.tokens else 1)
            reader.statements.append(Statement(kind, split.statement, split.comment, ref, split.gap, place))
    reader.chain.pop()


def _part(reader: Reader, split: Split, line: Line) -> str:
    part = parse_part(split.tokens, line, reader.faults)
    if part is None:
        reader.broken.add(split.tokens[0].text)
        return ""
    earlier = reader.parts.get(part.ref)
    if earlier is not None and earlier.place is not None:
        reader.faults.add(line, split.tokens[0].column,
                          f"{part.ref} is there already, {_at(earlier.place, line)}",
                          "every part has its own reference")
        return ""
    reader.parts[part.ref] = part
    return part.ref


def _head(reader: Reader, split: Split, line: Line) -> str:
    head = parse_head(split.tokens, line, reader.faults)
    if head is None:
        return ""
    file = reader.chain[-1][1]
    if file in reader.heads:
        reader.faults.add(line, split.tokens[0].column, f"a second board statement, the first is in line "
                          f"{reader.heads[file]}", "one board, one file; include brings in others")
        return ""
    reader.heads[file] = line.number
    reader.flags.update(dict.fromkeys(head.flags))
    if len(reader.chain) == 1:
        reader.head = head  # an included file's title is its own
    return head.title


def _net(reader: Reader, split: Split, line: Line) -> str:
    net = parse_net(split.tokens, line, reader.faults)
    if net is None:
        return ""
    earlier = reader.nets.get(net.name)
    if earlier is not None and earlier.place is not None:
        merged = merged_net(earlier, net)
        if isinstance(merged, str):
            reader.faults.add(line, split.tokens[1].column,
                              f"net {net.name} is declared already, {_at(earlier.place, line)}", merged)
            return ""
        net = merged
    reader.nets[net.name] = net
    reader.lines.setdefault(net.name, line)
    return net.name


def _alike(reader: Reader, split: Split, line: Line) -> str:
    alike = parse_alike(split.tokens, line, reader.faults)
    if alike is None:
        return ""
    reader.alike.append(alike)
    return " ".join(alike.refs)


def _supply(reader: Reader, split: Split, line: Line) -> str:
    supply = parse_supply(split.tokens, line, reader.faults)
    if supply is None:
        return ""
    reader.supplies.append((supply, line))
    return supply_line(supply)


def _include(reader: Reader, split: Split, line: Line) -> str:
    include = parse_include(split.tokens, line, reader.faults)
    if include is None:
        return ""
    shown = os.path.join(os.path.dirname(line.file), include.name)
    identity = _identity(shown)
    wrong, hint = _refused(reader, include, shown, identity)
    text = "" if wrong else read_text(shown)
    if isinstance(text, str) and not wrong:
        reader.files[identity] = f"{line.file}:{line.number}"
        _read_lines(reader, text, shown, identity)
    elif isinstance(text, Problem) and text.text:  # a place in that file
        reader.faults.add(Line(shown, text.line, text.text), text.column, text.message, text.hint)
    elif isinstance(text, Problem):
        reader.faults.add(line, include.column, f'"{include.name}" {text.message}',
                          text.hint or "files are named relative to this one")
    else:
        reader.faults.add(line, include.column, wrong, hint)
    return include.name


def _refused(reader: Reader, include: Include, shown: str, identity: str) -> tuple[str, str]:
    """Why a file is not included: it is being read already, was included before, or lies too deep."""
    if "\0" in include.name:
        return "a file name has no NUL", ""
    if reader.within and not identity.startswith(os.path.join(reader.within, "")):
        return f'"{include.name}" lies outside the opened folder', "include files of the same folder"
    open_now = [name for _, name in reader.chain]
    if identity in open_now:
        names = [name for name, _ in reader.chain[open_now.index(identity):]]
        return f"this file includes itself: {' -> '.join([*names, shown])}", "take one of these includes out"
    if identity in reader.files:
        return f'"{include.name}" is included already, in {reader.files[identity]}', "include a file once"
    if len(reader.chain) >= DEEPEST:
        return f"includes lie more than {DEEPEST} deep here", "include the files from one place"
    return "", ""


def _identity(shown: str) -> str:
    """One name for a file however it is reached; the text itself where the path is impossible."""
    try:
        return os.path.realpath(shown)
    except (OSError, ValueError):
        return shown


def _at(place: Place, line: Line) -> str:
    return f"in line {place.line}" if place.file == line.file else f"in {place.file}:{place.line}"


_STEPS: dict[str, Step] = {"board": _head, "net": _net, "alike": _alike, "include": _include,
                          "mains": _supply, "supply": _supply}
