"""`incircuit pads`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from incircuit.cli.advising import known_parts, state_options
from incircuit.cli.text import columns, listed, paragraph, say_json

if TYPE_CHECKING:
    from incircuit.advise.pads import Place
    from incircuit.board import Board


@click.command(epilog="Example: incircuit pads boards/pump-drive/gate-drive.board Q1")
@click.argument("board")
@click.argument("part")
@state_options
@click.option("--json", "as_json", is_flag=True, help="For programs; SI units, schema 1.")
def pads(board: str, part: str, lift: tuple[str, ...], remove: tuple[str, ...], as_json: bool) -> None:
    """Where to put the probes for a part, when its own pads are hidden.

    For every pin its test point, or the nearest other part on the same net or behind the least
    resistance.
    """
    from incircuit.advise.pads import pairs_for, places_of
    from incircuit.board import make_state, read_board
    from incircuit.circuit.build import build

    read = read_board(board)
    (ref,) = known_parts(read, (part,))
    circuit = build(read, make_state(read, lift=lift, remove=remove))
    places = places_of(circuit, read.part(ref))
    if as_json:
        say_json({"part": ref, "pins": [_json(read, ref, p) for p in places],
                  "pairs": [{"pins": [a.pin, b.pin], "red": a.pad, "black": b.pad}
                            for a, b in pairs_for(places)]})
        return
    rows = [(f"{ref}.{p.pin}", p.net.replace(" ", "."), p.pad or "nowhere", _point(read, p.pad),
             _also(read, ref, p), _through(p)) for p in places]
    lines = [columns(("pin", "net", "probe", "test point", "also there", "through"), rows)]
    blind = [f"{ref}.{p.pin}" for p in places if not p.pad]
    if blind:
        lines += ["", paragraph(f"{listed(blind)} cannot be touched, nor anything that conducts to it: "
                                "scrape a via or lift the part.")]
    click.echo("\n".join(lines))


def _json(board: Board, ref: str, p: Place) -> dict[str, Any]:
    return {"pin": p.pin, "net": p.net.replace(" ", "."), "pad": p.pad or None,
            "test_point": _point(board, p.pad) or None, "pins": _pins(board, ref, p), "via": list(p.via),
            "ohms": p.ohms}


def _point(board: Board, pad: str) -> str:
    return next((net.pad or "" for net in board.nets if net.name == pad), "")


def _pins(board: Board, ref: str, p: Place) -> list[str]:
    """Pins of other parts where the same pad can be touched, parts of few pins first: easy to hit."""
    others = [(len(part.pins), f"{part.ref}.{pin}") for part, pin in board.pins_on(p.pad) if part.ref != ref]
    return [name for _, name in sorted(others, key=lambda o: o[0])]


def _also(board: Board, ref: str, p: Place) -> str:
    found = _pins(board, ref, p) if p.pad else []
    return listed(found, 4) if found else ""


def _through(p: Place) -> str:
    from incircuit.units import format_value

    return f"{listed(p.via, 3)}, {format_value(p.ohms, 'Ω')}" if p.via else ""
