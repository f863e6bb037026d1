"""What the commands that give advice have in common: options, progress, cautions, bands in words."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, TypeVar

import click

from incircuit.report.cautions import CAUTION as CAUTION
from incircuit.report.words import band_words as band_words
from incircuit.report.words import faults_words as faults_words
from incircuit.report.words import pad_words as pad_words
from incircuit.report.words import probe_words as probe_words

if TYPE_CHECKING:
    from incircuit.advise.costs import Costs
    from incircuit.advise.lifts import Lift
    from incircuit.advise.outcomes import Probe
    from incircuit.board import Board
    from incircuit.circuit.build import Circuit
    from incircuit.meter.profile import Meter

F = TypeVar("F", bound=Callable[..., Any])

PATIENCE = 1.0
"""Seconds before progress is shown."""


def advice_options(function: F) -> F:
    """Options of every command that gives advice."""
    for option in reversed((
        click.option("--meter", default="handheld", show_default=True, metavar="NAME|FILE",
                     help="A shipped meter or a profile of your own."),
        click.option("--costs", default="", metavar="FILE",
                     help="What acts cost on your bench, where it differs (TOML)."),
        click.option("--json", "as_json", is_flag=True, help="For programs; SI units, schema 1."),
    )):
        function = option(function)
    return function


def state_options(function: F) -> F:
    """What has been done to the board."""
    for option in reversed((
        click.option("--lift", multiple=True, metavar="REF.PIN", help="This pin is unsoldered. Repeatable."),
        click.option("--remove", multiple=True, metavar="REF",
                     help="This part is off the board. Repeatable."),
    )):
        function = option(function)
    return function


def stage(board: str, meter: str, costs: str, lift: tuple[str, ...] = (),
          remove: tuple[str, ...] = ()) -> tuple[Circuit, Meter, Costs]:
    """The circuit in its state, the meter and the costs. Raises IncircuitError."""
    from incircuit.advise.costs import load_costs
    from incircuit.board import make_state, read_board
    from incircuit.circuit.build import build
    from incircuit.meter.profile import load_meter

    read = read_board(board)
    return build(read, make_state(read, lift=lift, remove=remove)), load_meter(meter), load_costs(costs)


def known_parts(board: Board, refs: Iterable[str]) -> tuple[str, ...]:
    """Refs that are on the board. Raises StateError with the nearest one."""
    from incircuit.board.faults import did_you_mean
    from incircuit.errors import StateError
    from incircuit.units import shown

    have = [p.ref for p in board.parts]
    for ref in refs:
        if ref not in have:
            hint = did_you_mean(ref, have)
            raise StateError(f'there is no part "{shown(ref)}" on this board' + (f": {hint}" if hint else ""))
    return tuple(refs)


class Progress:
    """Progress on standard error, in place, once it takes longer than `PATIENCE`; on a terminal only."""

    def __init__(self, doing: str) -> None:
        self.doing, self.begun, self.said = doing, time.monotonic(), -1

    def __call__(self, done: int, total: int) -> None:
        """Told how far it is."""
        share = 100 * done // max(total, 1)
        if share != self.said and time.monotonic() - self.begun >= PATIENCE and sys.stderr.isatty():
            self.said = share
            click.echo(f"{self.doing}: {share} % (Ctrl-C stops) \r", err=True, nl=False)

    def end(self) -> None:
        """Clears the line."""
        if self.said >= 0:
            click.echo(" " * 60 + "\r", err=True, nl=False)


def number(x: float) -> float | None:
    """A limit for JSON: null on overload or where it is not known."""
    return x if x == x and abs(x) != float("inf") else None


def probe_json(probe: Probe) -> dict[str, Any]:
    """A reading to take."""
    return {"red": probe.red, "black": probe.black, "mode": probe.mode}


def lift_json(lift: Lift | None) -> dict[str, Any] | None:
    """A lead to lift and the reading then."""
    if lift is None:
        return None
    pin = lift.leads[0][1] if lift.leads and not lift.off else None
    return {"act": lift.act, "part": lift.part, "pin": pin,
            "statements": list(lift.statements), "seconds": lift.seconds,
            "reading": probe_json(lift.probe) | {"red": pad_words(lift.probe.red),
                                                 "black": pad_words(lift.probe.black)},
            "one": number(lift.nominal), "other": number(lift.other)}
