"""Pads to nodes, and texts to the state of the board."""

from __future__ import annotations

import pytest

from incircuit.board import HEALTHY, Board, State, make_state, pad_node, parse_board, resolve_pad
from incircuit.board.pads import ambiguity
from incircuit.errors import PadError, StateError

BOARD = parse_board("""\
net DRV pad=TP3
net D3.A
R7 resistor DRV GATE 10R
D3 diode A=GATE K=DRV
Q1 igbt G=GATE C=SW E=RTN
C9 capacitor SW RTN 470u
U1 chip V.IN=SW GND=RTN
""")


@pytest.mark.parametrize(
    ("text", "node"),
    [
        ("GATE", "GATE"),
        ("TP3", "DRV"),
        ("D3.K", "DRV"),
        ("Q1.C", "SW"),
        ("R7.2", "GATE"),
        ("U1.V.IN", "SW"),
        ("D3.A", "D3.A"),
    ],
)
def test_nets_pads_and_pins(text: str, node: str) -> None:
    assert resolve_pad(BOARD, HEALTHY, text) == node


def test_a_lifted_pin_is_its_own_node_and_a_removed_part_leaves_its_pads() -> None:
    state = State(lifted=frozenset({("D3", "K")}), removed=frozenset({"Q1"}))
    assert resolve_pad(BOARD, state, "D3.K") == pad_node("D3", "K") == "D3 K"
    assert resolve_pad(BOARD, state, "DRV") == "DRV"
    assert resolve_pad(BOARD, state, "Q1.C") == "SW"


def test_a_net_wins_over_a_pin_of_that_name_and_it_can_be_said() -> None:
    assert ambiguity(BOARD, "D3.A") == "D3.A is taken as net D3.A, not as pin A of D3 (on net GATE)"
    assert ambiguity(BOARD, "D3.K") == ambiguity(BOARD, "GATE") == ambiguity(BOARD, "nothing") == ""


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("gate", '"gate" is no net, pad or pin of this board: did you mean GATE?'),
        ("TP4", '"TP4" is no net, pad or pin of this board: did you mean TP3?'),
        ("D3.X", 'D3 has no pin "X": its pins are A K'),
        ("D4.K", '"D4.K" is no net, pad or pin of this board: did you mean D3.K?'),
        ("", '"" is no net, pad or pin of this board'),
        ("zzzzz", '"zzzzz" is no net, pad or pin of this board'),
        ("a\nb", '"a\\x0ab" is no net, pad or pin of this board'),
        ("D3", '"D3" is no net, pad or pin of this board: did you mean D3.A?'),
    ],
)
def test_no_pad_says_what_is_near(text: str, message: str) -> None:
    with pytest.raises(PadError) as caught:
        resolve_pad(BOARD, HEALTHY, text)
    assert str(caught.value) == message


def test_an_empty_board_has_no_pads() -> None:
    with pytest.raises(PadError):
        resolve_pad(Board(), HEALTHY, "A")


def test_a_state_from_texts() -> None:
    state = make_state(
        BOARD,
        lift=["D3.K", " U1.V.IN"],
        remove=["Q1"],
        short=["TP3 Q1.C", "D3.K RTN"],
        charge=["C9 48", "Q1 4V7", "C9 50mV"],
        faults=["Q1  short C-E"],
        celsius=40,
    )
    assert state == State(
        frozenset({("D3", "K"), ("U1", "V.IN")}),
        frozenset({"Q1"}),
        (("DRV", "SW"), ("D3 K", "RTN")),
        ("Q1 short C-E",),
        (("C9", 0.05), ("Q1", 4.7)),
        40.0,
    )
    assert make_state(BOARD) == HEALTHY


@pytest.mark.parametrize(
    ("texts", "message"),
    [
        ({"lift": ["D4.K"]}, 'lift: there is no part "D4": did you mean D3?'),
        ({"lift": ["D3.G"]}, 'lift: D3 has no pin "G": write one of D3.A D3.K'),
        ({"lift": ["D3"]}, 'lift: "D3" names no pin: write one of D3.A D3.K'),
        ({"lift": [""]}, 'lift: there is no part ""'),
        ({"remove": ["q1"]}, 'remove: there is no part "q1": did you mean Q1?'),
        ({"short": ["DRV"]}, 'short: "DRV" is not two pads: write GATE RTN'),
        ({"short": ["DRV gate"]}, 'short: "gate" is no net, pad or pin of this board: did you mean GATE?'),
        ({"short": ["DRV TP3"]}, "short: DRV and TP3 are one net already"),
        ({"charge": ["C9"]}, 'charge: "C9" is not a part and volts: write C9 48'),
        ({"charge": ["C8 5"]}, 'charge: there is no part "C8": did you mean C9?'),
        (
            {"charge": ["R7 5"]},
            "charge: R7 is of kind resistor: only a capacitor or an insulated gate keeps a charge",
        ),
        ({"charge": ["C9 5A"]}, 'charge: "5A" is in amps, expected volts (V)'),
        ({"charge": ["C9 5v"]}, 'charge: "5v" is not a value: did you mean 5V?'),
        ({"faults": ["Q1"]}, 'fault: "Q1" is not a part and what is wrong with it: write Q1 short'),
        ({"faults": ["Q9 short"]}, 'fault: there is no part "Q9": did you mean Q1?'),
        ({"celsius": float("nan")}, "a board cannot be at nan °C: give its temperature in degrees Celsius"),
        ({"celsius": -300.0}, "a board cannot be at -300.0 °C: give its temperature in degrees Celsius"),
    ],
)
def test_a_state_the_board_cannot_have(texts: dict[str, object], message: str) -> None:
    with pytest.raises(StateError) as caught:
        make_state(BOARD, **texts)  # type: ignore[arg-type]
    assert str(caught.value) == message
