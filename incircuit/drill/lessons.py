"""The lesson behind an exercise, in a sentence, and the page of examples/lessons that shows it."""

from __future__ import annotations

from dataclasses import dataclass

from incircuit.board.model import Board, Part
from incircuit.drill.case import Case
from incircuit.drill.way import Way


@dataclass(frozen=True, slots=True)
class Lesson:
    """`page` is the name of a file in examples/lessons without its ending."""

    page: str
    sentence: str


LESSONS: dict[str, Lesson] = {lesson.page: lesson for lesson in (
    Lesson("parallel-resistor",
           "A small resistor across a diode carries the meter's current: the reading is the resistor's "
           "and says nothing about the diode."),
    Lesson("two-junctions",
           "A way through two junctions reads almost twice one. Half of that means that one of them is "
           "shorted, and not necessarily the one under the probes."),
    Lesson("climbing-capacitor",
           "A capacitor reads short at first and climbs while the meter charges it. Wait until the "
           "display stands still, and judge that."),
    Lesson("range-and-current",
           "The ohms of a junction are not a property of it: they change with the range, because the "
           "test current does. Compare only readings of one range."),
    Lesson("low-voltage-ohms",
           "Ohms below the threshold of a junction see through to the resistors: where the parts across "
           "a resistor are junctions, low-voltage ohms reads the resistor alone."),
    Lesson("shorted-switch",
           "A shorted switch pulls down what is measured two parts away. Ask who else lies between the "
           "probes before you condemn what is under them."),
    Lesson("equal-legs",
           "Legs that are built alike must read alike. The comparison needs no table, and it finds what "
           "a wide band hides."),
    Lesson("winding-reads-short",
           "A winding reads short on every meter and is fine. A shorted turn does not show; an open one "
           "does."),
    Lesson("led-reads-ol",
           "A white or blue LED needs more volts than many diode tests give: OL both ways and fine."),
    Lesson("residual-charge",
           "A capacitor that holds a charge makes the meter lie, and can hurt. Discharge it, verify on "
           "volts, and measure again."),
    Lesson("which-lead",
           "Where no reading in place can tell, lift the cheapest lead that opens the way around the "
           "part, not the part itself."),
)}
"""Every lesson by the name of its page."""

_WOUND = frozenset({"inductor", "choke", "transformer", "relay", "motor-winding"})
_SWITCHES = frozenset(
    {"igbt", "nmos", "pmos", "npn", "pnp", "darlington", "half-bridge", "three-phase-inverter"}
)
_JUNCTIONS = frozenset({"diode", "zener", "tvs", "dual-diode", "bridge", "three-phase-bridge"})


def lesson_behind(case: Case, way: Way) -> Lesson:
    """What an exercise teaches, told by what was hidden and how it could be found."""
    hidden = next((h for h in case.faults if h.part), None)
    if case.faults and hidden is None:
        return LESSONS["shorted-switch"]  # a solder bridge
    if hidden is None:
        shunted = any(_has_resistor_across(case.board, p) for p in case.board.parts if p.kind in _JUNCTIONS)
        return LESSONS[
            "parallel-resistor" if shunted else "equal-legs" if case.board.alike else "which-lead"
        ]
    part = case.board.part(hidden.part)
    if part.kind == "led":
        return LESSONS["led-reads-ol"]
    if part.kind in _WOUND:
        return LESSONS["winding-reads-short"]
    if part.kind in _JUNCTIONS and _has_resistor_across(case.board, part):
        return LESSONS["parallel-resistor"]
    if way.lifts:
        return LESSONS["which-lead"]
    if part.kind in _SWITCHES and hidden.word == "short":
        return LESSONS["shorted-switch"]
    if part.kind in _JUNCTIONS:
        return LESSONS["two-junctions"]
    if part.kind == "capacitor":
        return LESSONS["climbing-capacitor"]
    if any(part.ref in group for group in case.board.alike):
        return LESSONS["equal-legs"]
    if not _has_junction_across(case.board, part):
        return LESSONS["shorted-switch" if hidden.word in ("short", "leaky") else "parallel-resistor"]
    return LESSONS["parallel-resistor" if hidden.word in ("open", "short") else "range-and-current"]


def _has_resistor_across(board: Board, part: Part) -> bool:
    return any(p.kind in ("resistor", "shunt") for p in _across(board, part))


def _has_junction_across(board: Board, part: Part) -> bool:
    return any(p.kind in _JUNCTIONS | _SWITCHES or p.kind in ("led", "chip") for p in _across(board, part))


def _across(board: Board, part: Part) -> list[Part]:
    """Other parts with pins on two nets of a part."""
    nets = {net for _, net in part.pins}
    return [p for p in board.parts if p.ref != part.ref and len({net for _, net in p.pins} & nets) > 1]
