"""A batch: one reading over many conditions of one board, solved together in one call.

What would the diode test show from SW to RTN and back, for every open and every short of every part? Run it
from the root of the repository: ``python examples/batch.py [BOARD RED BLACK]``.

It prints::

    31 faults, 2 readings
    red RTN, black SW: 0.420 V
      Q1 open C: OL
      Q1 open E: OL
      Q1 short C-E: 0.000 V
    red SW, black RTN: OL
      Q1 short G-C: 0.756 V
      Q1 short C-E: 0.000 V
"""

from __future__ import annotations

import sys

from incircuit.advise.conditions import conditions_of
from incircuit.advise.outcomes import outcomes_of
from incircuit.board import read_board
from incircuit.circuit.build import build
from incircuit.meter.profile import load_meter
from incircuit.predict.variants import NO_CHANGE


def words(volts: float) -> str:
    """Volts as the display shows them."""
    return "OL" if volts == float("inf") else f"{volts:.3f} V"


def main(board: str = "boards/pump-drive/gate-drive.board", red: str = "SW", black: str = "RTN") -> None:
    """All conditions in one table, those that show printed."""
    circuit = build(read_board(board))
    gross = [c for c in conditions_of(circuit) if c.fault.split()[0] in ("open", "short")]
    table = outcomes_of(circuit, [NO_CHANGE, *(c.change for c in gross)], load_meter("handheld"),
                        [(min(red, black), max(red, black))], ["diode"])
    print(f"{len(gross)} faults, {len(table.probes)} readings")
    for at, probe in enumerate(table.probes):
        print(f"red {probe.red}, black {probe.black}: {words(table.nominal[at, 0])}")
        for k, c in enumerate(gross, start=1):
            if table.told(at, 0, k):
                print(f"  {c.part} {c.fault}: {words(table.nominal[at, k])}")


if __name__ == "__main__":
    main(*sys.argv[1:])
