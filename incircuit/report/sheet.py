"""The worksheet on paper."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from incircuit.draw.svg import printable
from incircuit.report.cautions import CAUTION, stored_energy
from incircuit.report.drawings import drawings_of
from incircuit.report.page import page
from incircuit.report.words import band_words, faults_words

if TYPE_CHECKING:
    from incircuit.advise.worksheet import Step, Worksheet
    from incircuit.circuit.build import Circuit
    from incircuit.meter.profile import Meter

KEY = "Numbers at the pads: steps; the red probe goes to a filled ring, the black one to an open square."


def worksheet_page(found: Worksheet, circuit: Circuit, meter: Meter, title: str = "") -> str:
    """The worksheet as one HTML file for A4 and Letter: cautions, drawing, readings, room to write."""
    board, state = circuit.board, circuit.state
    steps: dict[str, list[tuple[int, str]]] = {}
    for n, step in enumerate(found.steps, start=1):
        steps.setdefault(_pad(step.probe.red), []).append((n, "red"))
        steps.setdefault(_pad(step.probe.black), []).append((n, "black"))
    proven = "No shorter list does." if not found.gap else f"At most {found.gap} more than the shortest list."
    done = [*(f"{ref}.{pin} is lifted" for ref, pin in sorted(state.lifted)),
            *(f"{ref} is taken off" for ref in sorted(state.removed))]
    return page(
        "worksheet.html",
        title=printable(title or board.title or "board"),
        caution=CAUTION,
        more_cautions=stored_energy(board),
        count=len(found.steps),
        proven=proven,
        meter=printable(meter.name),
        done=[printable(line) for line in done],
        steps=[_row(s, meter) for s in found.steps],
        hidden=faults_words(found.hidden, 24) if found.hidden else "",
        drawings=drawings_of(board, state, steps=steps, key=KEY),
    )


def _pad(node: str) -> str:
    return node.replace(" ", ".", 1)


def _row(s: Step, meter: Meter) -> dict[str, Any]:
    mode = s.probe.mode
    return {
        "red": printable(_pad(s.probe.red)),
        "black": printable(_pad(s.probe.black)),
        "mode": mode,
        "healthy": band_words(meter, mode, s.low, s.high),
        "hints": [f"{band_words(meter, mode, h.low, h.high)}: {faults_words(h.faults, 6)}" for h in s.hints],
    }
