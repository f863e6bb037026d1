"""What an expansion works on: one part, its nodes, its options read strictly, and what was wrong.

Family modules (`passive`, `wound`, `diodes`, `transistors`, `switches`, `chips`) take a `Sheet` and
return elements. A bad option text is noted in `Sheet.problems` and the default taken, so that one
pass finds every fault of a part; `expand` then raises and `check_parts` collects.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from incircuit.board.faults import did_you_mean
from incircuit.board.kinds import KindSpec, OptionSpec
from incircuit.board.model import Part
from incircuit.errors import Problem, UnitError
from incircuit.parts.data import Row, class_row, row
from incircuit.parts.elements import EXACT, Coil, Resistance, Spread
from incircuit.units import parse_value, shown


@dataclass(frozen=True, slots=True)
class Sheet:
    """A part being expanded.

    `nodes` overrides the node of a pin (a lifted pin); the default is the pin's net. `group` is the
    `alike` set, empty if none. `charge` [V] is what the state left on the part. `line` is the raw
    line of the board file, for the caret.
    """

    part: Part
    spec: KindSpec
    nodes: Mapping[str, str] = field(default_factory=dict)
    group: str = ""
    charge: float = 0.0
    line: str = ""
    problems: list[Problem] = field(default_factory=list)

    @property
    def ref(self) -> str:
        """The part's reference."""
        return self.part.ref

    def complain(self, message: str, at: str = "", hint: str = "") -> None:
        """Note a fault; the caret goes below the text `at` of the line where it stands there."""
        place = self.part.place
        file, line, column = (place.file, place.line, place.column) if place else ("board", 1, 1)
        found = f" {self.line}".find(f" {at}") if at and self.line else -1
        self.problems.append(Problem(file, line, found + 1 if found >= 0 else column,
                                     f"{self.ref}: {message}", self.line, hint))

    def node(self, pin: str) -> str:
        """Node of a pin; notes a fault for a pin the part lacks."""
        if pin in self.nodes:
            return self.nodes[pin]
        for name, net in self.part.pins:
            if name == pin:
                return net
        self.complain(f"{self.spec.name} has no pin {pin} here", self.ref,
                      f"pins: {' '.join(self.spec.pins)}")
        return f"{self.ref} {pin}"

    def has(self, pin: str) -> bool:
        """Whether the part was given that pin."""
        return pin in self.part.pin_names

    def inner(self, what: str) -> str:
        """A node inside the part: no net has a blank in its name."""
        return f"{self.ref} {what}"

    def name(self, what: str) -> str:
        """Name of an element."""
        return f"{self.ref} {what}"

    def word(self, group: int = 0) -> str:
        """The part's word of a group of its kind, or the default."""
        return self.spec.chosen(self.part.words, group)

    def data(self) -> Row:
        """Defaults of the part's kind and class."""
        return class_row(self.spec.name, self.word())


def two_pins(sheet: Sheet) -> tuple[str, str]:
    """Names of the two pins of a two-pin part, plus or 1 first."""
    names = sheet.part.pin_names
    for pair in (("+", "-"), ("1", "2"), ("A", "K")):
        if set(names) == set(pair):
            return pair
    return (names[0], names[1]) if len(names) == 2 else ("1", "2")


def given(sheet: Sheet, *keys: str) -> bool:
    """Whether the part has any of these options."""
    return any(sheet.part.option(key) is not None for key in keys)


def number(sheet: Sheet, key: str, default: float) -> float:
    """Value of an option in SI units, or the default; notes a fault for text that is not one."""
    text = sheet.part.option(key)
    if text is None:
        return default
    spec = sheet.spec.option(key) or OptionSpec(key, "")
    unit = "%" if spec.form == "percent" else spec.unit or "1"
    return _read(sheet, key, text, unit, spec, default)


def _read(sheet: Sheet, key: str, text: str, unit: str, spec: OptionSpec, default: float) -> float:
    at = f"{key}="
    try:
        value = parse_value(text, unit)
    except UnitError as error:
        sheet.complain(f"{key}: {error}", at)
        return default
    if value < 0.0 and not spec.signed:
        sheet.complain(f"{key}={shown(text)} is below zero", at, "give the amount without sign")
        return default
    if value == 0.0 and not spec.zero:
        sheet.complain(f"{key}={shown(text)} cannot be zero", at)
        return default
    if unit == "%" and value > 1.0:
        sheet.complain(f"{key}={shown(text)} is more than 100%", at)
        return default
    return value


def drop_option(sheet: Sheet, key: str) -> tuple[float, float] | None:
    """``vf=0.62@1mA`` as (volts, amps), 1 mA where no current follows; None where absent or wrong."""
    text = sheet.part.option(key)
    if text is None:
        return None
    volts, sign, amps = text.partition("@")
    spec = OptionSpec(key, "", zero=False)
    before = len(sheet.problems)
    pair = (_read(sheet, key, volts, "V", spec, 1.0),
            _read(sheet, key, amps, "A", spec, 1e-3) if sign else 1e-3)
    return pair if len(sheet.problems) == before else None


def is_none(sheet: Sheet, key: str) -> bool:
    """Whether ``key=none`` is given; any other word is a fault."""
    text = sheet.part.option(key)
    if text is not None and text != "none":
        sheet.complain(f"{key}={shown(text)} is not known", f"{key}=", f"leave it out or write {key}=none")
    return text == "none"


def value(sheet: Sheet, what: str) -> float:
    """The part's value; notes a fault where it is missing."""
    if sheet.part.value is None:
        sheet.complain(f"{sheet.spec.name} needs a value in {what}", sheet.ref)
        return 1.0
    return sheet.part.value


def tolerance(sheet: Sheet) -> float | None:
    """The part's tolerance as typed (``5%`` or ``tol=5%``), a fraction; None where not typed."""
    if sheet.part.tolerance is not None:
        return sheet.part.tolerance
    return number(sheet, "tol", 0.0) if given(sheet, "tol") else None


def spread(sheet: Sheet, whole: float, match: float, what: str, package: bool = False) -> Spread:
    """Spread of a parameter: `whole` between parts, `match` within a package or an `alike` set.

    `what` keeps unlike parameters of one group apart (drop, ohms, farads, threshold).
    """
    group = sheet.group or (sheet.ref if package else "")
    if group:
        return Spread(own=match, shared=whole, group=f"{group} {what}")
    return Spread(own=whole) if whole else EXACT


def relative(sheet: Sheet, tol: float, what: str = "ohms", match: float | None = None,
             package: bool = False) -> Spread:
    """Spread of a value with a tolerance; between parts of one reel a share of it is left.

    What parts have in common and what is their own make up the tolerance together.
    """
    left = tol * row("classes", "batch").number("share") if match is None else min(match, tol)
    alike = bool(sheet.group) or package
    return spread(sheet, tol - left if alike else tol, left, what, package)


def option_ohms(sheet: Sheet, key: str, default: float, tol: float) -> tuple[float, float]:
    """(ohms, tolerance) of an option resistance: as typed with a typed part's tolerance, or the class's."""
    if given(sheet, key):
        tol = row("classes", "typed").number("tol")
    typed = tolerance(sheet)
    return number(sheet, key, default), tol if typed is None else typed


def resistance(sheet: Sheet, what: str, a: str, b: str, ohms: float, spread: Spread = EXACT,
               henries: float = 0.0, ntc_beta: float = 0.0, tempco: float = 0.0,
               coil: Coil | None = None) -> Resistance:
    """A resistance of this part between two nodes."""
    return Resistance(sheet.name(what), sheet.ref, a, b, ohms, spread, henries, ntc_beta, tempco, coil=coil)


def hint(word: str, known: Sequence[str]) -> str:
    """The nearest known word, or all of them."""
    return did_you_mean(word, known) or f"known: {' '.join(known)}"
