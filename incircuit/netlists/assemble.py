"""Parts as understood to a board: overrides, names that a board file can have, remarks beside the guesses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from incircuit.board.faults import Faults, Line
from incircuit.board.kinds import kind_named
from incircuit.board.lexer import quoted, split_line
from incircuit.board.model import Board, Net, Part, Statement
from incircuit.board.partline import parse_part
from incircuit.board.writer import net_line, part_line
from incircuit.errors import BoardError, NetlistError, Problem, UnitError
from incircuit.netlists.devices import Found
from incircuit.netlists.names import net_name, own_name, ref_name
from incircuit.netlists.notes import Notes
from incircuit.netlists.overrides import Override, overridden


@dataclass(frozen=True, slots=True)
class Guess:
    """A part whose kind the netlist does not say: what it was taken for, and why."""

    ref: str
    kind: str
    why: str


@dataclass(frozen=True, slots=True)
class Imported:
    """A netlist brought in. `problems` are what was left out (errors) and what may be meant otherwise."""

    board: Board
    guesses: tuple[Guess, ...]
    problems: tuple[Problem, ...]


def assemble(title: str, source: str, found: Sequence[Found], nets: Sequence[Net],
             overrides: Sequence[Override], notes: Notes) -> Imported:
    """The board of all parts found. Raises NetlistError for an override that fits nothing or does not fit."""
    kept = _overridden(found, overrides)
    net_names = _Names()
    refs: dict[str, None] = {}
    parts: list[Part] = []
    guesses: list[Guess] = []
    for item in kept:
        ref = own_name(ref_name(item.part.ref), refs)
        if ref != item.part.ref:
            notes.warn(item.at, f"{item.part.ref} is called {ref} on the board")
        refs[ref] = None
        part = replace(item.part, ref=ref, pins=tuple((pin, net_names.of(n)) for pin, n in item.part.pins))
        said = _writable(part, item, notes)
        if said is None:
            continue
        parts.append(said)
        if item.why:
            guesses.append(Guess(ref, said.kind, item.why))
    declared = tuple(replace(net, name=net_names.of(net.name)) for net in nets)
    board = Board(title[:200], declared, tuple(parts))
    return Imported(_with_remarks(board, source, guesses), tuple(guesses), notes.told())


def _overridden(found: Sequence[Found], overrides: Sequence[Override]) -> list[Found]:
    idle = [o for o in overrides if not any(o.meets(item) for item in found)]
    if idle:
        raise NetlistError(tuple(Problem("--as", 1, 1, f'"{o.text}": no part is called {o.pattern}',
                                         hint="a ref, a value, a library part or a model, * for anything")
                                 for o in idle))
    kept: list[Found] = []
    for item in found:
        last = next((o for o in reversed(overrides) if o.meets(item)), None)  # the later one counts
        said = overridden(item, last) if last else item
        if said is not None:
            kept.append(said)
    return kept


class _Names:
    """Nets of the netlist → names on the board, two nets never one."""

    def __init__(self) -> None:
        self.known: dict[str, str] = {}
        self.taken: set[str] = set()

    def of(self, text: str) -> str:
        """The board's name of a net."""
        if text not in self.known:
            self.known[text] = own_name(net_name(text), self.taken)
            self.taken.add(self.known[text])
        return self.known[text]


def _writable(part: Part, item: Found, notes: Notes) -> Part | None:
    """The part, or what of it a board file can say; None where that is nothing."""
    try:
        part_line(part)
    except (BoardError, UnitError, OverflowError) as error:
        notes.error(item.at, f"{part.ref} cannot be written: {str(error).splitlines()[0]}")
        return None
    kind = kind_named(part.kind)
    line, faults = Line("<board>", 1, part_line(part)), Faults()
    split = split_line(line, faults)
    back = parse_part(split.tokens, line, faults) if split else None
    if faults.problems or back != part:
        why = faults.problems[0].message if faults.problems else "it does not read back the same"
        bad = {key for key, _ in part.options if any(f"{key}=" in p.message for p in faults.problems)}
        if bad and kind is not None:
            notes.warn(item.at, f"{part.ref}: {why}: left out")
            return _writable(replace(part, options=tuple(o for o in part.options if o[0] not in bad)), item,
                             notes)
        notes.error(item.at, f"{part.ref} cannot be written: {why}")
        return None
    return part


def _with_remarks(board: Board, source: str, guesses: Sequence[Guess]) -> Board:
    """Statements with a remark beside every guess, so that the file says what was guessed."""
    why = {guess.ref: guess.why for guess in guesses}
    head = [Statement("blank", "", f"# Brought in from {source}. Behind # stands why a kind was guessed.")]
    if board.title:
        head.append(Statement("board", f"board {quoted(board.title)}"))
    nets = [Statement("net", net_line(net), ref=net.name) for net in board.nets]
    parts = [Statement("part", part_line(p), f"# {why[p.ref]}" if p.ref in why else "", p.ref,
                       "   " if p.ref in why else "") for p in board.parts]
    return replace(board, statements=(*head, *nets, *parts))
