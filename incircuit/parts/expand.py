"""From a part to the elements it is made of. One function per kind, listed in `EXPANDERS`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from incircuit.board.kinds import KINDS, kind_named
from incircuit.board.model import Board, Part
from incircuit.errors import BoardError, Problem
from incircuit.parts import chips, diodes, passive, switches, transistors, wound
from incircuit.parts.elements import Element
from incircuit.parts.sheet import Sheet, hint

Expander = Callable[[Sheet], tuple[Element, ...]]

EXPANDERS: Mapping[str, Expander] = MappingProxyType({
    "resistor": passive.resistor,
    "fuse": passive.contact,
    "jumper": passive.contact,
    "link": passive.contact,
    "shunt": passive.resistor,
    "thermistor": passive.thermistor,
    "varistor": passive.varistor,
    "spark-gap": passive.nothing,
    "potentiometer": passive.potentiometer,
    "capacitor": passive.capacitor,
    "crystal": passive.nothing,
    "inductor": wound.inductor,
    "choke": wound.choke,
    "transformer": wound.transformer,
    "relay": wound.relay,
    "motor-winding": wound.motor_winding,
    "diode": diodes.diode,
    "dual-diode": diodes.dual_diode,
    "bridge": diodes.bridge,
    "three-phase-bridge": diodes.bridge,
    "zener": diodes.zener,
    "tvs": diodes.tvs,
    "led": diodes.diode,
    "thyristor": diodes.thyristor,
    "triac": diodes.triac,
    "diac": diodes.diac,
    "npn": transistors.transistor,
    "pnp": transistors.transistor,
    "darlington": transistors.darlington,
    "bias-transistor": transistors.bias_transistor,
    "nmos": transistors.mos,
    "pmos": transistors.mos,
    "igbt": switches.igbt,
    "half-bridge": switches.half_bridge,
    "three-phase-inverter": switches.three_phase_inverter,
    "optocoupler": transistors.optocoupler,
    "shunt-regulator": chips.shunt_regulator,
    "linear-regulator": chips.linear_regulator,
    "switch": passive.contact,
    "connector": passive.nothing,
    "chip": chips.chip,
})
"""What turns each kind into elements."""


def expand(part: Part, pin_nodes: Mapping[str, str] | None = None, group: str = "",
           charge: float = 0.0) -> tuple[Element, ...]:
    """The elements of a healthy part, in a fixed order, named ``"REF what"``.

    `pin_nodes` overrides the node of a pin (a lifted one); the default is its net. `group` names
    the `alike` set the part belongs to. `charge` [V] is left on its capacitor (first pin or +
    positive) or between its gates and sources. Raises BoardError with every bad option of the part.
    """
    elements, problems = _expanded(part, pin_nodes or {}, group, charge, "")
    if problems:
        raise BoardError(problems)
    return elements


def _expanded(part: Part, nodes: Mapping[str, str], group: str, charge: float,
              line: str) -> tuple[tuple[Element, ...], tuple[Problem, ...]]:
    spec = kind_named(part.kind)
    if spec is None:
        place = part.place
        where = (place.file, place.line, place.column) if place else ("board", 1, 1)
        problem = Problem(*where, f"{part.ref}: unknown kind {part.kind}", line,
                          hint(part.kind, tuple(KINDS)))
        return (), (problem,)
    sheet = Sheet(part, spec, nodes, group, charge, line)
    elements = EXPANDERS[spec.name](sheet)
    return elements, tuple(dict.fromkeys(sheet.problems))


def alike_group(board: Board, ref: str) -> str:
    """Name of the `alike` set a part belongs to, empty if none."""
    return next((f"alike {' '.join(refs)}" for refs in board.alike if ref in refs), "")


def expand_all(board: Board) -> tuple[Element, ...]:
    """The elements of every part of a healthy board. Raises BoardError with the faults of all parts."""
    problems = check_parts(board)
    if problems:
        raise BoardError(problems)
    return tuple(element for part in board.parts
                 for element in expand(part, group=alike_group(board, part.ref)))


def check_parts(board: Board) -> tuple[Problem, ...]:
    """Every option, value and pin of every part that cannot be used, with its line and a caret."""
    lines = {(s.place.file, s.place.line): s.text for s in board.statements if s.place}
    found: list[Problem] = []
    for part in board.parts:
        line = lines.get((part.place.file, part.place.line), "") if part.place else ""
        found += _expanded(part, {}, "", 0.0, line)[1]
    return tuple(found)
