"""Files that are no board files, and limits: always a BoardError with a place, never a hang."""

from __future__ import annotations

import os
import socket
import time
from pathlib import Path

import pytest

from incircuit.board import parse_board, read_board
from incircuit.board.faults import MOST
from incircuit.board.reader import DEEPEST
from incircuit.board.source import LARGEST
from incircuit.errors import BoardError

PART = "R1 resistor A B 10R\n"


def refused(path: str | os.PathLike[str]) -> str:
    """The first message of a file that is refused within a second."""
    start = time.perf_counter()
    with pytest.raises(BoardError) as caught:
        read_board(path)
    assert time.perf_counter() - start < 1.0
    first = caught.value.problems[0]
    assert first.line >= 1
    assert first.column >= 1
    assert str(first).startswith(f"{first.file}:{first.line}:{first.column}: ")
    return str(first)


def written(tmp_path: Path, data: bytes) -> Path:
    path = tmp_path / "x.board"
    path.write_bytes(data)
    return path


def test_what_is_no_file(tmp_path: Path) -> None:
    assert "is a directory, not a board file" in refused(tmp_path)
    assert "cannot be read: no such file or directory" in refused(tmp_path / "none.board")
    assert "cannot be read: no such file or directory" in refused("")
    assert "cannot be read: there is a null byte in its name" in refused("a\0b")
    assert "cannot be read: file name too long" in refused("a" * 5000)
    assert "cannot be read: not a directory" in refused(written(tmp_path, b"") / "x")


def test_special_files_do_not_hang(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    assert "is a pipe, not a board file" in refused(tmp_path / "pipe")
    assert "is a device, not a board file" in refused("/dev/zero")
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "socket"))
        assert "is a socket, not a board file" in refused(tmp_path / "socket")
    with pytest.raises(BoardError, match='"/dev/zero" is a device'):
        parse_board('include "/dev/zero"')


def test_a_file_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def forbidden(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("builtins.open", forbidden)
    assert "cannot be read: permission denied" in refused(written_with_os(tmp_path))


def written_with_os(tmp_path: Path) -> Path:
    path = tmp_path / "x.board"
    os.close(os.open(path, os.O_CREAT | os.O_WRONLY))
    return path


def test_a_large_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "large.board"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    assert "is too large: 100,000,000 bytes (a board file has at most 8,000,000 bytes)" in refused(path)
    with pytest.raises(BoardError, match="is too large"):
        parse_board("#" * (LARGEST + 1))
    with pytest.raises(BoardError, match="too many lines"):
        parse_board("\n" * 200_001)


@pytest.mark.parametrize(
    ("data", "line", "column", "message"),
    [
        (b"net A\nnet \xffB\n", 2, 5, "byte 0xFF at offset 10 is not UTF-8 text"),
        (b"\xef\xbb\xbfnet A\nnet \xffB\n", 2, 5, "byte 0xFF at offset 13 is not UTF-8 text"),
        (b"net \xc3\xa4\xc3\n", 1, 6, "byte 0xC3 at offset 6 is not UTF-8 text"),
        (b"net A\0B\n", 1, 6, "a NUL byte: this is not a text file"),
        ("net A\n".encode("utf-16"), 1, 1, "is UTF-16 text"),
        (b"\x7fELF\x02\x01\x01\x00\x00", 1, 8, "a NUL byte: this is not a text file"),
        (b"\x89PNG\r\n\x1a\n", 1, 1, "byte 0x89 at offset 0 is not UTF-8 text"),
        (b"net A\rnet B\r", 1, 6, "U+000D (control character) cannot stand in a board file"),
    ],
)
def test_junk_is_placed(tmp_path: Path, data: bytes, line: int, column: int, message: str) -> None:
    assert f"x.board:{line}:{column}: {message}" in refused(written(tmp_path, data))


def test_line_ends_and_byte_order_mark_do_not_matter(tmp_path: Path) -> None:
    plain = parse_board('board "T"\n' + PART)
    assert (
        read_board(written(tmp_path, b'\xef\xbb\xbfboard "T"\r\n' + PART.encode().replace(b"\n", b"\r\n")))
        == plain
    )
    assert parse_board('board "T"\r\n' + PART.rstrip()) == plain


def test_lone_surrogates_are_refused() -> None:
    with pytest.raises(BoardError, match="not UTF-8"):
        parse_board("net \ud800")


def test_very_long_lines() -> None:
    for text in ("x" * 3000, 'net A "' + "y" * 3000 + '"', "# " + "z" * 3000, '"' * 2999):
        with pytest.raises(
            BoardError, match=r"^t:1:1: this line has \d+ characters \(at most 2000 are read\)\n"
        ):
            parse_board(text, "t")


def test_all_faults_are_collected_in_order_of_place() -> None:
    with pytest.raises(BoardError) as caught:
        parse_board("alike R1 R9\n" + PART + "R2 diode A B\nR3 resistor A B 1meg flim\n", "t")
    assert [(p.line, p.column) for p in caught.value.problems] == [(1, 10), (3, 10), (4, 17), (4, 22)]
    assert [p.text for p in caught.value.problems[:2]] == ["alike R1 R9", "R2 diode A B"]


def test_reading_stops_at_a_limit_of_faults() -> None:
    start = time.perf_counter()
    with pytest.raises(BoardError) as caught:
        parse_board("R1 resister A B 10R\n" * 100_000)
    assert time.perf_counter() - start < 2.0
    assert len(caught.value.problems) == MOST + 1
    assert "reading stops here" in caught.value.problems[-1].message


def test_a_file_that_includes_itself_in_a_ring(tmp_path: Path) -> None:
    (tmp_path / "a.board").write_text('include "sub/../b.board"\n', encoding="utf-8")
    (tmp_path / "b.board").write_text('include "a.board"\n', encoding="utf-8")
    (tmp_path / "sub").mkdir()
    message = refused(tmp_path / "a.board")
    assert "b.board:1:9: this file includes itself: " in message
    assert message.count("a.board") >= 2
    os.symlink(tmp_path / "c.board", tmp_path / "d.board")
    (tmp_path / "c.board").write_text('include "d.board"\n', encoding="utf-8")
    assert "this file includes itself" in refused(tmp_path / "c.board")


def test_includes_have_a_depth(tmp_path: Path) -> None:
    for at in range(DEEPEST + 2):
        (tmp_path / f"{at}.board").write_text(f'include "{at + 1}.board"\n', encoding="utf-8")
    assert f"includes lie more than {DEEPEST} deep here" in refused(tmp_path / "0.board")
    (tmp_path / f"{DEEPEST - 1}.board").write_text(PART, encoding="utf-8")
    assert len(read_board(tmp_path / "0.board").parts) == 1


def test_nets_of_two_files_are_one(tmp_path: Path) -> None:
    (tmp_path / "b.board").write_text("net A pad=TP1\nnet B hidden\n", encoding="utf-8")
    top = tmp_path / "a.board"
    top.write_text('net A "text"\ninclude "b.board"\n', encoding="utf-8")
    assert [(n.name, n.text, n.pad) for n in read_board(top).nets] == [("A", "text", "TP1"), ("B", "", "")]
    top.write_text('include "b.board"\nnet A pad=TP9\nnet B\n', encoding="utf-8")
    with pytest.raises(BoardError) as caught:
        read_board(top)
    assert [p.hint for p in caught.value.problems] == [
        "its pad is TP1 there and TP9 here",
        "one file says hidden, the other does not",
    ]


def test_includes_of_a_text_are_relative_to_the_file_it_is_called_after(tmp_path: Path) -> None:
    (tmp_path / "b.board").write_text(PART, encoding="utf-8")
    assert parse_board('include "b.board"', str(tmp_path / "unsaved.board")).part("R1").value == 10.0


def test_twenty_thousand_lines_in_seconds() -> None:
    forms = (
        "R{0} resistor N{0} N{1} {1}R 1%",
        "D{0} diode A=N{0} K=N{1} fast vf=0.5@1mA # c",
        "C{0}  capacitor N{0} GND 100n 50V ceramic",
    )
    text = "\n".join(forms[i % 3].format(i, i + 1) for i in range(20_000))
    start = time.process_time()
    assert len(parse_board(text).parts) == 20_000
    assert time.process_time() - start < 3.0  # 0.4 s measured; the margin is for slow machines
