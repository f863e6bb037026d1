"""From a path to the text of a board or readings file, without ever hanging or filling memory."""

from __future__ import annotations

import os
import stat

from incircuit.errors import Problem

LARGEST = 8_000_000
"""Bytes a board or readings file may have."""

MOST_LINES = 200_000
"""Lines a board or readings file may have."""

_KINDS_OF_FILE = ((stat.S_ISDIR, "a directory"), (stat.S_ISFIFO, "a pipe"), (stat.S_ISSOCK, "a socket"),
                  (stat.S_ISCHR, "a device"), (stat.S_ISBLK, "a device"))


def read_text(path: str) -> str | Problem:
    """The text of a board file with ``\\n`` line ends and no byte order mark, or what is wrong with it.

    Only regular files of at most `LARGEST` bytes are opened; nothing is raised.
    """
    data = read_bytes(path)
    return data if isinstance(data, Problem) else decoded(data, path)


def read_bytes(path: str, kind: str = "board") -> bytes | Problem:
    """The bytes of a file of that kind (``board``, ``readings``), or what is wrong with it.

    Only regular files of at most `LARGEST` bytes are opened; nothing is raised.
    """
    try:
        wrong = unsuitable(os.stat(path), kind)
        if wrong:
            return Problem(path, 1, 1, wrong[0], hint=wrong[1])
        with open(path, "rb") as file:
            data = file.read(LARGEST + 1)
    except ValueError:
        return Problem(path, 1, 1, "cannot be read: there is a null byte in its name")
    except OSError as error:
        reason = error.strerror or str(error)
        return Problem(path, 1, 1, f"cannot be read: {reason[:1].lower()}{reason[1:]}")
    if len(data) > LARGEST:
        return Problem(path, 1, 1, "is too large", hint=f"a {kind} file has at most {LARGEST:,} bytes")
    return data


def unsuitable(info: os.stat_result, kind: str = "board") -> tuple[str, str] | None:
    """Message and hint where something is no regular file of a fit size; None where it is."""
    for test, name in _KINDS_OF_FILE:
        if test(info.st_mode):
            return f"is {name}, not a {kind} file", f"name a text file that ends in .{kind}"
    if info.st_size > LARGEST:
        return f"is too large: {info.st_size:,} bytes", f"a {kind} file has at most {LARGEST:,} bytes"
    return None


def decoded(data: bytes, path: str) -> str | Problem:
    """UTF-8 bytes to text with ``\\n`` line ends, or the Problem, placed, that stands against it."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return Problem(path, 1, 1, "is UTF-16 text", hint="save it as UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        at, byte = error.start, error.object[error.start]
        if data.startswith(b"\xef\xbb\xbf"):  # utf-8-sig counts from after the mark
            at = _first_bad(data)
            byte = data[at]
        line, column, shown = _where(data, at)
        return Problem(path, line, column, f"byte 0x{byte:02X} at offset {at} is not UTF-8 text", shown,
                       "save the file as UTF-8")
    if "\x00" in text:
        line, column, shown = _where(data, data.index(b"\0"))
        return Problem(path, line, column, "a NUL byte: this is not a text file", shown,
                       "name a text file that ends in .board")
    if data.count(b"\n") > MOST_LINES:
        return Problem(path, 1, 1, "has too many lines", hint=f"a board file has at most {MOST_LINES:,}")
    return text.replace("\r\n", "\n")


def _first_bad(data: bytes) -> int:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        return error.start
    return 0


def _where(data: bytes, at: int) -> tuple[int, int, str]:
    """Line, column and shown line of a byte offset; what cannot be shown is replaced."""
    start = data.rfind(b"\n", 0, at) + 1
    end = data.find(b"\n", at)
    before = data[start:at].decode("utf-8", "replace").lstrip("\ufeff")
    shown = data[start:end if end >= 0 else None][:200].decode("utf-8", "replace").lstrip("\ufeff")
    shown = "".join(c if c.isprintable() or c == "\t" else "\N{REPLACEMENT CHARACTER}"
                    for c in shown.rstrip("\r"))
    if len(before) >= len(shown):
        shown = ""  # far along a long line: the place says enough
    return data.count(b"\n", 0, at) + 1, len(before) + 1, shown
