"""Options that all questions share, and what they stand for."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from incircuit.board.model import Board
    from incircuit.meter.profile import Meter
    from incircuit.predict.question import Question

F = TypeVar("F", bound=Callable[..., Any])

MODES = ("diode", "ohms", "continuity")
MORE_MODES = ("farads", "esr", "volts")
"""Modes for which the board charges, is tested at a frequency, or is powered."""
NAMES = {"ignore_unknown_options": True}
"""Nets are called -12V and meters show -0.002: such words are not options."""
COLDEST, HOTTEST = -60.0, 200.0
"""[°C] The data of the parts hold within; a working board on a bench never leaves it (from memory)."""


@dataclass(frozen=True, slots=True)
class Setup:
    """A question with the meter, as the options describe it."""

    board: str
    question: Question
    meter: Meter
    engine: str
    swap: bool
    as_json: bool


def shared_options(function: F) -> F:
    """The options every question takes."""
    for option in reversed((
        click.option("--part", metavar="REF",
                     help="The part in question (default: the one between the pads)."),
        click.option("--meter", default="handheld", show_default=True, metavar="NAME|FILE",
                     help="A shipped meter or a profile of your own."),
        click.option("--swap", is_flag=True, help="Red lead on the second pad, black on the first."),
        click.option("--lift", multiple=True, metavar="REF.PIN", help="This pin is unsoldered. Repeatable."),
        click.option("--remove", multiple=True, metavar="REF",
                     help="This part is off the board. Repeatable."),
        click.option("--fault", multiple=True, metavar='"REF FAULT"',
                     help='The board has this fault, such as "Q1 short". Repeatable.'),
        click.option("--celsius", type=float, default=25.0, show_default=True,
                     help="Temperature of the board."),
        click.option("--charge", multiple=True, metavar='"REF VOLTS"',
                     help="A capacitor or an insulated gate that is charged. Repeatable."),
        click.option("--hot", multiple=True, metavar='"REF CELSIUS"',
                     help="A part at a temperature of its own, after soldering. Repeatable."),
        click.option("--engine", type=click.Choice(["own", "ngspice"]), default="own", show_default=True,
                     help="Who solves the nominal board; drawn boards are always solved by the own engine."),
        click.option("--json", "as_json", is_flag=True, help="For programs; SI units, schema 1."),
    )):
        function = option(function)
    return function


def mains_volts(text: str | None, board: Board) -> float | None:
    """Volts of an option ``--mains``; None where it was not given. Raises IncircuitError."""
    from incircuit.board.supplies import HIGHEST
    from incircuit.errors import StateError

    if text is None:
        return None
    volts = option_value("--mains", text, "V")
    if not 0.0 < volts <= HIGHEST:
        raise StateError(f"--mains {text}: no mains has {volts:g} V, expected volts such as 230")
    if not any(line.word == "mains" for line in board.supplies):
        raise StateError("--mains: the board file does not say where mains comes in: add a line such as "
                         "mains L N 230V")
    return volts


def option_value(option: str, text: str, unit: str) -> float:
    """The value of an option. Raises UnitError, which names the option."""
    from incircuit.errors import UnitError
    from incircuit.units import parse_value

    try:
        return parse_value(text, unit)
    except UnitError as error:
        raise UnitError(f"{option}: {error}") from error


def prepare(board: str, red: str, black: str, *, part: str | None, meter: str, swap: bool,
            lift: tuple[str, ...], remove: tuple[str, ...], fault: tuple[str, ...], celsius: float,
            engine: str, as_json: bool, charge: tuple[str, ...] = (), hot: tuple[str, ...] = (),
            power: tuple[str, ...] = ()) -> Setup:
    """Read the board and the meter and resolve the pads. Raises IncircuitError."""
    from incircuit.board import make_state, read_board
    from incircuit.errors import StateError
    from incircuit.meter.profile import load_meter
    from incircuit.predict.question import ask_about, different_pads

    if not COLDEST <= celsius <= HOTTEST:  # also where it is not a number
        raise StateError(f"--celsius {celsius:g}: expected {COLDEST:g} to {HOTTEST:g} °C")
    read = read_board(board)
    state = make_state(read, lift=lift, remove=remove, faults=fault, celsius=celsius, charge=charge, hot=hot,
                       power=power)
    question = ask_about(read, state, red, black, part)
    different_pads(question)
    return Setup(board, question, load_meter(meter), engine, swap, as_json)
