"""Warnings about a board that reads well but may not be what was meant."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from incircuit.board.faults import did_you_mean, nearest
from incircuit.board.kinds import KINDS
from incircuit.board.model import Board, Part, Place
from incircuit.board.pads import ambiguity
from incircuit.board.plausible import option_doubts, value_doubt
from incircuit.board.windings import windings
from incircuit.errors import Problem

_MANY = 1000  # nets; with more, looking for the nearest name of each takes too long
_UNSEEN = "no reading can show it; check the nets"

Doubt = tuple[Place | None, str, str]
"""Where, what, and what to do about it."""


def lint(board: Board) -> tuple[Problem, ...]:
    """Warnings about what is odd, in the order of the file.

    Dangling nets, shorted parts, nets nothing touches, names that differ only in case, islands,
    unusual values, pads that could be two things.
    Every `Problem` has ``warning=True`` and, for a board read from a file, its place.
    """
    touched = _touched(board)
    doubts = [*_nets(board, touched), *_case(board, touched), *_shorted(board.parts), *_values(board.parts),
              *_near_options(board.parts), *_islands(board), *_ambiguous(board)]
    lines = {s.place: s.text + s.gap + s.comment for s in board.statements if s.place}
    texts = {(place.file, place.line): text for place, text in lines.items()}
    problems = [_problem(doubt, texts) for doubt in doubts]
    files = {p.file: at for at, p in reversed(list(enumerate(problems)))}
    return tuple(sorted(problems, key=lambda p: (files[p.file], p.line, p.column)))


def _problem(doubt: Doubt, texts: dict[tuple[str, int], str]) -> Problem:
    place, message, hint = doubt
    if place is None:
        return Problem("<board>", 1, 1, message, hint=hint, warning=True)
    text = texts.get((place.file, place.line), "")
    return Problem(place.file, place.line, place.column, message, text, hint, True)


def _touched(board: Board) -> dict[str, list[tuple[Part, str]]]:
    """Pins on every net that has any."""
    nets: dict[str, list[tuple[Part, str]]] = {}
    for part in board.parts:
        for pin, net in part.pins:
            nets.setdefault(net, []).append((part, pin))
    return nets


def _nets(board: Board, touched: dict[str, list[tuple[Part, str]]]) -> Iterator[Doubt]:
    declared = {net.name: net for net in board.nets}
    fed = {net for line in board.supplies for net in line.nets}
    for net in board.nets:
        if net.name not in touched:
            hint = did_you_mean(net.name, touched) or "take it out"
            yield net.place, f"nothing touches net {net.name}", hint
    for name, pins in touched.items():
        part, pin = pins[0]
        padded = name in declared and declared[name].pad
        if len(pins) == 1 and part.kind != "connector" and not padded and name not in fed:
            meant = nearest(name, [n for n in touched if n != name]) if len(touched) < _MANY else ""
            hint = f"did you mean {meant}?" if meant else f"if a probe reaches it, say so: net {name} pad=TP1"
            yield part.place, f"net {name} ends at {part.ref}.{pin}: nothing else is on it", hint


def _case(board: Board, touched: dict[str, list[tuple[Part, str]]]) -> Iterator[Doubt]:
    places: dict[str, Place | None] = {net.name: net.place for net in board.nets}
    for name, pins in touched.items():
        places.setdefault(name, pins[0][0].place)
    yield from _folded(places, "nets")
    yield from _folded({part.ref: part.place for part in board.parts}, "parts")


def _folded(places: dict[str, Place | None], what: str) -> Iterator[Doubt]:
    seen: dict[str, str] = {}
    for name, place in places.items():
        first = seen.setdefault(name.casefold(), name)
        if first != name:
            yield (place, f"{what} {first} and {name} differ only in case",
                   "they are two; write one name if one is meant")


def _shorted(parts: Iterable[Part]) -> Iterator[Doubt]:
    for part in parts:
        if part.kind == "connector":
            continue
        nets = {net for _, net in part.pins}
        if len(nets) == 1 and len(part.pins) > 1:
            yield part.place, f"{part.ref} has all its pins on net {nets.pop()}", _UNSEEN
        elif part.kind in ("choke", "transformer"):
            for name, pins in windings(part.pin_names).items():
                if len(pins) > 1 and len({part.net(pin) for pin in pins}) == 1:
                    net = part.net(pins[0])
                    yield part.place, f"winding {name} of {part.ref} has all its pins on net {net}", _UNSEEN


def _values(parts: Iterable[Part]) -> Iterator[Doubt]:
    for part in parts:
        doubt = value_doubt(part)
        if doubt:
            yield part.place, *doubt
        for message, hint in option_doubts(part):
            yield part.place, message, hint


def _near_options(parts: Iterable[Part]) -> Iterator[Doubt]:
    """Pins of an open kind that look like a mistyped option: ``suply=VCC`` is a pin there."""
    for part in parts:
        kind = KINDS.get(part.kind)
        if kind is None or kind.style != "open":
            continue
        names = [name for name in kind.option_names if len(name) > 3 and not name.endswith("*")]
        for pin in part.pin_names:
            meant = nearest(pin, names) if len(pin) > 3 and pin.islower() else ""  # COMP is no clamps
            if meant:
                yield (part.place, f"{pin} of {part.ref} is taken as the name of a pin",
                       f"did you mean {meant}=?")


def _islands(board: Board) -> Iterator[Doubt]:
    """Groups of parts that no net joins to the largest group; a part joins all its nets."""
    above: dict[str, str] = {}

    def top(net: str) -> str:
        while above.setdefault(net, net) != net:
            above[net] = above[above[net]]  # halve the way for the next walk
            net = above[net]
        return net

    for part in board.parts:
        for _, net in part.pins[1:]:
            above[top(net)] = top(part.pins[0][1])
    groups: dict[str, list[Part]] = {}
    for part in board.parts:
        if part.pins:
            groups.setdefault(top(part.pins[0][1]), []).append(part)
    largest = max(groups.values(), key=len, default=[])
    for group in groups.values():
        if group is not largest:
            refs = ", ".join(part.ref for part in group[:5]) + (" …" if len(group) > 5 else "")
            yield (group[0].place, f"{refs}: no net joins this to the rest of the board",
                   "check the names of its nets")


def _ambiguous(board: Board) -> Iterator[Doubt]:
    dotted = {n: p.place for p in board.parts for _, n in p.pins if "." in n}
    dotted.update({name: net.place for net in board.nets for name in (net.name, net.pad) if "." in name})
    for name, place in dotted.items():
        message = ambiguity(board, name)
        if message:
            yield place, message, "call the net otherwise"
