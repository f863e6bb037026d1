"""Whole readings files: what can be in one, what is refused, and writing back as typed."""

from __future__ import annotations

import os
import time
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board.faults import MOST
from incircuit.board.source import LARGEST
from incircuit.errors import StoryError
from incircuit.meter.typed import parse_shown
from incircuit.story import (
    ReadingEntry,
    StateEntry,
    Story,
    entry_line,
    moments,
    parse_story,
    read_story,
    story_of_file,
    story_of_text,
    write_story,
)
from incircuit.story.words import STATE_FORMS
from tests.story.bench_board import BOARD

TEXT = """# pump drive, bench 2
meter handheld

GATE  DRV   diode  0.011              # red, black, mode, what the display showed
\tGATE  DRV   ohms   10.1  settled "probe slipped"
lift  D3.K   # the cathode
D3.A  D3.K  diode  0.586 @2026-11-25T18:03
"""


def test_reading_and_writing_gives_the_text_back() -> None:
    story = parse_story(TEXT, board=BOARD)
    assert write_story(story) == TEXT
    assert story.meter == "handheld"
    assert [e.place.line for e in story.readings if e.place] == [4, 5, 7]
    assert parse_story(write_story(story)) == story


def test_faulty_lines_are_written_back_too() -> None:
    text = TEXT.replace("lift", "lfit").replace("ohms", "omhs")
    story = story_of_text(text)
    assert len(story.problems) == 2
    assert write_story(story) == text


def test_line_ends_byte_order_mark_and_no_end(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").rstrip("\r\n").encode())
    story = read_story(path, BOARD)
    assert story == parse_story(TEXT)
    assert write_story(story) == TEXT


def test_a_changed_entry_is_written_anew_and_keeps_its_comment() -> None:
    story = parse_story(TEXT)
    reading = story.readings[0]
    changed = replace(reading, shown="OL", typed=parse_shown("OL", "diode"), step=0.0, when=5.0)
    entries = tuple(changed if e is reading else e for e in story.entries)
    line = write_story(replace(story, entries=entries)).split("\n")[3]
    assert line == "GATE DRV diode OL after 5.0s" + TEXT.split("\n")[3][len("GATE  DRV   diode  0.011"):]


def test_an_entry_no_line_can_say_is_refused() -> None:
    entry = ReadingEntry("A", "B", "ohms", "10", parse_shown("11", "ohms"), 1.0)
    with pytest.raises(StoryError, match="cannot be written so that it reads back the same"):
        write_story(Story(entries=(entry,)))


@settings(deadline=None, derandomize=True, max_examples=200)
@given(st.text(st.characters(blacklist_categories=("C", "Z")), min_size=1, max_size=8),
       st.sampled_from(["OL", "0.5", "10 mV", "1e-3"]),
       st.sampled_from(["", "first", "settled"]) | st.floats(0.1, 3600.0),
       st.text(st.characters(blacklist_categories=("C", "Z"), whitelist_characters=" "), max_size=20),
       st.sampled_from(["", "2026-11-25T18:03", "2026-11-25T18:03:01Z"]))
def test_entries_built_in_code_read_back(red: str, shown: str, when: object, remark: str, stamp: str) -> None:
    (base,) = parse_story(f"A B diode {shown}").readings
    entry = replace(base, red=red, black=red + "2", when=when, remark=remark, stamp=stamp, line="",
                    place=None)
    assert parse_story(entry_line(entry)).entries == (entry,)


def test_statements_built_in_code_read_back() -> None:
    for form in STATE_FORMS.values():
        (entry,) = parse_story(form.example).statements
        assert entry_line(entry) == form.example
    assert entry_line(StateEntry("meter", ("my own.toml",))) == 'meter "my own.toml"'


def refused(path: Path | str) -> str:
    """What is said about a file of which nothing can be read; within a second."""
    start = time.perf_counter()
    with pytest.raises(StoryError) as caught:
        read_story(path)
    assert time.perf_counter() - start < 1.0
    assert story_of_file(path).problems == caught.value.problems
    return str(caught.value)


def test_what_is_no_readings_file(tmp_path: Path) -> None:
    assert "is a directory, not a readings file (name a text file that ends in .read" in refused(tmp_path)
    assert "cannot be read: no such file or directory" in refused(tmp_path / "none")
    assert "there is a null byte in its name" in refused("a\0b")
    os.mkfifo(tmp_path / "pipe")
    assert "is a pipe" in refused(tmp_path / "pipe")
    assert "is a device" in refused("/dev/zero")
    utf16 = tmp_path / "wide.readings"
    utf16.write_bytes(TEXT.encode("utf-16"))
    assert "is UTF-16 text (save it as UTF-8)" in refused(utf16)


def test_a_hundred_megabytes_are_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "large.readings"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    assert f"is too large: 100,000,000 bytes (a readings file has at most {LARGEST:,} bytes)" in refused(path)
    assert "is too large" in str(story_of_text("#" * (LARGEST + 1)).problems[0])
    assert "is too long" in str(story_of_text("\n" * 200_001).problems[0])


def test_bytes_that_are_no_text_fault_their_line_only(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    data = b"GATE DRV ohms 10\nGATE D\xffV ohms 10 # \xfe\n\x00\x00\x00\nGATE DRV ohms 11\n"
    path.write_bytes(data)
    story = story_of_file(path, BOARD)
    assert [str(p).split("\n")[0].split(": ", 1)[1] for p in story.problems] == [
        "byte 0xFF is not UTF-8 text (type it again and save as UTF-8)",
        "U+0000 (control character) cannot stand in a readings file (take it out)"]
    assert (story.problems[0].line, story.problems[0].column) == (2, 7)
    assert [e.shown for e in story.readings] == ["10", "11"]
    assert write_story(story).encode("utf-8", "surrogateescape") == data
    str(story.problems[0]).encode()  # nothing of it breaks a terminal


def test_so_many_faults_are_told_and_every_line_is_kept() -> None:
    text = "nonsense\n" * (MOST + 50) + "GATE DRV ohms 10\n"
    story = story_of_text(text, board=BOARD)
    assert len(story.problems) == MOST + 1
    assert "the rest is not shown" in str(story.problems[-1])
    assert write_story(story) == text


def test_many_lines_are_read_in_time() -> None:
    text = "GATE DRV diode 0.011 settled\nlift D3.K\nD3.A D3.K diode 0.586\nresolder D3.K # back\n" * 5_000
    start = time.perf_counter()
    story = parse_story(text, board=BOARD)
    assert len(moments(story, BOARD)[0]) == 10_000
    assert time.perf_counter() - start < 10.0


WORDS = st.sampled_from([*STATE_FORMS, "GATE", "DRV", "D3.K", "D3", "Q1", "C9", "RTN", "TP3", "diode", "ohms",
                         "continuity", "0.011", "OL", "10k1", "5", "5s", "after", "first", "settled", '"a b"',
                         '"', '""', "#", "@2026-11-25T18:03", "@", "beep", "\t", "\r", "\x00", "\udcff", "é"])


@settings(deadline=None, derandomize=True, max_examples=400)
@given(st.lists(st.lists(WORDS, max_size=7).map(" ".join), max_size=12).map("\n".join))
def test_no_words_in_any_order_break_it(text: str) -> None:
    story = story_of_text(text, "x.readings", BOARD)
    for problem in story.problems:
        assert 1 <= problem.line <= text.count("\n") + 1
        assert problem.column >= 1
        str(problem).encode()
    rewritten = write_story(story)
    clean = "\n".join(line.removesuffix("\r") for line in text.split("\n"))
    assert rewritten.rstrip("\n") == clean.rstrip("\n")
    again = story_of_text(rewritten, "x.readings", BOARD)
    assert (again.entries, again.problems) == (story.entries, story.problems)


@settings(deadline=None, derandomize=True, max_examples=300)
@given(st.binary(max_size=300) | st.text(max_size=200).map(lambda t: t.encode("utf-8", "surrogatepass")))
def test_no_bytes_break_it(data: bytes) -> None:
    from incircuit.story.reader import story_of_bytes

    story = story_of_bytes(data, "x.readings", BOARD)
    "\n".join(map(str, story.problems)).encode()
    moments(story, BOARD)
    write_story(story)
