"""A readings file that grows survives crashes, full disks, other writers, and what others left in it."""

from __future__ import annotations

import errno
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board.source import LARGEST
from incircuit.errors import StoryError
from incircuit.story import append, read_story, story_of_file, undo
from incircuit.story.store import HEADER, Write
from tests.story.writers import line

ROOT = Path(__file__).resolve().parents[2]
FIRST, SECOND = "GATE DRV diode 0.011", 'D3.A D3.K ohms 10.1 settled "kΩ range"'


class Killed(BaseException):
    """The process ends here: nothing after it runs, nothing is cleaned up."""


def dying(after: int) -> Write:
    """A write that puts byte after byte and dies when so many are put."""
    left = after

    def write(fd: int, data: bytes) -> int:
        nonlocal left
        if not left:
            raise Killed
        left -= 1
        return os.write(fd, data[:1])

    return write


def deaths(path: Path, before: bytes | None, act: str) -> Iterator[bool]:
    """Die at every byte of an append or undo, from the same start; True when it lived to the end."""
    for after in range(2000):
        path.unlink(missing_ok=True)
        if before is not None:
            path.write_bytes(before)
        try:
            undo(path, write=dying(after)) if act == "undo" else append(path, SECOND, write=dying(after))
        except Killed:
            yield False
        else:
            yield True
            return


def run(*words: str | Path) -> subprocess.Popen[str]:
    """Start one of the processes of `tests.story.writers`."""
    command = [sys.executable, "-m", "tests.story.writers", *map(str, words)]
    return subprocess.Popen(command, cwd=ROOT, text=True, stdout=subprocess.PIPE,
                            env={**os.environ, "PYTHONPATH": str(ROOT)})


def ended(*children: subprocess.Popen[str]) -> list[str]:
    """What each printed; all must end well."""
    told = [child.communicate()[0] for child in children]
    assert [child.returncode for child in children] == [0] * len(children)
    return told


def shown(path: Path) -> list[str]:
    """Readings and statements of a file that must be free of faults."""
    return [e.line for e in read_story(path).entries if type(e).__name__ != "Entry"]


def test_a_new_file_begins_with_what_it_is(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    assert append(path, f"  {FIRST} ").line == FIRST
    append(path, "# a remark of its own")
    append(path, "Ω DRV ohms 10")
    assert path.read_text(encoding="utf-8") == f"{HEADER}{FIRST}\n# a remark of its own\n Ω DRV ohms 10\n"


def test_line_ends_follow_the_file_and_a_missing_one_is_put(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    path.write_bytes(b"\xef\xbb\xbfmeter handheld\r\n" + FIRST.encode())
    append(path, SECOND)
    assert path.read_bytes() == b"\xef\xbb\xbfmeter handheld\r\n" + f"{FIRST}\r\n{SECOND}\r\n".encode()


@pytest.mark.parametrize("before", [
    None, b"", b"\xef\xbb\xbf", f"{FIRST}\n".encode(), FIRST.encode(), f"{FIRST}\r\n{FIRST}".encode(),
    b"# end"])
def test_death_at_every_byte_of_a_write(tmp_path: Path, before: bytes | None) -> None:
    path = tmp_path / "x.readings"
    there = [FIRST] * (before or b"").count(FIRST.encode())
    died = 0
    for lived in deaths(path, before, "append"):
        if not lived:
            died += 1
            assert shown(path) == there
            append(path, FIRST)
            assert shown(path) == [*there, FIRST]
    assert died > len(SECOND)
    assert shown(path) == [*there, SECOND]


def test_death_at_every_byte_of_taking_back(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    before = f"# bench\n{FIRST}\n{SECOND}\n# the end".encode()
    for lived in deaths(path, before, "undo"):
        assert path.read_bytes() == (f"# bench\n{FIRST}\n# the end".encode() if lived else before)
    assert os.listdir(tmp_path) == ["x.readings"]


@pytest.mark.parametrize(("cut", "kept"), [
    (b"GATE DRV oh", "GATE DRV oh"), (b"GATE DRV ohms 10.1 \"sl", 'GATE DRV ohms 10.1 "sl'),
    (b"D3.A \xce", "D3.A \N{REPLACEMENT CHARACTER}"), (b"\x00\x00\x00", "\N{REPLACEMENT CHARACTER}" * 3)])
def test_what_another_crash_left_becomes_a_comment(tmp_path: Path, cut: bytes, kept: str) -> None:
    path = tmp_path / "x.readings"
    before = f"{FIRST}\n".encode() + cut
    for lived in deaths(path, before, "append"):
        assert shown(path) == [FIRST, SECOND] if lived else story_of_file(path).readings[0].line == FIRST
        assert path.read_bytes() == before or f"{FIRST}\n# cut off: {kept}\n".encode() in path.read_bytes()
    path.write_bytes(before)
    path.chmod(0o640)
    assert append(path, SECOND) == (SECOND, kept)
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_last_line_without_end_that_reads_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    path.write_text(FIRST)
    assert append(path, SECOND) == (SECOND, "")
    assert shown(path) == [FIRST, SECOND]


def test_undo_takes_lines_back_and_leaves_comments(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    path.write_bytes(f"# a\r\n{FIRST} # why\r\nlift D3.K\r\nnonsense\n\n  # b".encode())
    assert [undo(path), undo(path), undo(path)] == ["nonsense", "lift D3.K", f"{FIRST} # why"]
    assert path.read_bytes() == b"# a\r\n\n  # b"
    with pytest.raises(StoryError, match=r"nothing to take back \(no reading and no statement"):
        undo(path)
    with pytest.raises(StoryError, match="no such file or directory; nothing was taken back"):
        undo(tmp_path / "none")


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "link.readings").symlink_to("real.readings")
    append(tmp_path / "link.readings", FIRST)
    append(tmp_path / "link.readings", SECOND)
    undo(tmp_path / "link.readings")
    assert (tmp_path / "link.readings").is_symlink()
    assert shown(tmp_path / "real.readings") == [FIRST]


@pytest.mark.parametrize("text", ["", "  ", "nonsense", f"{FIRST}\n{FIRST}", "# a\nb", "# a\rb", "#" * 3000,
                                  "lift D3.K\0", "# \udcff", "x" * 3000, "GATE DRV omhs 1"])
def test_what_is_no_line_is_not_written(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.readings"
    with pytest.raises(StoryError):
        append(path, text)
    assert not path.exists()


def test_what_is_no_file_is_not_written(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path, message in ((tmp_path, "is a directory, not a readings file"), (tmp_path / "pipe", "is a pipe"),
                          (Path("/dev/null"), "is a device"), (tmp_path / "no" / "x", "no such file"),
                          (Path("a\0b"), "cannot be a file"), (tmp_path / ("x" * 300), "file name too long")):
        with pytest.raises(StoryError, match=message):
            append(path, FIRST)
        with pytest.raises(StoryError):
            undo(path)
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    with pytest.raises(StoryError):
        append(loop, FIRST)


def test_a_large_file_is_refused_at_once(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    with path.open("wb") as file:
        file.truncate(100_000_000)
    start = time.perf_counter()
    for act in (lambda: append(path, FIRST), lambda: undo(path)):
        with pytest.raises(StoryError, match="is too large"):
            act()
    assert time.perf_counter() - start < 1.0
    full = b"# filled\n" * (LARGEST // 9)
    path.write_bytes(full)
    with pytest.raises(StoryError, match=r"is full \(at most"):
        append(path, FIRST)
    assert path.read_bytes() == full
    path.write_bytes(b"\x89" * 5000)
    with pytest.raises(StoryError, match=r"the last line is no text \(is this a readings file\?\)"):
        append(path, FIRST)
    assert path.read_bytes() == b"\x89" * 5000


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EIO, errno.EDQUOT])
@pytest.mark.parametrize("room", [0, 1, 10, 1000])
@pytest.mark.parametrize("before", [None, FIRST.encode(), f"{FIRST}\nGATE DR".encode()])
def test_a_full_disk_leaves_the_file_as_it_was(tmp_path: Path, code: int, room: int,
                                               before: bytes | None) -> None:
    path = tmp_path / "x.readings"
    if before is not None:
        path.write_bytes(before)
    left = room

    def write(fd: int, data: bytes) -> int:
        nonlocal left
        if not left:
            raise OSError(code, os.strerror(code))
        put = os.write(fd, data[:left])
        left -= put
        return put

    if room == 1000:
        append(path, SECOND, write=write)
        return
    with pytest.raises(StoryError, match=r"cannot be written: .*; nothing was recorded"):
        append(path, SECOND, write=write)
    assert (path.read_bytes() if path.exists() else None) == before
    assert [name for name in os.listdir(tmp_path) if name != "x.readings"] == []


def test_a_disk_that_fails_at_the_very_last_byte(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    path.write_text(f"{FIRST}\n")

    def write(fd: int, data: bytes) -> int:
        if len(data) == 1:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return os.write(fd, data)

    with pytest.raises(StoryError, match="input/output error; nothing was recorded"):
        append(path, SECOND, write=write)
    assert path.read_text() == f"{FIRST}\n"


def test_a_real_limit_of_the_system_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    path.write_text(f"{FIRST}\n")
    old = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (30, old[1]))
    try:
        with pytest.raises(StoryError, match="cannot be written: file too large; nothing was recorded"):
            append(path, SECOND)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)
    assert path.read_text() == f"{FIRST}\n"


def test_without_permission_nothing_is_written() -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.readings"
        path.write_text(f"{FIRST}\n")
        path.chmod(0o444)
        os.chmod(folder, 0o755)
        told = ended(run("nobody", path))[0].splitlines()
        assert told == [f"{path}:1:1: cannot be written: permission denied; nothing was recorded",
                        f"{path}:1:1: cannot be written: permission denied; nothing was taken back"]
        assert path.read_text() == f"{FIRST}\n"


def test_another_writer_is_waited_for_but_not_for_ever(tmp_path: Path) -> None:
    from incircuit.story.lock import locked

    path = tmp_path / "x.readings"
    append(path, FIRST)
    with locked(str(path), False, 1.0), pytest.raises(StoryError, match="another program is writing to it"):
        append(path, SECOND, wait=0.05)
    append(path, SECOND, wait=0.05)
    assert shown(path) == [FIRST, SECOND]


def test_a_file_replaced_between_opening_and_locking_is_opened_again(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from incircuit.story import lock

    path = tmp_path / "x.readings"
    append(path, FIRST)
    tried: list[int] = []
    take = lock._try

    def late(fd: int) -> bool:
        tried.append(os.fstat(fd).st_ino)
        if len(tried) == 1:
            (tmp_path / "new").write_bytes(path.read_bytes())
            os.replace(tmp_path / "new", path)
        return take(fd)

    monkeypatch.setattr(lock, "_try", late)
    append(path, SECOND)
    assert len(tried) == 2
    assert tried[1] == path.stat().st_ino != tried[0]
    assert shown(path) == [FIRST, SECOND]


def test_a_writer_killed_a_hundred_times_loses_and_tears_nothing(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    (told,) = ended(run("kills", path, "100"))
    assert int(told.split()[0]) > 100  # it came to write between the kills
    assert len(shown(path)) == int(told.split()[0])


@pytest.mark.parametrize("many", [2, 8])
def test_writers_at_once_lose_and_tear_nothing(tmp_path: Path, many: int) -> None:
    path = tmp_path / "x.readings"
    children = [run("lines", path, f"W{k}", "200") for k in range(many)]
    ended(*children)
    there = shown(path)
    assert sorted(there) == sorted(line(f"W{k}", n) for k in range(many) for n in range(200))
    for k in range(many):  # each in its own order
        assert [text for text in there if text.startswith(f"W{k} ")] == [line(f"W{k}", n) for n in range(200)]
    assert path.read_text().count(HEADER) == 1


def test_taking_back_and_appending_at_once_balance(tmp_path: Path) -> None:
    path = tmp_path / "x.readings"
    writers = [run("lines", path, f"W{k}", "60") for k in range(2)]
    takers = [run("undo", path, "40") for _ in range(2)]
    taken = [text for told in ended(*takers, *writers) for text in told.splitlines()]
    written = Counter(line(f"W{k}", n) for k in range(2) for n in range(60))
    assert Counter(taken) + Counter(shown(path)) == written
    assert len(taken) == 80


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.binary(max_size=120) | st.text("GATE DRV ohms10\n\r#\"\ufeff", max_size=60).map(str.encode))
def test_any_file_keeps_its_lines(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "x.readings"
        path.write_bytes(data)
        try:
            append(path, FIRST)
        except StoryError:
            assert path.read_bytes() == data
            return
        whole = data[:data.rfind(b"\n") + 1]
        assert path.read_bytes().startswith(whole)
        assert story_of_file(path).readings[-1].line == FIRST or data[:2] in (b"\xff\xfe", b"\xfe\xff")
        assert undo(path) == FIRST
        assert path.read_bytes().startswith(whole)
