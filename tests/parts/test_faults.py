"""Fault texts: read, refused with the nearest word, and written back."""

from __future__ import annotations

import pytest

from incircuit.board.model import Board, Part
from incircuit.errors import StateError
from incircuit.parts import Fault, change, defects_of, expand, parse_fault
from tests.parts.samples import board, every_sample, named, sample

BOARD = board("""
Q1 igbt G=g C=c E=e
Q2 npn B=b C=c E=e
Q3 nmos G=g D=d S=s
D3 diode A=a K=k signal
D4 dual-diode A1=a A2=b K=k common-cathode
BR1 bridge AC1=l AC2=n +=p -=m
R7 resistor a b 10k
RV1 potentiometer 1=a W=b 3=c 10k
C9 capacitor c e 470u electrolytic
F1 fuse a b
U1 optocoupler A=a K=k C=c E=e
""")

GOOD = [
    ("Q1 short", "short", ("C", "E"), None),
    ("Q1 short C-E", "short", ("C", "E"), None),
    ("Q1 short E-C", "short", ("C", "E"), None),
    ("Q1 short G E", "short", ("G", "E"), None),
    ("Q1 short 0.5", "short", ("C", "E"), 0.5),
    ("Q1 open G", "open", ("G",), None),
    ("Q1 open", "open", ("C",), None),
    ("Q1 open C-E", "open", ("C", "E"), None),
    ("Q3 short", "short", ("D", "S"), None),
    ("Q3 leaky G-S 2k2", "leaky", ("G", "S"), 2200.0),
    ("R7 open", "open", (), None),
    ("R7 open 1", "open", (), None),
    ("D3 leaky 470R", "leaky", (), 470.0),
    ("D3 short A-K", "short", (), None),
    ("D3 reversed", "reversed", (), None),
    ("R7 drifted 1.5", "drifted", (), 1.5),
    ("R7 drifted x0.5", "drifted", (), 0.5),
    ("R7 drifted 2", "drifted", (), 2.0),
    ("R7 wrong-value x10", "wrong-value", (), 10.0),
    ("R7 wrong-value 100k", "wrong-value", (), 10.0),
    ("C9 missing", "missing", (), None),
    ("C9 dried 0.1", "dried", (), 0.1),
    ("D4 short", "short", ("A1", "K"), None),
    ("RV1 drifted 1-W 3", "drifted", ("1", "W"), 3.0),
    ("RV1 short", "short", ("1", "3"), None),
    ("BR1 short +--", "short", ("+", "-"), None),
    ("BR1 short AC1 -", "short", ("AC1", "-"), None),
    ("BR1 short AC1-AC2", "short", ("AC1", "AC2"), None),
    ("BR1 reversed", "reversed", (), None),
    ("U1 short", "short", ("C", "E"), None),
]


@pytest.mark.parametrize(("text", "word", "pins", "magnitude"), GOOD, ids=[g[0] for g in GOOD])
def test_read(text: str, word: str, pins: tuple[str, ...], magnitude: float | None) -> None:
    fault = parse_fault(BOARD, text)
    assert (fault.defect.word, fault.defect.pins) == (word, pins)
    assert fault.part is BOARD.part(text.split()[0])
    assert fault.magnitude == (None if magnitude is None else pytest.approx(magnitude))
    what = change(fault.part, expand(fault.part), fault.defect, fault.magnitude)
    assert what.remove or what.add


BAD = [
    ("", "is no fault"),
    ("Q1", "is no fault"),
    ("Q9 short", r"no part Q9: did you mean Q\d"),
    ("Q1 shrot", "did you mean short"),
    ("Q1 burnt-out", "is not a defect"),
    ("Q1 short C-X", '"C-X" is not a value'),
    ("Q1 short C-E 1 2", "no pins of Q1"),
    ("Q1 drifted", "an? igbt cannot be drifted; Q1 can be open, short, leaky"),
    ("BR1 short", r"say which: short AC1-\+, "),
    ("BR1 open", "say which: open AC1, "),
    ("Q2 reversed", "say which: reversed B-C, "),
    ("R7 open 470R", "takes no number"),
    ("D3 leaky much", "is not a value"),
    ("D3 leaky 1V", "expected ohms"),
    ("R7 drifted -1", "cannot be"),
    ("F1 short", "fuse cannot be short"),
    ("Q2 open C-E B", "no pins of Q2|takes no number"),
]


@pytest.mark.parametrize(("text", "message"), BAD, ids=[b[0] for b in BAD])
def test_refused_with_what_would_be_right(text: str, message: str) -> None:
    with pytest.raises(StateError, match=message) as caught:
        parse_fault(BOARD, text)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("part", list(every_sample()), ids=named)
def test_every_defect_is_read_back_from_its_name(part: Part) -> None:
    one = Board(parts=(part,))
    for defect in defects_of(part, expand(part)):
        for magnitude in (None, defect.magnitude.typical if defect.magnitude else None):
            fault = Fault(part, defect, magnitude)
            again = parse_fault(one, fault.text)
            assert again.defect == defect
            assert again.magnitude == (None if magnitude is None else pytest.approx(magnitude))


def test_blown_fuse_can_be_bridged() -> None:
    one = Board(parts=(sample("fuse", "blown"),))
    assert parse_fault(one, "X1 short").defect.word == "short"


JUNK = ["X1 short \x00", "X1 \udcff", "X1 leaky 1e999", "X1 leaky nan", "X1 short " + "9" * 500]


@pytest.mark.parametrize("text", JUNK)
def test_junk_is_refused(text: str) -> None:
    with pytest.raises(StateError):
        parse_fault(Board(parts=(sample("diode"),)), text)
