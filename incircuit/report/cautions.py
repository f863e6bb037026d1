"""What a person must know before touching the board, with the energy its capacitors may hold."""

from __future__ import annotations

from incircuit.board.model import Board
from incircuit.units import format_value

CAUTION = (
    "Unplug, wait, discharge the capacitors and verify on volts that they are empty before you touch the "
    "board. Local codes and licensed practice come first."
)
LEAST_VOLTS = 50.0
"""[V] Residual voltage to which capacitors are to be discharged (NEC 460.6)."""
LEAST_JOULES = 0.5
"""[J] Below this no capacitor is named (own choice, far below the 10 J at which a shock is a hazard by the
Berkeley Lab electrical safety manual)."""
MOST = 4


def stored_energy(board: Board) -> tuple[str, ...]:
    """Sentences on the capacitors that can hold much charge, the largest first: ½ C V² at their rating."""
    found = []
    for part in board.parts:
        volts = part.rating
        if part.kind == "capacitor" and part.value and volts and volts > LEAST_VOLTS:
            joules = 0.5 * part.value * volts * volts
            if joules >= LEAST_JOULES:
                found.append((joules, part.ref, volts))
    found.sort(key=lambda f: (-f[0], f[1]))
    said = [f"{ref} may hold {format_value(joules, 'J')} at its rated {format_value(volts, 'V')}."
            for joules, ref, volts in found[:MOST]]
    if len(found) > MOST:
        said.append(f"{len(found) - MOST} more capacitors may hold a charge as well.")
    return (" ".join(said) + " Charge can come back after discharging: measure again.",) if said else ()
