"""Random decks with subcircuits, parameters, area factors and junction FETs: ngspice reads the deck itself.

Nothing of the program touches the deck on the way into ngspice; only a meter is put across two nets. The own
engine reads the board made of the deck.
"""

from __future__ import annotations

import random

import pytest

from incircuit.board import HEALTHY
from incircuit.circuit.ngspice import solve_deck
from incircuit.meter.profile import read_meter
from incircuit.netlists.bring import import_text
from incircuit.predict.measure import Ask
from incircuit.predict.prediction import shows_of
from incircuit.predict.question import ask_about
from tests.predict.test_native_decks import METER

pytestmark = [pytest.mark.usefixtures("ngspice"), pytest.mark.published]
EXACT = read_meter(METER.encode(), "exact.toml")
MODELS = (".model dsig d(is=2.52n n=1.752 rs=0.568 cjo=4p)", ".model dz d is=1f n=1.2 bv=2.4 ibv=5m",
          ".model qn npn(is=1e-14 bf=150 br=2)", ".model qp pnp is=2e-15 bf=80 br=1",
          ".model jn njf(vto=-1.5 beta=1m is=1e-14)", ".model jp pjf vto=-2 beta=0.5m is=1e-14",
          ".model mn nmos(level=1 vto=1.1 kp=200u is=1e-14)", ".model mp pmos vto=-0.9 kp=1m is=1e-14")
OPTIONS = ".options temp=25 tnom=25 gmin=1e-12 reltol=1e-6 abstol=1e-15 vntol=1e-9 itl1=500 rshunt=1e15"


def deck_of(seed: int) -> tuple[list[str], list[str]]:
    """(cards, nets) of a random deck."""
    r = random.Random(seed)
    nets = ["a", "B", "c", "d", "0"]

    def pick(count: int) -> str:
        return " ".join(r.sample(nets, count))

    def card(k: int) -> str:
        area = r.choice(["", " area=3", " area=0.5", " area=2 m=2"])
        kind = r.choice("rrrddqjmxxv")
        if kind == "r":
            return f"R{k} {pick(2)} {r.choice(['4.7k', '{rr}', '1MEG', '220', '33K', 'r=12'])}"
        if kind == "d":
            return f"D{k} {pick(2)} {r.choice(['dsig', 'DZ'])}{area}"
        if kind == "q":
            # by number: ngspice 39 squares an area factor at base and collector, SPICE3 did not
            return f"Q{k} {pick(3)} {r.choice(['qn', 'qp'])}{r.choice(['', ' m=2'])}"
        if kind == "j":
            return f"J{k} {pick(3)} {r.choice(['jn', 'jp'])}"
        if kind == "m":
            d, g, s = r.sample(nets, 3)
            # a gate that nothing ties down floats: at its source here, at ground in ngspice
            return (f"M{k} {d} {g} {s} {s} {r.choice(['mn', 'mp'])} w={r.choice([10, 50])}u l=5u\n"
                    f"Rg{k} {g} {s} 1meg")
        if kind == "v":
            return f"V{k} {pick(2)} 0"
        return f"X{k} {pick(2)} {r.choice(['ladder', 'nest r=3k', 'nest'])}"

    cards = [card(k) for k in range(r.randint(4, 9))]
    if sum(c[0] in "QJM" for c in cards) > 1:  # two can hold each other in either of two states
        keep = next(c for c in cards if c[0] in "QJM")
        cards = [c for c in cards if c[0] not in "QJM" or c is keep]
    subcircuits = [".subckt ladder p q", "R1 p m 1k", "D1 m q dsig", "R2 m q {rr}", ".ends",
                   ".subckt nest p q r=22k", "X1 p m ladder", "R9 m q {r}", "Rg q 0 470k", ".ends nest"]
    return [".param rr=6.8k", *cards, *subcircuits, *MODELS], [n for n in nets if n != "0"]


def by_ngspice(cards: list[str], red: str, black: str, mode: str) -> tuple[float, float] | None:
    """Volts and amps at the pads; None where ngspice finds no point it trusts itself."""
    amps, volts, behind = (1e-3, 3.0, 0.3) if mode == "diode" else (1e-4, 1.0, 1.0)
    for drive in ([f"vmeter zm {black} {volts}", f"rmeter zm {red} {behind}"],
                  [f"imeter {black} {red} {amps}"]):
        values, log = solve_deck("\n".join(["t", *cards, *drive, "rnone none 0 1", OPTIONS, ".op", ".end"]))
        if values is None or any("Transient op" in line for line in log):
            return None
        v = values.get(red.lower(), 0.0) - values.get(black.lower(), 0.0)
        flows = -values["vmeter#branch"] if len(drive) == 2 else amps
        if flows <= amps:
            return v, flows
    return v, amps


@pytest.mark.parametrize("block", range(4))
def test_a_board_reads_as_the_deck_it_was_made_of(block: int) -> None:
    done = asked = 0
    for seed in range(25 * block, 25 * block + 25):
        cards, _ = deck_of(seed)
        found = import_text("\n".join(["t", *cards, ".end"]), "x.cir")
        assert [str(p) for p in found.problems if not p.warning] == []
        nets = found.board.net_names()
        red, black = random.Random(seed).sample([n for n in nets if "/" not in n], 2)
        question = ask_about(found.board, HEALTHY, red, black)
        for mode in ("diode", "ohms"):
            asked += 1
            point = by_ngspice(cards, red, black, mode)
            if point is None:
                continue
            ask = Ask(mode)
            shows = shows_of(question.block, question.red_node, question.black_node, EXACT, [ask], 25.0, 1)
            value = float(shows[ask].exact[0])
            volts, amps = point
            # the gate of a junction FET that nothing ties down rests on leaks, here and there not the same
            allowed = 20e-6 + (1e-3 if any(c[0] == "J" for c in cards) else 1e-4) * abs(volts)
            if mode == "diode":
                assert min(value, 3.0) == pytest.approx(min(volts, 3.0), abs=allowed), (seed, red, black)
            elif value == float("inf"):
                assert amps < 1.01e-9 * volts, (seed, red, black)
            else:
                # every transistor has a gmin or two of its own, see test_exchange
                slack = allowed / amps + 4e-12 * (volts / amps) ** 2
                assert value == pytest.approx(volts / amps, abs=slack), (seed, red, black)
            done += 1
    assert done > 0.9 * asked
