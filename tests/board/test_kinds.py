"""The kinds table is consistent, and importing the board layer stays cheap."""

from __future__ import annotations

import subprocess
import sys

import pytest

from incircuit.board import KINDS, KindSpec, kind_named, parse_board
from incircuit.board.kinds import ALIASES
from incircuit.board.options import option_drop, option_number, option_pins
from incircuit.board.refs import STATE_WORDS, STATEMENTS
from incircuit.board.valuelist import looks_like_value
from incircuit.errors import UnitError
from incircuit.units import UNIT_WORDS

each_kind = pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.name)


@each_kind
def test_the_words_of_a_kind_cannot_be_taken_for_one_another(kind: KindSpec) -> None:
    names = [o for o in kind.option_names if not o.endswith("*")]
    assert len(set(kind.option_names)) == len(kind.option_names)
    assert not set(names) & set(kind.pin_names)
    assert len(set(kind.words)) == len(kind.words)
    assert not any(looks_like_value(word) for word in kind.words)
    assert kind.doc
    assert kind.unit in ("", *UNIT_WORDS)
    assert {w for w, _ in kind.word_layouts} <= set(kind.words)
    assert set(kind.value_options) | set(kind.instead_of_value) <= set(names)
    for option in kind.options:
        assert option.doc
        assert (option.form == "word") == bool(option.choices)
        assert option.same_as in ("", *names)


def test_no_word_means_two_kinds() -> None:
    assert not set(ALIASES) & set(KINDS)
    assert sum(len(kind.aliases) for kind in KINDS.values()) == len(ALIASES)
    assert not {*KINDS, *ALIASES} & {*STATEMENTS, *STATE_WORDS}
    assert kind_named("coil") is KINDS["inductor"]
    assert kind_named("Resistor") is None


def test_default_words_and_layouts() -> None:
    dual = KINDS["dual-diode"]
    assert (dual.chosen(()), dual.chosen((), 1), dual.chosen(("series",), 1)) == (
        "fast",
        "common-cathode",
        "series",
    )
    assert KINDS["fuse"].chosen(()) == ""
    assert KINDS["chip"].chosen(()) == ""
    assert dual.required_pins(("series", "fast")) == (("A", "M", "K"),)


def test_options_as_numbers() -> None:
    board = parse_board("""\
D1 diode A=A K=B vf=0.6@10mA is=2n52 n=1.75
D2 diode A=A K=B vf=0.6V
Q1 npn B=A C=B E=C hfe=200
U1 chip V=A G=B X=A supply=V,X ground=G
T1 transformer P1=A P2=B dcr.P=1R5
""")
    d1, d2, q1, u1, t1 = board.parts
    assert option_drop(d1, "vf") == (0.6, 0.01)
    assert option_drop(d2, "vf") == (0.6, 0.001)
    assert (option_number(d1, "is"), option_number(d1, "n"), option_number(d1, "rs")) == (2.52e-9, 1.75, None)
    assert option_number(q1, "bf") == option_number(q1, "hfe") == 200.0
    assert (option_pins(u1, "supply"), option_pins(u1, "ground")) == (("V", "X"), ("G",))
    assert (option_number(t1, "dcr.P"), option_number(t1, "dcr")) == (1.5, None)
    with pytest.raises(KeyError):
        option_number(d1, "bf")


def test_a_board_built_in_code_with_a_bad_option_raises_a_unit_error() -> None:
    from dataclasses import replace

    part = parse_board("D1 diode A=A K=B").parts[0]
    with pytest.raises(UnitError):
        option_number(replace(part, options=(("rs", "-1"),)), "rs")


def test_importing_the_board_layer_loads_nothing_heavy() -> None:
    code = (
        "import sys, incircuit.board; "
        "print(sorted({m.split('.')[0] for m in sys.modules} & {'numpy', 'scipy', 'networkx', 'click'}))"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60)
    assert run.stdout == "[]\n"
