"""SPICE decks brought in: every card, values, hierarchy, and what goes wrong, each with its place."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board import Board, parse_board, write_board
from incircuit.errors import NetlistError
from incircuit.netlists.assemble import Imported
from incircuit.netlists.bring import import_netlist, import_text
from incircuit.netlists.flat import MOST_DEVICES
from incircuit.netlists.numbers import spice_number
from incircuit.parts import check_parts


def brought(*cards: str) -> Imported:
    """A deck of these lines below a title; what comes out must read back as itself."""
    found = import_text("\n".join(["a deck", *cards, ".end"]), "x.cir")
    again = parse_board(write_board(found.board))
    assert (again.parts, again.title) == (found.board.parts, "a deck")
    assert check_parts(again) == ()
    return found


def line_of(board: Board, ref: str) -> str:
    """A part's line as written, without its remark."""
    lines = [line.partition("   #")[0] for line in write_board(board).splitlines()]
    return next(line for line in lines if line.split()[:1] == [ref])


@pytest.mark.published
@pytest.mark.parametrize(("text", "value"), [
    # the scale letters of the Berkeley SPICE3 manual, section 2.3, and what may follow them
    ("10", 10.0), ("1e3", 1e3), ("2.5E-3", 2.5e-3), (".5", 0.5), ("3T", 3e12), ("3g", 3e9), ("3Meg", 3e6),
    ("3MEGohm", 3e6), ("3k", 3e3), ("3mil", 76.2e-6), ("3m", 3e-3), ("3M", 3e-3), ("3u", 3e-6), ("3n", 3e-9),
    ("3p", 3e-12), ("3f", 3e-15), ("10pF", 1e-11), ("1kohm", 1e3), ("10V", 10.0), ("-1.5", -1.5),
    ("1e3k", 1e6),
])
def test_numbers_of_a_deck(text: str, value: float) -> None:
    found = spice_number(text)
    assert found is not None
    assert found[0] == pytest.approx(value, rel=1e-12)


@pytest.mark.published
@pytest.mark.parametrize(("text", "value"), [
    ("4k7", 4.7e3), ("2R2", 2.2), ("4M7", 4.7e6), ("4m7", 4.7e-3), ("4u7", 4.7e-6), ("4N7", 4.7e-9),
    ("0R1", 0.1), ("6p8F", 6.8e-12)])  # IEC 60062, letter code
def test_the_letter_code_is_read_and_remarked(text: str, value: float) -> None:
    found = spice_number(text)
    assert found is not None
    assert found[0] == pytest.approx(value, rel=1e-12)
    assert "letter code" in found[1]


@pytest.mark.parametrize("text", ["", "k", "R47", "1..2", "{r}", "1e99999", "4k7k7", "0x10", "１", "9" * 70])
def test_what_is_no_number(text: str) -> None:
    assert spice_number(text) is None


@pytest.mark.parametrize(("card", "line"), [
    ("R1 a b 4.7k", "R1 resistor a b 4k7"),
    ("r1 A b r=10", "r1 resistor A b 10R"),
    ("R1 (a , b) 10 ; note", "R1 resistor a b 10R"),
    ("R1 a b 0", "R1 link a b r=0"),
    ("C1 a b 100n IC=5", "C1 capacitor a b 100n"),
    ("L1 a b 10u", "L1 inductor a b 10u dcr=0"),
    ("L1 a b 10u Rser=0.25", "L1 inductor a b 10u dcr=0.25"),
    ("C1 a b 10u Rser=5m", "C1 capacitor a b 10u esr=0.005"),
    ("V1 a b 0", "V1 link a b r=0"),
    ("V1 a b DC 12", 'V1 connector 1=a 2=b text="supply 12"'),
    ("V1 a b SIN(0 1 1k)", 'V1 connector 1=a 2=b text="supply SIN 0 1"'),
    ("I1 a b 1m", 'I1 connector 1=a 2=b text="current source 1m"'),
    ("S1 a b c 0 smod", "S1 switch a b open"),
    ("D1 a k dm", "D1 diode A=a K=k is=2e-09 n=1.5 rs=0.5"),
    ("D1 a k dm 2", "D1 diode A=a K=k is=4e-09 n=1.5 rs=0.25"),
    ("D1 a k dm area=2 m=2", "D1 diode A=a K=k is=8e-09 n=1.5 rs=0.125"),
    ("D1 a k dz 2", "D1 zener A=a K=k is=2e-14 n=1.0 bv=12.0 ibv=0.005"),
    ("D1 a k dz m=2", "D1 zener A=a K=k is=2e-14 n=1.0 bv=12.0 ibv=0.01"),
    ("D1 a k dz", "D1 zener A=a K=k is=1e-14 n=1.0 bv=12.0 ibv=0.005"),
    ("D1 a k red_led", "D1 led A=a K=k is=1e-20 n=2.0"),
    ("Q1 c b e qn", "Q1 npn C=c B=b E=e is=1e-15 bf=200.0 br=2.0"),
    ("Q1 c b e 0 qp", "Q1 pnp C=c B=b E=e is=1e-16 bf=100.0 br=1.0"),
    ("M1 d g s s mn W=20u L=2u", "M1 nmos D=d G=g S=s vto=1.5 kp=0.0002 body.is=1e-14 body.n=1.0"),
    ("M1 d g s mv", "M1 nmos D=d G=g S=s vto=3.0 kp=20.0 body.is=1e-12 body.n=1.1 body.rs=0.01"),
    ("M1 d g s s mp", "M1 pmos D=d G=g S=s vto=-1.0 kp=2e-05 body.is=1e-14 body.n=1.0"),
    ("X1 a b div", "X1/R1 resistor a X1/m 1k"),
    ("X1 a b div r=2k", "X1/R1 resistor a X1/m 2k"),
    ("X1 a b div PARAMS: r={big}", "X1/R1 resistor a X1/m 1M"),
    ("X1 a b c amp", "X1 chip in=a out=b gnd=c"),
])
def test_a_card_becomes_a_part(card: str, line: str) -> None:
    shared = ["R0 a b 1", ".model dm d(is=2n n=1.5 rs=0.5)", ".model dz D bv=12 ibv=5m", ".param big = 1meg",
              ".model red_led d is=1e-20 n=2", ".model qn npn(is=1f bf=200 br=2)", ".model qp pnp",
              ".model mn nmos(level=1 vto=1.5 kp=20u)", ".model mp pmos vto=-1",
              ".model mv vdmos(nchan vto=3 kp=20 is=1p n=1.1 rb=10m)",
              ".subckt div p q r=1k", "R1 p m {r}", "R2 m q 'r'", ".ends div",
              ".subckt amp in out gnd", "E1 out gnd in gnd 1000", ".ends"]
    assert line_of(brought(card, *shared).board, line.split()[0]) == line


def test_a_junction_fet_is_a_channel_and_two_junctions() -> None:
    board = brought("J1 d g s jn", ".model jn njf(vto=-3 beta=1m is=2e-14)").board
    assert [line_of(board, ref) for ref in ("J1", "J1-GD", "J1-GS")] == [
        "J1 nmos D=d G=g S=s vto=-3.0 kp=0.002 body.is=1e-30",
        "J1-GD diode A=g K=d is=2e-14 n=1.0", "J1-GS diode A=g K=s is=2e-14 n=1.0"]


def test_lines_go_on_and_comments_go() -> None:
    found = brought("* a remark", "R1 a b", "", "* between", "+ 10k $ ohms", "R2 b 0 1k // lower",
                    ".model d1", "+ d(is=1n", "+ n=2)", "D1 a 0 d1 ; end", "  * indented remark")
    assert [p.ref for p in found.board.parts] == ["R1", "R2", "D1"]
    assert found.board.part("D1").option("n") == "2.0"
    assert found.problems == ()


def test_nets_are_one_whatever_their_case_and_ground_has_two_names() -> None:
    board = brought("R1 Vcc GND 1", "R2 VCC 0 2", "R3 vcc gnd 3").board
    assert board.net_names() == ("Vcc", "0")


def test_hierarchy_keeps_inner_nets_apart_and_global_nets_together() -> None:
    board = brought(".global vdd", ".subckt leaf a", "R1 a m 1k", "R2 m vdd 1k", "R3 m 0 1k", ".ends",
                    ".subckt tree a", "X1 a leaf", "X2 a leaf", ".ends", "Xt in tree", "R9 in vdd 1").board
    nets = {p.ref: [net for _, net in p.pins] for p in board.parts}
    assert nets["Xt/X1/R1"] == ["in", "Xt/X1/m"]
    assert nets["Xt/X2/R2"] == ["Xt/X2/m", "vdd"]
    assert nets["Xt/X2/R3"] == ["Xt/X2/m", "0"]


@pytest.mark.parametrize(("cards", "place", "told"), [
    (["R1 a b {2*r}"], "2:8", "no plain number"),
    (["R1 a b"], "2:1", "has no value"),
    (["R1 a"], "2:1", "lacks nets"),
    (["R1 a b -5"], "2:1", "below zero"),
    (["R2 a b 1", "R2 a c 1"], "3:1", "second R2"),
    (["E1 a 0 b 0 10"], "2:1", "behaviour"),
    (["X1 a b two", ".subckt two a b c", ".ends"], "2:8", "has 2 nets"),
    (["X1 a me", ".subckt me a", "X1 a me", ".ends"], "4:6", "contains itself"),
    ([".param r = 2*3"], "2:12", "plain number"),
    ([".model"], "2:1", "name and a type"),
    ([".model dx ako:dy d"], "2:11", "AKO"),
    ([".model dx d(is=a+b)"], "2:16", "plain number"),
    ([".ends"], "2:1", "without a .subckt"),
    (["R98 a b 1", ".subckt s b", "R1 b 0 1"], "3:1", "not closed"),
    (["+ 10k"], "2:1", "nothing before"),
    ([".func f(x) {x*2}"], "2:1", "not followed"),
    ([".include /etc/passwd"], "2:10", "outside the folder"),
    ([".include ../x.lib"], "2:10", "outside the folder"),
    ([".include nowhere.lib"], "2:10", "cannot be read"),
    ([".include"], "2:1", "needs a file name"),
    (["T1 a 0 b 0 z0=50"], "2:1", "behaviour"),
], ids=lambda value: value[0] if isinstance(value, list) else "")
def test_a_fault_is_told_with_its_place(cards: list[str], place: str, told: str) -> None:
    found = import_text("\n".join(["t", *cards, "R99 a b 1k", ".end"]), "x.cir")
    errors = [str(p) for p in found.problems if not p.warning]
    assert {"R98", "R99"} & {p.ref for p in found.board.parts}
    assert len(errors) == 1
    assert errors[0].startswith(f"x.cir:{place}: ")
    assert told in errors[0]


@pytest.mark.parametrize(("cards", "place", "told"), [
    (["R1 a b 1M"], "2:8", "mega is MEG"),
    (["R1 a b 1", ".lib 'x.lib' tt"], "3:1", "not followed"),
    (["R1 a b 4k7"], "2:8", "letter code"),
    (["D1 a b nomodel"], "2:8", "no .model"),
    (["Q1 a b c nomodel"], "2:10", "no .model"),
    (["D1 a b qn", ".model qn npn"], "2:8", "of type npn"),
    (["Q1 a b c qn", ".model qn npn vaf=50 rb=10"], "3:8", "vaf, rb left out"),
    (["M1 a b c 0 mn", ".model mn nmos"], "2:10", "bulk"),
    (["M1 a b c c mn", ".model mn nmos level=49"], "3:8", "level 49"),
    (["X1 a b nowhere"], "2:1", "chip with no inside"),
    (["R1 a b 1", ".control", "shell rm -rf /", ".endc"], "3:1", "never run"),
], ids=lambda value: value[0] if isinstance(value, list) else "")
def test_a_doubt_is_a_warning_with_its_place(cards: list[str], place: str, told: str) -> None:
    warnings = [str(p) for p in brought(*cards).problems if p.warning]
    assert [w for w in warnings if w.startswith(f"x.cir:{place}: warning: ") and told in w], warnings


def test_a_title_that_is_a_card_is_told() -> None:
    found = import_text("R1 a b 10k\nR2 a b 1k\n", "x.cir")
    assert [p.ref for p in found.board.parts] == ["R2"]
    assert "not read" in found.problems[0].message


def test_files_of_the_same_folder_are_included(tmp_path: Path) -> None:
    (tmp_path / "parts" / "deep").mkdir(parents=True)
    (tmp_path / "top.cir").write_text('t\n.include "parts\\\\a.lib"\nX1 in 0 half\nD1 in 0 dx\n.end\n')
    (tmp_path / "parts" / "a.lib").write_text(".inc deep/b.lib\n.subckt half a b\nR1 a b 1k\n.ends\n")
    (tmp_path / "parts" / "deep" / "b.lib").write_text(".model dx d is=1n\n.include ../../top.cir\n")
    found = import_netlist(tmp_path / "top.cir")
    assert [p.ref for p in found.board.parts] == ["X1/R1", "D1"]
    assert [p.message for p in found.problems] == ['"../../top.cir" includes itself']
    assert found.problems[0].file.endswith("b.lib")


def test_no_link_leads_out_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("R9 a b 1\n")
    (tmp_path / "in").mkdir()
    try:
        (tmp_path / "in" / "link.lib").symlink_to(tmp_path / "secret")
    except OSError:
        pytest.skip("no links here")
    (tmp_path / "in" / "x.cir").write_text("t\n.include link.lib\nR1 a b 1\n")
    found = import_netlist(tmp_path / "in" / "x.cir")
    assert [p.ref for p in found.board.parts] == ["R1"]
    assert "outside" in found.problems[0].message


def test_definitions_that_multiply_end() -> None:
    """Ten placements in each of twenty subcircuits would be 10^20 parts, or placements of nothing."""
    for leaf in ("R1 a 0 1k", "* empty"):
        cards = [".subckt s0 a", leaf, ".ends"]
        for k in range(1, 20):
            cards += [f".subckt s{k} a", *(f"X{j} a s{k - 1}" for j in range(10)), ".ends"]
        found = import_text("\n".join(["t", *cards, "R0 a 0 1", "X1 a s19"]))
        assert len(found.board.parts) <= MOST_DEVICES
        assert "reading stops" in found.problems[-1].message


def test_endless_files_are_refused(tmp_path: Path) -> None:
    (tmp_path / "big.cir").write_bytes(b"* x\n" * 3_000_000)
    with pytest.raises(NetlistError, match="too large"):
        import_netlist(tmp_path / "big.cir")
    with pytest.raises(NetlistError, match="directory"):
        import_netlist(tmp_path)
    with pytest.raises(NetlistError, match="no such file"):
        import_netlist(tmp_path / "nowhere")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "latin-1", "utf-16"])
def test_text_of_any_usual_encoding(encoding: str, tmp_path: Path) -> None:
    (tmp_path / "x.cir").write_bytes("Trennverstärker\r\nC1 a 0 10µF\r\nR1 a 0 1k\r\n".encode(encoding))
    board = import_netlist(tmp_path / "x.cir").board
    assert board.title == "Trennverstärker"
    assert board.part("C1").value == pytest.approx(1e-5)


@pytest.mark.parametrize("text", ["", "\n", "title only\n", "t\n* nothing\n.end\n", "t\n.tran 1n 1u\n"])
def test_a_deck_without_parts_is_told(text: str) -> None:
    with pytest.raises(NetlistError, match="no part"):
        import_text(text)


WORDS = st.sampled_from([
    "R1", "D1", "Q1", "M1", "X1", "J1", "V1", "a", "b", "0", "1k", "4k7", "{r}", "=", "(", ")", "+", "*",
    ".model", ".subckt", ".ends", ".param", ".include", "x", "npn", "d", "'", '"', "\n", "\n", "\n", ";", "$",
    "1e999", "-1", "µ", "\t", ".end", ".control", "sub", "R1"])


@settings(deadline=None, derandomize=True, max_examples=300)
@given(st.lists(WORDS, max_size=60), st.text(max_size=40))
def test_whatever_stands_in_a_deck_it_is_read_or_refused(words: list[str], junk: str) -> None:
    text = "t\nR0 a b 1\n" + " ".join(words) + junk
    try:
        found = import_text(text, "x.cir")
    except NetlistError:
        return
    again = parse_board(write_board(found.board))
    assert again.parts == found.board.parts
