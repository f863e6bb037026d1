"""In, out and checked by ngspice: a deck brought in, one reading taken out as a deck, and its own cards.

The native decks of `tests.predict.native` know nothing of the program. Three answers must agree: ngspice on
the deck's own cards with a meter, the own engine on the board made of it, and ngspice on the exported deck.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from incircuit.board import HEALTHY, Board, read_board
from incircuit.circuit.ngspice import solve_deck
from incircuit.meter.profile import Meter, load_meter, read_meter
from incircuit.netlists.bring import import_netlist, import_text
from incircuit.netlists.deckout import READING, Deck, export_deck
from incircuit.predict.question import ask_about
from incircuit.starts import starting_points
from tests.predict.native import Twin, large_twin, random_twin
from tests.predict.test_native_decks import METER, reference

pytestmark = [pytest.mark.usefixtures("ngspice"), pytest.mark.published]
ROOT = Path(__file__).resolve().parents[2]
EXACT = read_meter(METER.encode(), "exact.toml")


def exported(board: Board, red: str, black: str, mode: str, meter: Meter = EXACT) -> Deck:
    return export_deck(ask_about(board, HEALTHY, red, black), meter, mode)


def check_deck(made: Deck, mode: str, full_scale: float, where: object) -> bool:
    """The exported deck against the own engine; False where ngspice finds no point."""
    values, log = solve_deck(made.text)
    if values is None or any("Transient op" in line for line in log):
        return False
    read = values[READING]
    if made.shown.overload:
        # just at the end of the scale either may round over it
        assert read > full_scale * (1.0 - 1e-4), where
    else:
        # 2 µV and 0.002 %: ngspice's reltol of 1e-6 at every junction; and on ohms one gmin more or less
        far = 1e-12 * made.value**2 if mode != "diode" else 0.0
        assert abs(read - made.value) <= 2e-6 + 2e-5 * made.value + far, where
    return True


def three_ways(twin: Twin, board: Board, red: str, black: str) -> tuple[int, int]:
    """How many readings were compared with the deck's own cards, and with the exported deck."""
    native = again = 0
    for mode, end in (("diode", 3.0), ("ohms", 1e9)):
        made = exported(board, red, black, mode)
        where = (twin.seed, red, black, mode)
        again += check_deck(made, mode, end, where)
        point = reference(twin, red, black, mode)
        if point is None:
            continue
        native += 1
        volts, amps = point
        allowed = 20e-6 + 1e-4 * volts
        if made.shown.overload:
            assert volts > 3.0 - allowed - 1e-6 if mode == "diode" else amps < 1.01e-9 * volts, where
        elif mode == "diode":
            assert made.value == pytest.approx(volts, abs=allowed), where
        else:
            # for Q see test_native_decks; an M card has one gmin, a board's transistor its body's too
            substrate = 1e-12 * volts * sum(card[0] in "qm" for card in twin.cards)
            slack = allowed / amps + volts / amps * substrate / amps
            assert made.value == pytest.approx(volts / amps, abs=slack), where
    return native, again


def brought(twin: Twin) -> Board:
    found = import_text("\n".join(["a deck", *twin.cards, ".end"]), "x.cir")
    assert [str(p) for p in found.problems if not p.warning] == []
    return found.board


@pytest.mark.parametrize("block", range(3))
def test_small_decks_of_every_card(block: int) -> None:
    native = again = asked = 0
    for seed in range(1000 + 25 * block, 1025 + 25 * block):
        twin = random_twin(seed)
        red, black = twin.pick(2)
        if not twin.cards:
            continue
        board = brought(twin)
        if {red, black} <= set(board.net_names()):
            asked += 2
            done = three_ways(twin, board, red, black)
            native, again = native + done[0], again + done[1]
    assert asked > 30
    assert min(native, again) > 0.9 * asked  # ngspice may fail on a few, never on many


def test_a_netlist_of_two_thousand_parts() -> None:
    """A generated deck of over 3,000 cards: in, out, and the same by ngspice."""
    twin = large_twin(2, 2000)
    board = brought(twin)
    assert len(board.parts) > 2000
    red, black = random.Random(2).sample(twin.nets, 2)
    assert three_ways(twin, board, red, black) == (2, 2)


@pytest.mark.parametrize("mode", ["diode", "ohms", "continuity"])
def test_every_starting_point_goes_out_as_a_deck(mode: str) -> None:
    """Chips, windings, optocouplers, IGBTs: kinds that a deck never brings in."""
    from incircuit.board import parse_board

    meter, rng, done = load_meter("handheld"), random.Random(mode), 0
    for point in starting_points():
        board = parse_board(point.text)
        nets = [n for n in board.net_names() if sum(1 for _ in board.pins_on(n)) > 1]
        for _ in range(2):
            red, black = rng.sample(nets, 2)
            question = ask_about(board, HEALTHY, red, black)
            made = export_deck(question, meter, mode)
            scale = made.shown.range.full_scale if made.shown.range else 2.0
            done += check_deck(made, mode, scale, (point.name, red, black))
    assert done >= 18


def test_meters_with_red_minus_and_a_voltage_behind_a_resistance() -> None:
    board = read_board(ROOT / "boards" / "pump-drive" / "gate-drive.board")
    for name in ("moving-coil", "low-voltage-ohms"):
        for red, black in (("GATE", "RTN"), ("RTN", "SW"), ("SW", "RTN"), ("GATE", "DRV")):
            made = exported(board, red, black, "ohms", load_meter(name))
            assert check_deck(made, "ohms", 1e3, (name, red, black))


@pytest.mark.parametrize(("red", "black"), [("drv", "gate"), ("gate", "0"), ("0", "sw"), ("sw", "bus"),
                                            ("sw", "0")])
def test_the_deck_of_the_examples_as_ngspice_reads_it(red: str, black: str) -> None:
    """The deck with ngspice's own reader, subcircuit and all; its sources taken off, a meter put on."""
    deck = ROOT / "examples" / "netlists" / "gate-drive.cir"
    board = import_netlist(deck).board
    made = exported(board, red, black, "diode")
    text = deck.read_text(encoding="utf-8")
    kept = [line for line in text.partition(".tran")[0].splitlines() if line[:2] not in ("V1", "V2")]
    meter = [f"bmeter {black} {red} i=min(1e-3,(3-(v({red})-v({black})))/0.3)".replace("v(0)", "0")]
    options = ".options temp=25 tnom=25 gmin=1e-12 reltol=1e-6 abstol=1e-15 vntol=1e-9 rshunt=1e15"
    values, _ = solve_deck("\n".join([*kept, *meter, options, ".op", ".end"]))
    assert values is not None
    read = values.get(red, 0.0) - values.get(black, 0.0)
    # 2 mV: the power transistor's own model conducts softly near its threshold, a square law does not
    assert min(made.value, 3.0) == pytest.approx(read, abs=2e-3)
