"""`incircuit discharge`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.setup import NAMES, mains_volts
from incircuit.cli.text import columns, paragraph, say_json

if TYPE_CHECKING:
    from incircuit.power.discharge import Bank, Stored


@click.command(context_settings=NAMES,
               epilog="Example: incircuit discharge boards/pump-drive/boost-stage.board")
@click.argument("board")
@click.option("--mains", metavar="VOLTS", help="Effective mains voltage, instead of the board file's.")
@click.option("--json", "as_json", is_flag=True, help="For programs; SI units, schema 1.")
def discharge(board: str, mains: str | None, as_json: bool) -> None:
    """What the capacitors hold after the plug is out, and how to take it away.

    For each capacitor that may hold a dangerous charge: voltage, energy, the bleed path with its time, what
    happens if one of its resistors is open, and a resistor to discharge with. Voltages come from the lines
    `mains L N 230V` and `supply BUS RTN 390V` of the board file, else from ratings.
    """
    from incircuit.board import read_board
    from incircuit.power.discharge import stored

    read = read_board(board)
    rms = mains_volts(mains, read)
    if len(read.parts) > 60:
        click.echo("solving the powered board and every discharge …", err=True)
    found = stored(read, rms=rms)
    if as_json:
        say_json(stored_json(found))
    else:
        click.echo(_text(board, found))


def stored_json(found: Stored) -> dict[str, Any]:
    """What a board holds, as JSON: SI units, null for never or longer than a day."""
    from incircuit.power.limits import CAUTIONS, LIMITS, SHOCK_SOURCE

    return {
        "joules": found.joules, "unknown": list(found.unknown),
        "limits": [{"volts": v.volts, "seconds": v.seconds, "source": v.source} for v in LIMITS],
        "banks": [_bank_json(b) for b in found.banks],
        "stacks": [{"plus": a.plus, "minus": b.minus, "volts": a.volts + b.volts} for a, b in found.stacks],
        "shock_threshold": SHOCK_SOURCE,
        "cautions": [{"text": text, "source": source or None} for text, source in CAUTIONS],
    }


def _bank_json(b: Bank) -> dict[str, Any]:
    from dataclasses import asdict

    def finite(x: float) -> float | None:
        return x if x < float("inf") else None

    return {
        "parts": list(b.refs), "plus": b.plus, "minus": b.minus, "farads": b.farads, "volts": b.volts,
        "volts_from": b.why, "joules": b.joules, "can_hurt": b.can_hurt, "bleed_ohms": finite(b.ohms),
        "bleeders": list(b.bleeders), "time_constant": finite(b.time_constant), "seconds": list(b.seconds),
        "slowest": list(b.slowest),
        "one_open": [{"part": f.part, "bleed_ohms": finite(f.ohms), "seconds": list(f.seconds)}
                     for f in b.failing],
        "resistor": asdict(b.discharger),
    }


def _text(board: str, found: Stored) -> str:
    from incircuit.power.limits import CAUTIONS, LIMITS
    from incircuit.report import charge

    lines = [paragraph(f"{found.board.title or board}. Unplug and lock out first; nothing here says that the "
                       "board is empty.")]
    if not found.banks:
        lines += ["", paragraph(charge.NOTHING)]
    for bank in (b for b in found.banks if not b.slight):
        lines += ["", *_bank_lines(bank)]
    if slight := [b for b in found.banks if b.slight]:
        lines += ["", paragraph(charge.slight_head())]
        lines += [paragraph(charge.slight_words(b), "  ", "    ") for b in slight]
    for a, b in found.stacks:
        lines += ["", paragraph(charge.stack_words(a, b))]
    if unknown := charge.unknown_words(found):
        lines += ["", paragraph(unknown)]
    lines += ["", "Limits:", *(paragraph(f"{limit.source}.", "  ", "    ") for limit in LIMITS)]
    lines += ["", "Always:"]
    lines += [paragraph(f"{k}. {text}" + (f" ({source})" if source else ""), "  ", "     ")
              for k, (text, source) in enumerate(CAUTIONS, start=1)]
    return "\n".join(lines)


def _bank_lines(b: Bank) -> list[str]:
    from incircuit.report import charge

    lines = [paragraph(f"{charge.bank_words(b)} {charge.hurt_words(b)}".strip(), after="  "),
             paragraph(charge.bleed_words(b), "  ")]
    if b.bleeders:
        lines.append(columns(charge.bleed_head(), charge.bleed_rows(b), "    "))
    return [*lines, paragraph(charge.resistor_words(b.discharger), "  ")]
