"""What has been done to the board: lifted, removed, jumpered, charged, made faulty."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from incircuit.board.faults import did_you_mean
from incircuit.board.model import Board
from incircuit.board.supplies import HIGHEST
from incircuit.errors import PadError, StateError, UnitError
from incircuit.units import parse_value, shown

ABSOLUTE_ZERO = -273.15
"""[°C] (SI)."""

COLDEST, HOTTEST = -100.0, 500.0
"""[°C] A part between freezing spray and molten solder with room to spare (from memory)."""

HOLDS_CHARGE = ("capacitor", "igbt", "nmos", "pmos")
"""Kinds that can keep a charge: a capacitor, or an insulated gate."""


@dataclass(frozen=True, slots=True)
class State:
    """The condition of the board on the bench, immutable.

    `lifted` holds (ref, pin); `removed` refs; `jumpers` pairs of nets joined by a wire;
    `faults` fault texts as typed, such as ``Q1 short C-E``; `charge` (ref, volts) left on a
    capacitor or an insulated gate; `celsius` the temperature of the board, `hot` (ref, °C) parts at one of
    their own; `power` (plus, minus, volts) supplies put on, between nodes.
    """

    lifted: frozenset[tuple[str, str]] = frozenset()
    removed: frozenset[str] = frozenset()
    jumpers: tuple[tuple[str, str], ...] = ()
    faults: tuple[str, ...] = ()
    charge: tuple[tuple[str, float], ...] = ()
    celsius: float = 25.0
    hot: tuple[tuple[str, float], ...] = ()
    power: tuple[tuple[str, str, float], ...] = ()


HEALTHY = State()


def pad_node(ref: str, pin: str) -> str:
    """Node of a lifted pin: it has left its net. A blank cannot occur in a net name."""
    return f"{ref} {pin}"


def make_state(board: Board, *, lift: Iterable[str] = (), remove: Iterable[str] = (),
               short: Iterable[str] = (), charge: Iterable[str] = (), faults: Iterable[str] = (),
               celsius: float = 25.0, hot: Iterable[str] = (), power: Iterable[str] = ()) -> State:
    """The state that texts such as a command line's describe.

    `lift` holds pins (``D3.K``), `remove` refs (``Q1``), `short` two pads each (``GATE RTN``),
    `charge` a ref and volts (``C9 48``), `faults` a ref and a defect (``Q1 short C-E``; the defect
    is checked by `incircuit.parts`), `celsius` [°C] the board's temperature, `hot` a ref and degrees
    (``Q1 90``), `power` two pads and volts, plus first (``BUS RTN 325``). Raises StateError.
    """
    if not math.isfinite(celsius) or celsius <= ABSOLUTE_ZERO:
        raise StateError(f"a board cannot be at {celsius} °C: give its temperature in degrees Celsius")
    lifted = frozenset(_lifted(board, text) for text in lift)
    state = State(lifted, frozenset(_ref(board, text, "remove") for text in remove))
    charges = dict(_charge(board, text) for text in charge)
    return State(lifted, state.removed, tuple(_jumper(board, state, text) for text in short),
                 tuple(_fault(board, text) for text in faults), tuple(charges.items()), float(celsius),
                 tuple(dict(_hot(board, text) for text in hot).items()),
                 tuple(_supply(board, state, text) for text in power))


def _ref(board: Board, text: str, what: str) -> str:
    ref = text.strip()
    if any(part.ref == ref for part in board.parts):
        return ref
    hint = did_you_mean(ref, [part.ref for part in board.parts])
    raise StateError(f'{what}: there is no part "{shown(ref)}"' + (f": {hint}" if hint else ""))


def _lifted(board: Board, text: str) -> tuple[str, str]:
    ref, dot, pin = text.strip().partition(".")
    ref = _ref(board, ref, "lift")
    names = board.part(ref).pin_names
    if not dot or pin not in names:
        known = " ".join(f"{ref}.{name}" for name in names[:12])
        problem = f'{ref} has no pin "{shown(pin)}"' if dot else f'"{shown(text)}" names no pin'
        raise StateError(f"lift: {problem}: write one of {known}")
    return ref, pin


def _jumper(board: Board, state: State, text: str) -> tuple[str, str]:
    from incircuit.board.pads import resolve_pad  # pads stands on State

    pads = text.split()
    if len(pads) != 2:
        raise StateError(f'short: "{shown(text)}" is not two pads: write GATE RTN')
    try:
        a, b = (resolve_pad(board, state, pad) for pad in pads)
    except PadError as error:
        raise StateError(f"short: {error}") from error
    if a == b:
        raise StateError(f"short: {pads[0]} and {pads[1]} are one net already")
    return a, b


def _charge(board: Board, text: str) -> tuple[str, float]:
    words = text.split()
    if len(words) != 2:
        raise StateError(f'charge: "{shown(text)}" is not a part and volts: write C9 48')
    ref = _ref(board, words[0], "charge")
    if board.part(ref).kind not in HOLDS_CHARGE:
        raise StateError(f"charge: {ref} is of kind {board.part(ref).kind}: only a capacitor or an insulated "
                         "gate keeps a charge")
    try:
        volts = parse_value(words[1], "V")
    except UnitError as error:
        raise StateError(f"charge: {error}") from error
    return ref, _bounded("charge", volts)


def _hot(board: Board, text: str) -> tuple[str, float]:
    words = text.split()
    if len(words) != 2:
        raise StateError(f'hot: "{shown(text)}" is not a part and degrees Celsius: write Q1 90')
    ref = _ref(board, words[0], "hot")
    try:
        celsius = parse_value(words[1].removesuffix("C").removesuffix("°"), "1")
    except UnitError as error:
        raise StateError(f"hot: {error}") from error
    if not COLDEST <= celsius <= HOTTEST:
        raise StateError(f"hot: {celsius:g} °C is no temperature of a part on the bench: between {COLDEST:g} "
                         f"and {HOTTEST:g}")
    return ref, celsius


def _supply(board: Board, state: State, text: str) -> tuple[str, str, float]:
    from incircuit.board.pads import resolve_pad  # pads stands on State

    words = text.split()
    if len(words) != 3:
        raise StateError(f'power: "{shown(text)}" is not two pads and volts: write BUS RTN 325')
    try:
        plus, minus = (resolve_pad(board, state, pad) for pad in words[:2])
        volts = parse_value(words[2], "V")
    except (PadError, UnitError) as error:
        raise StateError(f"power: {error}") from error
    if plus == minus:
        raise StateError(f"power: {words[0]} and {words[1]} are one net: a supply needs two")
    return plus, minus, _bounded("power", volts)


def _bounded(what: str, volts: float) -> float:
    if abs(volts) > HIGHEST:
        raise StateError(f"{what}: {volts:g} V is no voltage of a board: at most {HIGHEST:g}")
    return volts


def _fault(board: Board, text: str) -> str:
    words = text.split()
    if len(words) < 2:
        raise StateError(f'fault: "{shown(text)}" is not a part and what is wrong with it: write Q1 short')
    return " ".join([_ref(board, words[0], "fault"), *words[1:]])
