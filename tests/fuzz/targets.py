"""What is fuzzed: bytes as of a file go in, and either something sensible or an IncircuitError comes out."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from incircuit.board import Board, lint, parse_board, write_board
from incircuit.board.source import decoded
from incircuit.circuit.build import build
from incircuit.errors import IncircuitError, Problem, StoryError
from incircuit.meter.profile import PROFILES, read_meter
from incircuit.story import moments, write_story
from incircuit.story.reader import story_of_bytes

ROOT = Path(__file__).resolve().parent.parent.parent
CUT = b"\n=====\n"
"""Between the board and the readings of an input for `judge`."""

SMALL_BOARD = """
net A
net B
R1 resistor A B 100R 5%
D1 diode A=A K=B signal
Q1 npn C=A B=B E=GND
C1 capacitor A GND 10u electrolytic
"""


def fuzz_board(data: bytes) -> None:
    """A board is read, checked, built of elements, written, and reads back as the same."""
    text = decoded(data, "x.board")
    if isinstance(text, Problem):
        return
    board = parse_board(text, "x.board")
    lint(board)
    build(board)
    again = parse_board(write_board(board), "x.board")
    assert [p.ref for p in again.parts] == [p.ref for p in board.parts]


def fuzz_readings(data: bytes) -> None:
    """A story is read, put on a board, and written."""
    story = story_of_bytes(data, "x.readings", _board())
    moments(story, _board())
    write_story(story)
    if story.problems:
        raise StoryError(story.problems)


def fuzz_meter(data: bytes) -> None:
    """A profile is read, or every fault of it told."""
    read_meter(data, "x.toml")


def fuzz_judge(data: bytes) -> None:
    """The whole of `incircuit judge` but the opening of files."""
    from incircuit.cli.judge import judgement_text
    from incircuit.judge.judge import judge

    before, _, after = data.partition(CUT)
    text = decoded(before, "x.board")
    if isinstance(text, Problem):
        return
    board = parse_board(text, "x.board")
    judgement_text(judge(board, story_of_bytes(after, "x.readings", board)), frozenset(), True)


def _board() -> Board:
    return parse_board(SMALL_BOARD, "small.board")


TARGETS: dict[str, Callable[[bytes], None]] = {
    "board": fuzz_board, "readings": fuzz_readings, "meter": fuzz_meter, "judge": fuzz_judge,
}


def run(target: str, data: bytes) -> bool:
    """One input; whether it was accepted. Anything but an IncircuitError is a finding and is let through."""
    try:
        TARGETS[target](data)
    except IncircuitError as error:
        if not str(error).strip():
            raise ValueError("an error that says nothing") from error
        return False
    return True


def seeds(target: str) -> list[bytes]:
    """Inputs to start from: shipped files, those of other tests, and the corpus."""
    found = [p.read_bytes() for place, pattern in FILES.get(target, ()) for p in sorted(place.rglob(pattern))]
    if target == "readings":
        found += STORIES
    if target == "judge":
        found += [SMALL_BOARD.encode() + CUT + story for story in STORIES]
    corpus = Path(__file__).parent / "corpus" / target
    return found + [p.read_bytes() for p in sorted(corpus.glob("*"))]


FILES = {
    "board": ((ROOT / "boards", "*.board"), (ROOT / "tests/board/valid", "*.board")),
    "readings": ((ROOT / "examples", "*.readings"),),
    "meter": ((PROFILES, "*.toml"), (ROOT / "examples", "*.toml")),
}


STORIES = (
    b"meter handheld\nA B diode 0.58\nB A ohms 99.8\nA GND ohms OL settled\nlift D1.K\nD1.A D1.K diode OL\n",
    b"A B ohms 0.3\nB A ohms 0.3\nA GND diode 0.021 first\nremove Q1\nA GND diode OL\nfit Q1\nA B diode 1\n",
    b"A B continuity silent\nhot R1 80\nA B ohms 104\nshort A GND\nA B ohms 2M\ndischarge C1\nB A ohms 1k\n",
)
