"""Faults that show only when all files are read: pads, alike groups, nets declared twice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import replace

from incircuit.board.faults import Faults, Line, a_, did_you_mean
from incircuit.board.grammar import Alike
from incircuit.board.model import Net, Part


def merged_net(first: Net, second: Net) -> Net | str:
    """Two declarations of one net in different files as one, or why they do not go together."""
    assert first.place is not None
    assert second.place is not None
    if first.place.file == second.place.file:
        return "declare it once"
    if first.hidden != second.hidden:
        return "one file says hidden, the other does not"
    if first.pad and second.pad and first.pad != second.pad:
        return f"its pad is {first.pad} there and {second.pad} here"
    return replace(first, text=first.text or second.text, pad=first.pad or second.pad)


def check_pads(nets: Mapping[str, Net], lines: Mapping[str, Line], parts: Mapping[str, Part],
               faults: Faults) -> None:
    """Note pads that mean two things. `lines` are those that declared the nets."""
    used = {net for part in parts.values() for _, net in part.pins} | set(nets)
    pads: dict[str, Net] = {}
    for net in nets.values():
        if not net.pad:
            continue
        line = lines[net.name]
        column = max(line.text.find(f"pad={net.pad}"), 0) + 1
        if net.pad in pads:
            faults.add(line, column, f"pad {net.pad} is on net {pads[net.pad].name} already",
                       "every pad has its own name")
        elif net.pad in used and net.pad != net.name:
            faults.add(line, column, f"pad {net.pad} of net {net.name} is the name of another net",
                       "call the pad otherwise")
        pads[net.pad] = net


def check_alike(groups: Sequence[Alike], parts: Mapping[str, Part], broken: Set[str], faults: Faults) -> None:
    """Note alike groups that do not hold. `broken` refs have faults of their own and are left out."""
    grouped: dict[str, Alike] = {}
    for group in groups:
        first = next((ref for ref in group.refs if ref in parts), "")
        for ref, column in zip(group.refs, group.columns, strict=True):
            if ref not in broken:
                wrong, hint = _alike_fault(ref, first, parts, grouped)
                if wrong:
                    faults.add(group.line, column, f"alike: {wrong}", hint)
            grouped.setdefault(ref, group)


def _alike_fault(ref: str, first: str, parts: Mapping[str, Part],
                 grouped: Mapping[str, Alike]) -> tuple[str, str]:
    if ref not in parts:
        return f'there is no part "{ref}"', did_you_mean(ref, parts) or "name parts of this board"
    if parts[ref].kind != parts[first].kind:
        return (f"{ref} is {a_(parts[ref].kind)}, {first} {a_(parts[first].kind)}",
                "only parts of one kind can be alike")
    if ref in grouped:
        return (f"{ref} is in a group already, in line {grouped[ref].line.number}",
                "write one alike statement for the whole group")
    return "", ""
