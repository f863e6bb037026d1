"""The state of the board at every reading, and what cannot have been done."""

from __future__ import annotations

from pathlib import Path

import pytest

from incircuit.board import HEALTHY, make_state
from incircuit.board.state import State
from incircuit.errors import StoryError
from incircuit.story import Moment, moments, parse_story, states, story_of_text
from tests.story.bench_board import BOARD

READ = "SW RTN ohms 1k\n"


def after(text: str) -> Moment:
    """The bench at a reading taken after these statements."""
    story = parse_story(text + READ, board=BOARD)
    found, problems = moments(story, BOARD)
    assert problems == ()
    return found[-1]


def wrong(text: str) -> str:
    """What is said about the last statement of a text; everything before is all right."""
    problems = story_of_text(text, "x.readings", BOARD).problems
    lines = text.rstrip("\n").split("\n")
    assert [p.line for p in problems] == [len(lines)]
    assert story_of_text("\n".join(lines[:-1]), board=BOARD).problems == ()
    (moment,) = moments(story_of_text(text + "\n" + READ), BOARD)[0][-1:] or (None,)
    if moment:  # what cannot be is left out
        assert moment.state == moments(story_of_text("\n".join([*lines[:-1], READ])), BOARD)[0][-1].state
    return str(problems[0]).split("\n")[0].split(": ", 1)[1]


def test_the_story_of_the_design() -> None:
    text = ("meter handheld\nGATE DRV diode 0.011 # as found\nlift D3.K\nD3.A D3.K diode 0.586\nremove Q1\n"
            "SW RTN diode OL\nfit Q1\nresolder D3.K\nSW RTN diode 0.4 settled\n")
    found = states(parse_story(text, board=BOARD), BOARD)
    assert [reading.shown for reading, _, _ in found] == ["0.011", "0.586", "OL", "0.4"]
    assert [state for _, state, _ in found] == [
        HEALTHY, make_state(BOARD, lift=["D3.K"]), make_state(BOARD, lift=["D3.K"], remove=["Q1"]), HEALTHY]
    assert [fitted for _, _, fitted in found] == [frozenset(), frozenset(), frozenset(), frozenset({"Q1"})]


@pytest.mark.parametrize(("text", "state"), [
    ("lift D3.K\nlift Q1.C\n", make_state(BOARD, lift=["D3.K", "Q1.C"])),
    ("lift D3.K\nresolder D3.K\n", HEALTHY),
    ("lift D3.K\nlift D3.A\nremove D3\n", make_state(BOARD, remove=["D3"])),
    ("lift D3.K\nremove D3\nfit D3\n", HEALTHY),
    ("remove D3\nresolder D3\n", HEALTHY),
    ("lift D3.K\nfit D3\n", HEALTHY),
    ("short GATE RTN\n", make_state(BOARD, short=["GATE RTN"])),
    ("short GATE RTN\nunshort R8.2 GATE\n", HEALTHY),
    ("short GATE RTN\nshort SW RTN\nunshort GATE RTN\n", make_state(BOARD, short=["SW RTN"])),
    ("lift D3.K\nshort D3.K DRV\n", State(frozenset({("D3", "K")}), jumpers=(("D3 K", "DRV"),))),
    ("lift D3.K\nshort D3.K DRV\nresolder D3.K\n", HEALTHY),
    ("short D3.K GATE\nlift D3.K\n", State(frozenset({("D3", "K")}), jumpers=(("D3 K", "GATE"),))),
    ("charge C9 48\n", make_state(BOARD, charge=["C9 48"])),
    ("charge C9 48\ncharge C9 12\n", make_state(BOARD, charge=["C9 12"])),
    ("charge C9 48\ndischarge C9\n", HEALTHY),
    ("charge C9 48\ncharge C9 0\n", HEALTHY),
    ("charge C9 48\nremove C9\nfit C9\n", HEALTHY),
    ("discharge C9\ndischarge C9\n", HEALTHY),
    ("ambient 31\n", make_state(BOARD, celsius=31.0)),
])
def test_what_is_done_and_undone(text: str, state: State) -> None:
    assert after(text).state == state


def test_new_parts_are_counted_and_the_same_part_is_not_new() -> None:
    assert after("fit Q1\nremove Q1\nfit Q1\nfit D3\n").replaced == (("Q1", 2), ("D3", 1))
    assert after("remove Q1\nresolder Q1\nlift D3.K\nresolder D3.K\n").fitted == frozenset()


def test_heat_supply_and_meter_are_kept_beside_the_state() -> None:
    assert after("hot Q1 70\nhot D3 60\nhot Q1 25\n").hot == (("D3", 60.0),)
    assert after("hot Q1 70\nfit Q1\n").hot == ()
    assert after("power SW RTN 12\npower SW RTN 0\n").power == ()
    text = f"{READ}meter handheld\n{READ}meter moving-coil\n{READ}"
    assert [m.meter for m in moments(parse_story(text), BOARD)[0]] == ["", "handheld", "moving-coil"]


def test_a_meter_of_ones_own_lies_beside_the_file(tmp_path: Path) -> None:
    (tmp_path / "my own.toml").write_text("")
    story = parse_story(f'meter "my own.toml"\n{READ}', str(tmp_path / "x.readings"), BOARD)
    assert story.meter == "my own.toml"
    assert moments(story, BOARD)[0][0].meter == str(tmp_path / "my own.toml")


@pytest.mark.parametrize(("text", "message"), [
    ("lift D3.K\nlift D3.K", "D3.K is lifted already, since line 1 (one of the two is enough)"),
    ("resolder D3.K", "D3.K is not lifted (write lift where it was)"),
    ("resolder D3", "D3 is on the board"),
    ("remove D3\nlift D3.K", "D3 is off the board since line 1 (write fit D3 or resolder D3"),
    ("lift D3.K\nremove D3\nresolder D3.K", "D3 is off the board since line 2"),
    ("remove D3\n\nremove D3", "D3 is off the board since line 1"),
    ("remove C9\ncharge C9 5", "C9 is off the board"),
    ("remove C9\ndischarge C9", "C9 is off the board"),
    ("remove Q1\nhot Q1 70", "Q1 is off the board"),
    ("short GATE D3.A", "GATE and D3.A are one net already"),
    ("short GATE RTN\nshort R8.2 R7.2", "this wire is laid already, in line 1 (unshort R8.2 R7.2"),
    ("short SW RTN\nunshort GATE RTN", "no wire is laid between GATE and RTN"),
    ("power SW RTN 0", "no supply is on SW and RTN"),
    ("power GATE R8.1 5", "GATE and R8.1 are one net"),
    ("power SW RTN 12\nSW RTN ohms 1k", "ohms with the supply on (if it was taken off, write power"),
])
def test_what_cannot_have_been_done(text: str, message: str) -> None:
    assert message in wrong(text)


def test_states_raises_with_all_faults() -> None:
    story = story_of_text(f"resolder D3.K\nnonsense\n{READ}lift D9.K\n", "x.readings")
    with pytest.raises(StoryError) as caught:
        states(story, BOARD)
    assert [(p.line, p.column) for p in caught.value.problems] == [(1, 10), (2, 1), (4, 6)]
    assert len(moments(story, BOARD)[0]) == 1
