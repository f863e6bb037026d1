"""A readings file while it grows: one line added or taken back, safe against a crash at any byte.

A line is written behind a ``#`` that stands in the place of its first character, made durable, and
only then is that one byte put right. So whatever a crash leaves of a line that was not acknowledged
is a comment, never a shorter reading, and readers need no lock. Taking back writes a new file and
puts it in the place of the old one.
"""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Callable
from typing import NamedTuple

from incircuit.board.faults import Line
from incircuit.board.lexer import LONGEST_LINE
from incircuit.board.source import LARGEST, unsuitable
from incircuit.errors import Problem, StoryError
from incircuit.story.line import parse_line
from incircuit.story.lock import BINARY, locked
from incircuit.units import shown

HEADER = "# Readings and what was done, in order. A reading is RED BLACK MODE SHOWN.\n"
"""First line of a new file."""

CUT_OFF = "# cut off: "
"""Before a last line that had no end and could not be read."""

WAIT = 30.0
"""[s] To wait for another writer."""

Write = Callable[[int, bytes], int]
_LONGEST_CUT = 1900  # bytes: as a comment it must be a line that is read
_MARK = b"\xef\xbb\xbf"


class Stored(NamedTuple):
    """The line as it stands in the file, and what was found cut off at its end, made a comment."""

    line: str
    cut_off: str = ""


def append(path: str | os.PathLike[str], line: str, *, write: Write = os.write, wait: float = WAIT) -> Stored:
    """Add one reading, statement or comment at the end of a readings file; a missing file is created.

    When this returns the line is on the disk. Otherwise (full disk, no permission, a line that
    cannot be read, another writer for more than `wait` [s]) StoryError is raised and the file is
    as it was. Line ends follow the file. `write` stands for `os.write`.
    """
    text = checked_line(line)
    file = _real(path)
    try:
        missing = _is_missing(file)
        with locked(file, True, wait):
            data = _read(file)
            cut_off = _cut_off(data)
            if len(cut_off) > _LONGEST_CUT:
                raise StoryError((Problem(file, data.count(b"\n") + 1, 1, "the last line is no text",
                                          hint="is this a readings file?"),))
            if cut_off:
                data = data[:len(data) - len(cut_off)] + (CUT_OFF + _plain(cut_off)).encode() + b"\n"
                _replace(file, data, write)
            else:
                _add(file, data, text, write, missing)
        if cut_off:  # the file is another one now
            return append(path, line, write=write, wait=wait)._replace(cut_off=_plain(cut_off))
    except OSError as error:
        raise _refused(path, "nothing was recorded", error) from None
    return Stored(text)


def undo(path: str | os.PathLike[str], *, write: Write = os.write, wait: float = WAIT) -> str:
    """Take the last reading or statement back, and return its line; comments stay.

    A crash leaves the file as before or as after. Raises StoryError where there is nothing to take
    back, or as `append`.
    """
    file = _real(path)
    try:
        _is_missing(file)
        with locked(file, False, wait):
            lines = [line for line in re.split(rb"(?<=\n)", _read(file)) if line]
            at = next((k for k in range(len(lines) - 1, -1, -1) if _says_something(lines[k])), -1)
            if at < 0:
                raise StoryError((Problem(os.fspath(path), 1, 1, "nothing to take back",
                                          hint="no reading and no statement is in this file"),))
            taken = lines.pop(at).removeprefix(_MARK)
            _replace(file, b"".join(lines), write)
    except OSError as error:
        raise _refused(path, "nothing was taken back", error) from None
    return _plain(taken)


def checked_line(line: str) -> str:
    """The line without blanks around it; StoryError where it is not one line that reads back."""
    text = line.strip(" \t\r\n")
    problems: tuple[Problem, ...] = ()
    if not text:
        problems = (Problem("this line", 1, 1, "an empty line", hint="give a reading or what was done"),)
    elif not text.startswith("#"):
        problems = parse_line(Line("this line", 1, text))[1]
    elif len(text) > LONGEST_LINE or not text.replace("\t", " ").isprintable():
        problems = (Problem("this line", 1, 1, "a comment is one short line of plain text"),)
    if problems:
        raise StoryError(problems)
    return text


def _real(path: str | os.PathLike[str]) -> str:
    """The file itself where the path is a link: what is replaced must be the file."""
    try:
        return os.path.realpath(path)
    except (OSError, ValueError) as error:
        raise StoryError((Problem(shown(os.fspath(path)), 1, 1, f"cannot be a file: {error}"),)) from None


def _is_missing(file: str) -> bool:
    """Whether there is no such file. Raises StoryError for what is no regular file, or too large."""
    try:
        wrong = unsuitable(os.stat(file), "readings")
    except FileNotFoundError:
        return True
    if wrong:
        raise StoryError((Problem(file, 1, 1, wrong[0], hint=wrong[1]),))
    return False


def _read(file: str) -> bytes:
    fd = os.open(file, os.O_RDONLY | BINARY)
    with open(fd, "rb") as opened:
        return opened.read(LARGEST + 1)


def _cut_off(data: bytes) -> bytes:
    """The last line where it has no end and says nothing: what another program's crash left."""
    tail = data[data.rfind(b"\n") + 1:]
    text = tail.removeprefix(_MARK).decode("utf-8", "surrogateescape").removesuffix("\r")
    return tail if parse_line(Line("", 1, text))[1] else b""


def _plain(data: bytes) -> str:
    """Bytes of a line as text that can be shown and stand in a comment."""
    text = data.decode("utf-8", "replace").strip("\r\n")
    return "".join(c if c.isprintable() or c == "\t" else "\N{REPLACEMENT CHARACTER}" for c in text)


def _says_something(line: bytes) -> bool:
    text = line.removeprefix(_MARK).strip()
    return bool(text) and not text.startswith(b"#")


def _add(file: str, data: bytes, text: str, write: Write, created: bool) -> None:
    """Write the line behind a #, make it durable, put its first byte right."""
    end = b"\r\n" if b"\r\n" in data[-4096:] else b"\n"
    lead = b"" if data.endswith(b"\n") else b"\n" if data.endswith(b"\r") else end  # \r: half a line end
    if not data.removeprefix(_MARK):
        lead = HEADER.encode()
    body = text.encode() + end
    if body[0] >= 0x80:
        body = b" " + body  # no # in the middle of a character
    if len(data) + len(lead) + len(body) > LARGEST:
        raise StoryError((Problem(file, 1, 1, "is full", hint=f"at most {LARGEST:,} bytes: begin another"),))
    fd = os.open(file, os.O_WRONLY | os.O_APPEND | BINARY)
    try:
        _write_all(fd, lead + b"#" + body[1:], write)
        os.fsync(fd)
        _put(file, os.fstat(fd).st_size - len(body), body[:1], write)
        if created:
            _sync_folder(file)
    except OSError:
        if os.fstat(fd).st_size <= len(data) + len(lead) + len(body):  # nobody wrote without the lock
            os.ftruncate(fd, len(data))
        if created and not data:
            os.unlink(file)
        raise
    finally:
        os.close(fd)


def _put(file: str, at: int, byte: bytes, write: Write) -> None:
    """One byte put in its place; a file opened to append would write it at the end."""
    fd = os.open(file, os.O_WRONLY | BINARY)
    try:
        os.lseek(fd, at, os.SEEK_SET)
        _write_all(fd, byte, write)
        os.fsync(fd)
    finally:
        os.close(fd)


def _write_all(fd: int, data: bytes, write: Write) -> None:
    while data:
        data = data[write(fd, data):]


def _replace(file: str, data: bytes, write: Write) -> None:
    """Other content for a file, all or nothing, with the same permissions."""
    new = os.path.join(os.path.dirname(file), f".{os.path.basename(file)}.new")
    if os.path.lexists(new):
        os.unlink(new)  # left by a crash: only the holder of the lock makes it
    fd = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o600)
    try:
        try:
            _write_all(fd, data, write)
            os.fsync(fd)
        finally:
            os.close(fd)
        os.chmod(new, stat.S_IMODE(os.stat(file).st_mode))
        os.replace(new, file)
    except OSError:
        os.unlink(new)
        raise
    _sync_folder(file)


def _sync_folder(file: str) -> None:
    """Make the name durable, where a folder can be opened (not on Windows)."""
    if os.name == "nt":
        return
    fd = os.open(os.path.dirname(file), os.O_RDONLY)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def _refused(path: str | os.PathLike[str], outcome: str, error: OSError) -> StoryError:
    if isinstance(error, TimeoutError):
        message, hint = "another program is writing to it", "try again"
    else:
        reason = error.strerror or str(error)
        message, hint = f"cannot be written: {reason[:1].lower()}{reason[1:]}", ""
    return StoryError((Problem(shown(os.fspath(path)), 1, 1, f"{message}; {outcome}", hint=hint),))
