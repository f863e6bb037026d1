"""What a part's own pins must bear out: windings of a transformer, pins that options name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from incircuit.board.faults import did_you_mean
from incircuit.board.kinds import KindSpec


def windings(pins: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Pins by winding: those that share a name without its final number, in order of that number.

    >>> windings(["P1", "P2", "S3", "S1", "S2"])
    {'P': ('P1', 'P2'), 'S': ('S1', 'S2', 'S3')}
    """
    groups: dict[str, list[str]] = {}
    for pin in pins:
        groups.setdefault(_stem(pin), []).append(pin)
    return {name: tuple(sorted(group, key=lambda pin: _number(pin, name))) for name, group in groups.items()}


def own_faults(kind: KindSpec, ref: str, pins: Sequence[str],
               options: Sequence[tuple[str, str]]) -> Iterator[tuple[str, str, str]]:
    """(option key or "", message, hint) for a lone winding pin, or an option that names no pin or winding."""
    if kind.name == "transformer":
        for name, group in windings(pins).items():
            if len(group) < 2:
                yield ("", f"pin {group[0]} is the only one of winding {name or group[0]}",
                       f"a winding has two pins or more: {name or 'P'}1 and {name or 'P'}2")
    for key, text in options:
        spec = kind.option(key)
        if spec is not None and spec.form == "pins":
            for pin in text.split(","):
                if pin not in pins:
                    yield (key, f'{key}: {ref} has no pin "{pin}"',
                           did_you_mean(pin, pins) or _list("pins", pins))
        elif spec is not None and spec.name.endswith(".*"):
            name, known = key.partition(".")[2], windings(pins)
            if name not in known:
                yield (key, f'{key}: {ref} has no winding "{name}"',
                       did_you_mean(name, known) or _list("windings", list(known)))


def _list(what: str, names: Sequence[str]) -> str:
    return f"its {what} are {' '.join(names[:12])}"


def _stem(pin: str) -> str:
    return pin.rstrip("0123456789")


def _number(pin: str, stem: str) -> int:
    return int(pin[len(stem):] or "0")
