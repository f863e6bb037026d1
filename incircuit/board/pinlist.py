"""Which pins a part has been given, against those its kind needs: says what is wrong, not where."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from incircuit.board.faults import a_, nearest
from incircuit.board.kinds import KindSpec


class PinFault(NamedTuple):
    """A fault of the pins; `pin` is the one at fault, ``""`` for the part as a whole."""

    pin: str
    message: str
    hint: str


def taught(kind: KindSpec, ref: str, nets: Sequence[str]) -> PinFault:
    """For a kind that needs named pins and was given bare nets: how it is written.

    A diode the wrong way round is a wrong answer, so nets without pin names are refused.
    """
    names = kind.pins or tuple(str(i + 1) for i in range(len(nets)))
    shown = [f"{name}={net}" for name, net in zip(names, nets, strict=False)]
    shown += [f"{name}=NET" for name in names[len(nets):]]
    return PinFault("", f"{a_(kind.name)} needs every pin by name",
                    f"write {ref} {kind.name} {' '.join(shown)}, each net behind its own pin")


def pin_faults(kind: KindSpec, ref: str, given: Sequence[str], words: tuple[str, ...]) -> Iterator[PinFault]:
    """Missing and foreign pins of a part with these pin names and words."""
    if kind.style == "open":
        if not given:
            yield PinFault("", f"{a_(kind.name)} needs at least one pin", f"write {ref} {kind.name} 1=NET")
        return
    layouts = kind.required_pins(words)
    layout = max(layouts, key=lambda names: (len(set(names) & set(given)), -len(names)))
    if kind.style == "bare" and not set(given) - {"1", "2"}:
        layout = ("1", "2")
    missing = [name for name in layout if name not in given]
    foreign = [name for name in given if name not in layout and name not in kind.optional]
    if layout == ("1", "2") and missing and not foreign:
        yield PinFault("", f"{a_(kind.name)} needs two nets, {len(given) or 'none'} given",
                       f"write {ref} {kind.name} NET NET")
    elif missing or foreign:
        yield from _misfits(kind, layout, missing, foreign, set(given), words)


def _misfits(kind: KindSpec, layout: tuple[str, ...], missing: list[str], foreign: list[str], given: set[str],
             words: tuple[str, ...]) -> Iterator[PinFault]:
    bound = dict(kind.word_layouts)
    chosen = next((w for w, names in bound.items() if names == layout), "")
    who = a_(f"{chosen} {kind.name}" if chosen else kind.name)
    meant = next((w for w, names in bound.items() if set(names) == given and w not in words), "")
    if meant:
        yield PinFault(foreign[0], f"{who} has the pins {' '.join(layout)}",
                       f"these are the pins of {meant}: write that word behind them")
        return
    for name in foreign:
        other = nearest(name, missing)
        yield PinFault(name, f"pin {name} does not go with {who} that has {' '.join(layout)}",
                       f"did you mean {other}?" if other else "take it out")
    if missing and not foreign:
        optional = f", and {' '.join(kind.optional)} if wanted" if kind.optional else ""
        yield PinFault("", f"{who} needs pin{'s' if len(missing) > 1 else ''} {' '.join(missing)} too",
                       f"its pins are {' '.join(layout)}{optional}")
