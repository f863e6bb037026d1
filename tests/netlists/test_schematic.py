"""Netlists of schematic editors brought in: what is guessed from what, and what goes wrong."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board import parse_board, write_board
from incircuit.errors import NetlistError
from incircuit.netlists.assemble import Imported
from incircuit.netlists.bring import import_netlist, import_text
from incircuit.netlists.overrides import parse_override
from incircuit.netlists.schematic import MOST_PARTS
from incircuit.parts import check_parts

ROOT = Path(__file__).resolve().parents[2]


def netlist(*components: str, libparts: str = "") -> str:
    """An export of components ``REF|VALUE|PART|DESCRIPTION|PIN=NAME …``; every pin on a net N<pin>."""
    comps, nets = [], []
    for text in components:
        ref, value, part, description, *named = text.split("|")
        comps.append(f'(comp (ref "{ref}") (value "{value}") (libsource (lib "L") (part "{part}") '
                     f'(description "{description}")))')
        for pin in (named[0] if named else "1 2").split():
            number, _, name = pin.partition(":")
            nets.append(f'(net (code "1") (name "N{number}") (node (ref "{ref}") (pin "{number}") '
                        f'(pinfunction "{name}")))')
    return (f'(export (version "E") (components {" ".join(comps)}) (libparts {libparts}) '
            f'(nets {" ".join(nets)}))')


def brought(text: str) -> Imported:
    found = import_text(text, "x.net")
    again = parse_board(write_board(found.board))
    assert again.parts == found.board.parts
    assert check_parts(again) == ()
    return found


def lines(found: Imported) -> list[str]:
    return [line.partition("   #")[0] for line in write_board(found.board).splitlines() if line[0] != "#"]


@pytest.mark.practice
@pytest.mark.parametrize(("component", "line"), [
    ("R1|4k7|R|Resistor", "R1 resistor N1 N2 4k7"),
    ("R1|4.7k 1%|R|Resistor", "R1 resistor N1 N2 4k7 1%"),
    ("R1|100|R_US|", "R1 resistor N1 N2 100R"),
    ("R1|0|R|Resistor", "R1 link N1 N2"),
    ("R1|0R01|R_Shunt|Shunt resistor", "R1 shunt N1 N2 10m"),
    ("RT1|10k|Thermistor_NTC|Thermistor, NTC", "RT1 thermistor N1 N2 10k ntc"),
    ("RV1|430V|Varistor|Voltage dependent resistor, varistor", "RV1 varistor N1 N2 430V"),
    ("GDT1|90V|GDT|Gas discharge tube", "GDT1 spark-gap N1 N2"),
    ("D1|32V|DIAC|Trigger diode, diac", "D1 diac N1 N2 32V"),
    ("RV1|10k|R_Potentiometer|Potentiometer|1 2 3", "RV1 potentiometer 1=N1 W=N2 3=N3 10k"),
    ("C1|100n/50V|C|Unpolarized capacitor", "C1 capacitor N1 N2 100n 50V"),
    ("C1|470uF 450V|C_Polarized|Polarized capacitor", "C1 capacitor N1 N2 470u 450V electrolytic"),
    ("C1|47pf|C|Capacitor", "C1 capacitor N1 N2 47p"),
    ("L1|10uH|L|Inductor", "L1 inductor N1 N2 10u"),
    ("FB1|600R@100MHz|FerriteBead|Ferrite bead", "FB1 inductor N1 N2"),
    ("L1|2mH|L_Coupled|Coupled inductor|1 2 3 4", "L1 choke A1=N1 A2=N2 B1=N3 B2=N4 2m"),
    ("F1|6.3A|Fuse|Fuse", "F1 fuse N1 N2"),
    ("D1|x|D|Diode|1:K 2:A", "D1 diode A=N2 K=N1"),
    ("D1|x|D|Diode", "D1 diode A=N2 K=N1"),
    ("D1|x|D_Schottky|Schottky diode|1:A 2:K", "D1 diode A=N1 K=N2 schottky"),
    ("D1|18V|D_Zener|Zener diode|1:K 2:A", "D1 zener A=N2 K=N1 18V"),
    ("D1|type C5V1|D_Zener|Zener diode|1:K 2:A", "D1 zener A=N2 K=N1 5V1"),
    ("D1|red|LED|Light emitting diode|1:K 2:A", "D1 led A=N2 K=N1 red"),
    ("D1|x|D_Dual|dual diode|1:A 2:K 3:A", "D1 dual-diode A1=N1 A2=N3 K=N2 common-cathode"),
    ("D1|x|D_Dual|dual diode|1:K 2:A 3:K", "D1 dual-diode A=N2 K1=N1 K2=N3 common-anode"),
    ("D1|x|D_Bridge|Bridge rectifier|1:+ 2:- 3:~ 4:~", "D1 bridge AC1=N3 AC2=N4 +=N1 -=N2"),
    ("Q1|x|Q_NPN_BCE|NPN transistor|1:B 2:C 3:E", "Q1 npn B=N1 C=N2 E=N3"),
    ("Q1|x|Q_PNP_ECB|PNP transistor|1 2 3", "Q1 pnp B=N3 C=N2 E=N1"),
    ("Q1|x|Q_NMOS_GDS|N-MOSFET|1 2 3", "Q1 nmos G=N1 D=N2 S=N3"),
    ("Q1|x|Q_PMOS_GSD|P-MOSFET|1:G 2:S 3:D", "Q1 pmos G=N1 D=N3 S=N2"),
    ("Q1|x|Q_NIGBT_GCE|N-IGBT|1:G 2:C 3:E", "Q1 igbt G=N1 C=N2 E=N3"),
    ("Q1|x|Part7|transistor|1:B 2:C 3:E", "Q1 chip B=N1 C=N2 E=N3"),  # neither says npn nor pnp
    ("U1|x|Coupler|Optocoupler|1:A 2:K 3:E 4:C", "U1 optocoupler A=N1 K=N2 C=N4 E=N3"),
    ("U1|x|Coupler|Optocoupler|1 2 3 4", "U1 optocoupler A=N1 K=N2 E=N3 C=N4"),
    ("U1|5V|Reg|linear regulator|1:VI 2:GND 3:VO", "U1 linear-regulator IN=N1 OUT=N3 GND=N2"),
    ("U1|x|Thing|something|1:OUT 2:VCC 3:GND", "U1 chip OUT=N1 VCC=N2 GND=N3 supply=VCC ground=GND"),
    ("K1|x|Relay|relay|11 12 14 A1 A2", "K1 relay A1=NA1 A2=NA2 COM=N11 NC=N12 NO=N14"),
    ("T1|x|Transformer_1P_1S|transformer|1:AA 2:AB 3:SA 4:SB", "T1 transformer P1=N1 P2=N2 S1=N3 S2=N4"),
    ("J1|x|Conn_01x02|connector", "J1 connector 1=N1 2=N2"),
    ("SW1|x|SW_Push|push button", "SW1 switch N1 N2 open"),
    ("JP1|x|SolderJumper_2_Bridged|Solder jumper, bridged", "JP1 jumper N1 N2 closed"),
    ("Y1|8MHz|Crystal|Two pin crystal", "Y1 crystal N1 N2 8M"),
    ("#X.1|x|Thing|unheard of", "X-1 chip 1=N1 2=N2"),
    ("ZZ1|x|Thing|unheard of|1:IN 2:IN 3:~", "ZZ1 chip IN1=N1 IN2=N2 3=N3"),
])
def test_the_kind_is_guessed(component: str, line: str) -> None:
    found = brought(netlist(component))
    assert lines(found)[-1] == line
    assert len(found.guesses) == 1  # every guess is told


def test_names_of_pins_come_from_the_library_too() -> None:
    library = '(libpart (lib "L") (part "T7") (pins (pin (num "1") (name "E")) (pin (num "2") (name "B")) ' \
              '(pin (num "3") (name "C"))))'
    assert lines(brought(netlist("Q1|x|T7|NPN transistor|1 2 3", libparts=library)))[-1] == (
        "Q1 npn B=N2 C=N3 E=N1")


def test_a_test_point_is_a_pad_and_what_is_not_fitted_is_not_there() -> None:
    found = brought(netlist("R1|1k|R|", "TP7|TestPoint|TestPoint|test point|1", "R2|DNP|R|"))
    assert lines(found) == ["net N1 pad=TP7", "R1 resistor N1 N2 1k"]
    assert [p.message for p in found.problems] == ["R2 is not fitted: it is left out"]


def test_the_relay_driver_of_the_examples() -> None:
    found = import_netlist(ROOT / "examples" / "netlists" / "relay.net")
    kinds = {p.ref: p.kind for p in found.board.parts}
    assert kinds == {"J1": "connector", "K1": "relay", "D1": "diode", "D2": "led", "Q1": "npn",
                     "C1": "capacitor", "R1": "resistor", "R2": "resistor", "R3": "resistor", "U1": "chip"}
    assert {net.name: net.pad for net in found.board.nets} == {"/COIL": "TP1"}


@pytest.mark.parametrize(("said", "line"), [
    (["R1 shunt"], "R1 shunt N1 N2 1k"),
    (["R1 fuse"], "R1 fuse N1 N2"),
    (["R* thermistor 22k ptc"], "R1 thermistor N1 N2 22k ptc"),
    (["L:Rx resistor", "R1 inductor"], "R1 inductor N1 N2"),
    (["1k diode 1=A 2=K signal"], "R1 diode A=N1 K=N2 signal"),
    (["R1 chip 1=IN 2=OUT"], "R1 chip IN=N1 OUT=N2"),
])
def test_what_the_user_says_counts(said: list[str], line: str) -> None:
    text = netlist("R1|1k|Rx|Resistor")
    found = import_text(text, "x.net", [parse_override(s) for s in said])
    assert lines(found)[-1] == line
    assert [g.why for g in found.guesses] == ["as you said"]


@pytest.mark.parametrize(("said", "told"), [
    ("R1", "no part and kind"), ("", "no part and kind"), ("R1 resitor", "resistor"),
    ("R9 fuse", "no part is called"),
    ("R1 diode", "say which is which: 1=? 2=?"), ("R1 diode 1=A 3=K", "no pin 3"),
    ("R1 diode 1=A 2=Q", "A K"),
    ("R1 zener 1=A 2=K", "needs its value"), ("R1 resistor blue", "does not belong"),
    ("R1 capacitor 1kg", "1kg"),
])
def test_what_the_user_says_must_fit(said: str, told: str) -> None:
    with pytest.raises(NetlistError) as error:
        import_text(netlist("R1|1k|Rx|Resistor"), "x.net", [parse_override(said)])
    assert told in str(error.value)
    assert len(str(error.value).splitlines()) == 1


@pytest.mark.parametrize(("text", "place", "told"), [
    ('(export (components (comp (value "1k"))))', "1:22", "without a reference"),
    ('(export (components (comp (ref R1)) (comp (ref "R1"))) (nets (net (name A) (node (ref R1) (pin 1)))))',
     "1:48", "second R1"),
    ('(drawing (version 1))', "1:2", "no exported netlist"),
    ('(export\n (nets (net (name A) (node (ref R1)))))', "2:23", "lacks its ref or pin"),
    ('(export\n (nets (net (name A) (node (ref R7) (pin 1)))))', "2:33", "which is no component"),
    ('(export (components (comp (ref "R1', "1:32", "not closed"),
    ('(export (nets', "1:10", "ends too early"),
    ('(export) )', "1:10", "follows the end"),
    ("(" * 500, "1:101", "inside each other"),
    ('(export (components (comp (ref R1) (value x))) (nets (net (name A) (node (ref R1) (pin 1))) '
     '(net (name B) (node (ref R1) (pin 2)))))', "1:43", "no value"),
])
def test_a_fault_is_told_with_its_place(text: str, place: str, told: str) -> None:
    try:
        problems = import_text(text, "x.net").problems
    except NetlistError as error:
        problems = error.problems
    assert any(str(p).startswith(f"x.net:{place}: ") and told in str(p) for p in problems), problems


def test_thousands_of_parts_are_read_and_too_many_are_not() -> None:
    text = netlist(*(f"R{k}|{k}k|R|Resistor|1 2" for k in range(1, 4001)))
    assert len(import_text(text, "x.net").board.parts) == 4000
    text = netlist(*(f"R{k}|1k|R|Resistor|1" for k in range(MOST_PARTS + 1)))
    assert any("the rest is left out" in p.message for p in import_text(text, "x.net").problems)


TOKENS = st.sampled_from([
    "(", "(", ")", "(comp", "(ref R1)", '(ref "R1")', "(nets", "(net", "(name A)", "(node", "(pin 1)",
    "(value 1k)", "(components", '"', "\\", "x", " ", "\n", "(libsource", "(part R)"])


@settings(deadline=None, derandomize=True, max_examples=300)
@given(st.lists(TOKENS, max_size=60), st.text(max_size=20))
def test_whatever_stands_in_a_netlist_it_is_read_or_refused(tokens: list[str], junk: str) -> None:
    try:
        found = import_text("(export " + " ".join(tokens) + junk, "x.net")
    except NetlistError:
        return
    assert parse_board(write_board(found.board)).parts == found.board.parts
