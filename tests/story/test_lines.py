"""What a line of a readings file may say, and what is said about one that cannot be."""

from __future__ import annotations

import pytest

from incircuit.errors import StoryError
from incircuit.meter.typed import Typed
from incircuit.story import ReadingEntry, StateEntry, parse_story, story_of_text
from incircuit.story.words import STATE_FORMS
from tests.story.bench_board import BOARD


def reading(text: str) -> ReadingEntry:
    """The one reading of a text."""
    (entry,) = parse_story(text).readings
    return entry


@pytest.mark.parametrize(("text", "typed", "step"), [
    ("GATE DRV diode 0.011", Typed(0.011, False), 0.001),
    ("GATE DRV diode 586mV", Typed(0.586, False), 0.001),
    ("GATE DRV ohms 10.1 kΩ", Typed(10100.0, False), 100.0),
    ("GATE DRV ohms OL", Typed(None, True), 0.0),
    ("GATE DRV continuity beep", Typed(None, False, True), 0.0),
    ("GATE DRV continuity 12.0 beep", Typed(12.0, False, True), 0.1),
    ("GATE DRV continuity OL silent", Typed(None, True, False), 0.0),
])
def test_what_the_display_showed(text: str, typed: Typed, step: float) -> None:
    entry = reading(text)
    assert (entry.red, entry.black) == ("GATE", "DRV")
    assert entry.typed == typed
    assert entry.step == pytest.approx(step)


def test_when_remark_and_stamp_follow_in_any_order() -> None:
    assert reading("A B ohms 1").when == ""
    assert reading("A B ohms 1 first").when == "first"
    assert reading("A B ohms 1 settled # said the display").when == "settled"
    assert reading("A B ohms 1 after 5s").when == 5.0
    assert reading("A B ohms 1 after 0.5 s").when == 0.5
    entry = reading('A B ohms 1 @2026-11-25T18:03 "a \\"good\\" # look" after 500m')
    assert (entry.stamp, entry.remark, entry.when) == ("2026-11-25T18:03", 'a "good" # look', 0.5)
    (lift,) = parse_story('lift D3.K @2026-11-25T18:03:09+01:00 "hot"').statements
    assert (lift.stamp, lift.remark) == ("2026-11-25T18:03:09+01:00", "hot")


def test_names_in_quotes_are_no_state_words() -> None:
    entry = reading('"short" RTN ohms 1k')
    assert (entry.red, entry.black, entry.typed.value) == ("short", "RTN", 1000.0)


def test_every_statement_reads_by_its_own_example() -> None:
    for word, form in STATE_FORMS.items():
        (entry,) = parse_story(form.example).statements
        assert entry.word == word
        assert list(entry.args) == form.example.split()[1:]
        assert (entry.number is not None) == (form.arguments[-1] in ("volts", "celsius"))


def test_quantities_of_statements() -> None:
    numbers = [e.number for e in parse_story("charge C9 48 V\npower A B 12\nhot Q1 70 °C\nhot Q1 -20C\n"
                                             "ambient 31\ncharge C9 10mV").statements]
    assert numbers == [48.0, 12.0, 70.0, -20.0, 31.0, 0.01]


@pytest.mark.parametrize(("text", "column", "message"), [
    ("GATE", 1, '"GATE" is no state word, and a reading is RED BLACK MODE SHOWN: BLACK, MODE, SHOWN missing'),
    ("lfit D3.K", 1, '"lfit" is no state word, and a reading is RED BLACK MODE SHOWN: MODE, SHOWN missing '
                     "(did you mean fit?)"),
    ("Lift D3.K", 1, "did you mean lift?"),
    ("GATE DRV 0.011", 10,
     '"0.011" is not a mode of the meter (one of diode, ohms, continuity, farads, esr, volts)'),
    ("GATE DRV doide 0.011", 10, '"doide" is not a mode of the meter (did you mean diode?)'),
    ("GATE DRV diode", 1, "SHOWN missing"),
    ("GATE DRV diode 586", 16, '"586" is 586 V, more than a diode test shows (did you mean 586mV?)'),
    ("GATE DRV ohms 4k7k", 15, '"4k7k" is not a value'),
    ("GATE DRV ohms beep", 15, '"beep" is what continuity tells'),
    ("GATE DRV diode 0.5 beep", 16, '"beep" is what continuity tells, not diode'),
    ("GATE GATE ohms 1", 6, "both probes are on GATE (name two different pads)"),
    ("GATE DRV ohms 1 setled", 17, "setled is no word of a reading (did you mean settled?)"),
    ("GATE DRV ohms 1 first settled", 23, "settled is one too many in a reading (one of first"),
    ("GATE DRV ohms 1 after", 17, "after needs seconds, found nothing (write after 5s)"),
    ("GATE DRV ohms 1 after 0s", 23, 'after needs seconds, found "0s"'),
    ("GATE DRV ohms 1 after 5m", 23, 'after needs 0.1 to 3600 seconds, found "5m", 0.005 s'),
    ("GATE DRV ohms 1 after 1e9s", 23, "after 300s for five minutes"),
    ("GATE DRV farads 470", 17, '"470" is 470 F, more than a meter shows (did you mean 470u?)'),
    ("charge C9 1e7", 11, "1e+07 V is no voltage of a board (at most 100000)"),
    ("GATE DRV ohms 1 after -1s", 23, 'after needs seconds, found "-1s"'),
    ('GATE DRV ohms 1 ""', 17, "the remark is empty"),
    ('GATE DRV ohms 1 "a" "b"', 21, '"b" is one too many in a reading'),
    ("GATE DRV ohms 1 @2026-02-31T18:03", 17, '"@2026-02-31T18:03" is no time (write @2026-11-25T18:03)'),
    ("GATE DRV ohms 1 @noon", 17, '"@noon" is no time'),
    ('GATE DRV ohms 1 "a', 17, 'this " has no partner'),
    ('GA"T"E DRV ohms 1', 1, "quotes stand around a whole name"),
    ('"" DRV ohms 1', 1, "the name is empty"),
    ("lift", 1, "lift takes PIN (write lift D3.K)"),
    ("lift D3.K D3.A", 11, "D3.A is no word of a lift statement"),
    ("lift D3.K first", 11, "first is no word of a lift statement"),
    ("power A B", 1, "power takes PAD PAD VOLTS (write power +15V RTN 15)"),
    ("short A A", 9, "A is named twice"),
    ("power A A 5", 9, "A is named twice"),
    ("charge C9 4A", 11, '"4A" is in amps, expected volts (V)'),
    ("hot Q1 900", 8, "900 °C is no temperature of a part on the bench"),
    ("hot Q1 nan", 8, '"nan" is not a value'),
    ("short RTN ohms 10", 1, 'short begins a statement (the red lead on a net of that name is written '
                             '"short", with the quotes)'),
    ("lift RTN ohms 10", 1, "lift begins a statement"),
    ("GATE\u00a0DRV ohms 1", 5, "U+00A0 (no-break space) cannot stand in a readings file"),
    ("GATE\x00DRV ohms 1", 5, "U+0000 (control character) cannot stand in a readings file"),
    ("x" * 2001, 1, "this line has 2001 characters"),
])
def test_what_is_said_about_a_faulty_line(text: str, column: int, message: str) -> None:
    with pytest.raises(StoryError) as caught:
        parse_story(f"# one\n  \n{text}\n", "bench.readings")
    first = caught.value.problems[0]
    assert (first.line, first.column) == (3, column)
    assert message in str(first).split("\n")[0]
    assert str(first).startswith(f"bench.readings:3:{column}: ")
    if len(text) < 2000 and text.isprintable():
        assert str(first).split("\n")[1:] == [f"  {text}", " " * (column + 1) + "^"]


def test_a_power_of_ten_is_no_digit_of_the_display() -> None:
    assert reading("A B ohms 4.7e3").step == pytest.approx(100.0)
    assert reading("A B ohms 1e300").step == pytest.approx(1e300)


@pytest.mark.parametrize(("text", "column", "message"), [
    ("GAET DRV ohms 1", 1, '"GAET" is no net, pad or pin of this board (did you mean GATE?)'),
    ("GATE D3.Z ohms 1", 6, 'D3 has no pin "Z" (its pins are A K)'),
    ("lift D3", 6, "D3 is a part, not a pin (write one of D3.A D3.K)"),
    ("lift D4.K", 6, 'there is no part "D4" (did you mean D3?)'),
    ("remove D3.K", 8, 'there is no part "D3.K" (the whole part is D3)'),
    ("fit q1", 5, 'there is no part "q1" (did you mean Q1?)'),
    ("short GATE RTNN", 12, '"RTNN" is no net, pad or pin of this board (did you mean RTN?)'),
    ("charge R7 5", 8, "R7 is of kind resistor (only a capacitor or an insulated gate keeps a charge)"),
    ("discharge R7", 11, "R7 is of kind resistor"),
    ("power SW R 5", 10, '"R" is no net, pad or pin of this board'),
    ("meter handhedl", 7, 'there is no meter and no profile "handhedl" (did you mean handheld?)'),
])
def test_what_only_the_board_can_tell(text: str, column: int, message: str) -> None:
    assert parse_story(text).entries
    with pytest.raises(StoryError) as caught:
        parse_story(text, "x.readings", BOARD)
    (problem,) = caught.value.problems
    assert problem.column == column
    assert message in str(problem)


def test_pads_go_by_net_test_point_and_pin() -> None:
    story = parse_story('GATE TP3 ohms 10\nD3.A R8.2 ohms 10k\n"short" RTN ohms 1k\n', board=BOARD)
    assert [(e.red, e.black) for e in story.readings] == [("GATE", "TP3"), ("D3.A", "R8.2"), ("short", "RTN")]


def test_all_faults_at_once_and_the_other_lines_are_read() -> None:
    text = ("GAET DRV ohms 1\nGATE DRV ohms 10\nlift D9.K\nGATE DRV omhs 10\nlift D3.K\n"
            "D3.A D3.K diode 0.586\n")
    story = story_of_text(text, "x.readings", BOARD)
    assert [p.line for p in story.problems] == [1, 3, 4]
    kinds = [type(e).__name__ for e in story.entries]
    assert kinds == ["ReadingEntry", "ReadingEntry", "StateEntry", "Entry", "StateEntry", "ReadingEntry"]
    assert isinstance(story.entries[4], StateEntry)
