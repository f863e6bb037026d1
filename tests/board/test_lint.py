"""Warnings: each oddity is found where it is, and a sound board has none."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from incircuit.board import KINDS, Board, Part, lint, parse_board, read_board
from incircuit.board.plausible import USUAL, USUAL_OPTIONS

SOUND = """\
net A pad=TP1
net B pad=TP2
R1 resistor A B 10k
C1 capacitor A B 100n
"""


def warnings(text: str) -> list[str]:
    """Warnings of a text as ``line:column message (hint)``."""
    return [f"{p.line}:{p.column} {p.message} ({p.hint})" for p in lint(parse_board(text))]


def test_a_sound_board_has_no_warning() -> None:
    assert lint(parse_board(SOUND)) == ()
    assert lint(Board()) == ()


def test_a_net_that_is_fed_ends_nowhere() -> None:
    """Mains and supplies reach a net as a connector does."""
    assert warnings(SOUND + "F1 fuse L A 2A\nR2 resistor N B 1k\nmains L N 230V\n") == []


@pytest.mark.parametrize(
    ("line", "warning"),
    [
        (
            "R2 resistor A GATE 10R",
            "5:1 net GATE ends at R2.2: nothing else is on it "
            "(if a probe reaches it, say so: net GATE pad=TP1)",
        ),
        (
            "R2 resistor A B 10R\nR3 resistor A LINKS 1R\nR4 resistor LINKS LINK 1R",
            "7:1 net LINK ends at R4.2: nothing else is on it (did you mean LINKS?)",
        ),
        ("R2 resistor A A 10R", "5:1 R2 has all its pins on net A (no reading can show it; check the nets)"),
        ("D2 diode A=B K=B", "5:1 D2 has all its pins on net B (no reading can show it; check the nets)"),
        (
            "L1 choke A1=A A2=A B1=A B2=B",
            "5:1 winding A of L1 has all its pins on net A (no reading can show it; check the nets)",
        ),
        ("net UNUSED", "5:5 nothing touches net UNUSED (take it out)"),
        (
            "net a pad=TP3\nR2 resistor a A 1k",
            "5:5 nets A and a differ only in case (they are two; write one name if one is meant)",
        ),
        (
            "r1 resistor A B 10R",
            "5:1 parts R1 and r1 differ only in case (they are two; write one name if one is meant)",
        ),
        (
            "R2 resistor X Y 10R\nR3 resistor Y X 10R",
            "5:1 R2, R3: no net joins this to the rest of the board (check the names of its nets)",
        ),
        (
            "net R1.1 pad=TP3\nR2 resistor R1.1 B 10k",
            "5:5 R1.1 is taken as net R1.1, not as pin 1 of R1 (on net A) (call the net otherwise)",
        ),
        (
            "U1 chip V=A GND=B suply=A",
            "5:1 suply of U1 is taken as the name of a pin (did you mean supply=?)",
        ),
        ("R2 resistor A B 1m", "5:1 R2: 1.00 mΩ is unusual for a film resistor (did you mean 1M?)"),
        ("R2 resistor A B 4700M", "5:1 R2: 4.70 GΩ is unusual for a film resistor (did you mean 4R7?)"),
        ("C2 capacitor A B 10F", "5:1 C2: 10.0 F is unusual for a ceramic capacitor (did you mean 10u?)"),
        ("C2 capacitor A B 470", "5:1 C2: 470 F is unusual for a ceramic capacitor (did you mean 470u?)"),
        ("L1 inductor A B 330", "5:1 L1: 330 H is unusual for a power inductor (did you mean 330u?)"),
        ("RS1 shunt A B 10M", "5:1 RS1: 10.0 MΩ is unusual for a shunt (did you mean 10m?)"),
        ("D1 diode A=A K=B is=2.52", "5:1 D1: is=2.52 is unusual: 2.52 A (check its prefix)"),
        ("RT1 thermistor A B 10k b=3.95", "5:1 RT1: b=3.95 is unusual: 3.95 K (did you mean 3k95?)"),
    ],
)
def test_each_oddity_is_found_at_its_place(line: str, warning: str) -> None:
    assert warning in warnings(SOUND + line + "\n")


@pytest.mark.parametrize(
    "line",
    [
        "J1 connector 1=OUTSIDE 2=A 3=A",
        "D1 dual-diode A1=A A2=A K=B",
        "R2 resistor A B 0R",
        "RS1 shunt A B 0R0005",
        "C2 capacitor A B 4700u electrolytic",
        "U1 chip VCC=A GND=B COMP=A supply=VCC",
        "T1 transformer P1=A P2=B S1=C S2=D\nR2 resistor C D 10R",
    ],
)
def test_what_is_usual_gives_no_warning(line: str) -> None:
    assert warnings(SOUND + line + "\n") == []


def test_warnings_are_shown_with_their_line() -> None:
    (problem,) = lint(parse_board(SOUND + "R2  resistor A A 10R  # joined\n", "my.board"))
    assert str(problem) == (
        "my.board:5:1: warning: R2 has all its pins on net A "
        "(no reading can show it; check the nets)\n  R2  resistor A A 10R  # joined\n  ^"
    )


def test_a_board_built_in_code_has_warnings_too() -> None:
    board = Board(parts=(Part("R1", "resistor", (("1", "A"), ("2", "A")), 10.0),))
    assert [p.message for p in lint(board)] == ["R1 has all its pins on net A"]


def test_warnings_about_an_included_file_name_it(tmp_path: Path) -> None:
    (tmp_path / "b.board").write_text("\n  R2 resistor A A 10R\n", encoding="utf-8")
    (tmp_path / "a.board").write_text(SOUND + 'include "b.board"\n', encoding="utf-8")
    (problem,) = lint(read_board(tmp_path / "a.board"))
    assert (problem.file, problem.line, problem.column) == (str(tmp_path / "b.board"), 2, 3)


def test_many_dangling_nets_do_not_take_long() -> None:
    board = parse_board("\n".join(f"R{i} resistor A N{i} 10R" for i in range(5000)))
    start = time.process_time()
    assert len(lint(board)) == 5000
    assert time.process_time() - start < 3.0


def test_the_tables_of_usual_values_name_real_kinds_words_and_options() -> None:
    for (kind, word), (low, high) in USUAL.items():
        assert KINDS[kind].unit
        assert word == "" or word in KINDS[kind].word_groups[0]
        assert 0 < low < high
    names = {piece for kind in KINDS.values() for option in kind.options for piece in option.name.split(".")}
    assert set(USUAL_OPTIONS) <= names
    valued = {kind.name for kind in KINDS.values() if kind.value_required}
    assert valued <= {kind for kind, _ in USUAL}
