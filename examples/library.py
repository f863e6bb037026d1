"""The library without the command line: a board built in code, predicted, compared, surveyed.

Run it from the root of the repository: ``python examples/library.py``. Circuit and values are invented.

It prints::

    diode: expect 0.010 V, healthy 0.008 V to 0.012 V
    ohms: expect 10.2 Ω, healthy 9.8 Ω to 10.6 Ω
    read 0.011: explained D1
    with D1.K lifted: failed D1
    Q1 open G: nowhere in place
    Q1 open C: RTN SW diode
    Q1 open E: RTN SW diode
    Q1 short G-C: GATE SW diode
    Q1 short G-E: GATE RTN diode
    Q1 short C-E: SW RTN diode
    Q1 leaky G-C: GATE SW diode
    Q1 leaky G-E: GATE RTN diode
    Q1 leaky C-E: SW RTN diode
    Q1 reversed G-C: RTN GATE diode
    Q1 reversed G-E: GATE SW diode
    Q1 reversed C-E: SW RTN diode
    Q1 missing: RTN SW diode
"""

from __future__ import annotations

from incircuit.advise.costs import load_costs
from incircuit.advise.survey import survey
from incircuit.board import HEALTHY, Board, Part, make_state
from incircuit.circuit.build import build
from incircuit.compare.compare import compare
from incircuit.meter.profile import load_meter
from incircuit.meter.typed import parse_shown
from incircuit.predict.measure import Ask
from incircuit.predict.prediction import predict
from incircuit.predict.question import ask_about

BOARD = Board("A gate drive built in code", parts=(
    Part("R1", "resistor", (("1", "DRV"), ("2", "GATE")), 10.0, tolerance=0.01),
    Part("D1", "diode", (("A", "GATE"), ("K", "DRV")), words=("signal",)),
    Part("R2", "resistor", (("1", "GATE"), ("2", "RTN")), 10e3, tolerance=0.01),
    Part("Q1", "igbt", (("G", "GATE"), ("C", "SW"), ("E", "RTN"))),
    Part("R3", "resistor", (("1", "SW"), ("2", "RTN")), 100e3, tolerance=0.05),
))
METER = load_meter("handheld")


def main() -> None:
    """Predict, compare, survey."""
    question = ask_about(BOARD, HEALTHY, "GATE", "DRV")
    for p in predict(question, METER, ["diode", "ohms"], [False]):
        print(f"{p.mode}: expect {p.shown.text}, healthy {p.low.text} to {p.high.text}")

    found = compare(question, METER, Ask("diode"), parse_shown("0.011", "diode"))
    print(f"read 0.011: {found.verdict.word} {found.verdict.part}")

    lifted = ask_about(BOARD, make_state(BOARD, lift=["D1.K"]), "D1.A", "D1.K")
    found = compare(lifted, METER, Ask("diode"), parse_shown("0.011", "diode"))
    print(f"with D1.K lifted: {found.verdict.word} {found.verdict.part}")

    seen = survey(build(BOARD), METER, load_costs(), ["Q1"])
    for sight in seen.sights:
        where = f"{sight.best.red} {sight.best.black} {sight.best.mode}" if sight.best else "nowhere in place"
        print(f"Q1 {sight.fault}: {where}")


if __name__ == "__main__":
    main()
