"""The opened folder: which files the page may name, read and write. No name and no link leads out of it."""

from __future__ import annotations

import contextlib
import hashlib
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from incircuit.board.source import decoded, read_bytes
from incircuit.errors import BoardError, ChangedError, FolderError, Problem

ENDINGS = {"board": ".board", "readings": ".readings", "meter": ".toml"}
LONGEST_NAME = 120
DEVICES = {"CON", "PRN", "AUX", "NUL", *(f"{port}{n}" for port in ("COM", "LPT") for n in "0123456789¹²³")}
"""What Windows takes for a device, whatever the ending."""
MOST_FILES = 500


@dataclass(frozen=True, slots=True)
class Text:
    """A file's text and a digest of its bytes, by which a later change is noticed."""

    text: str
    digest: str


def path_in(folder: str, name: str, kind: str) -> str:
    """The path of a file of a kind (``board``, ``readings``) directly in the folder; it need not exist.

    Raises FolderError for any other name, and where a link leads out of the folder.
    """
    ending = ENDINGS[kind]
    device = name.partition(".")[0].strip().upper() in DEVICES
    plain = name.isprintable() and not set(name) & set('/\\:*?"<>|') and not name.startswith(".")
    if device or not plain or len(name) > LONGEST_NAME or not name.endswith(ending) or name == ending:
        raise FolderError(f'"{name[:40]}" cannot be the name of a {kind} file: letters and digits, '
                          f"then {ending}")
    real, home = os.path.realpath(os.path.join(folder, name)), os.path.realpath(folder)
    if os.path.dirname(real) != home:
        raise FolderError(f"{name} lies outside the opened folder")
    return os.path.join(home, name)


def files_of(folder: str, kind: str) -> tuple[str, ...]:
    """Names of the files of a kind, in the order of their names."""
    found: list[str] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.endswith(ENDINGS[kind]) and entry.is_file() and len(found) < MOST_FILES:
                    found.append(entry.name)
    except OSError as error:
        raise FolderError(f"the folder cannot be read: {error.strerror}") from None
    return tuple(sorted(n for n in found if _allowed(folder, n, kind)))


def _allowed(folder: str, name: str, kind: str) -> bool:
    try:
        path_in(folder, name, kind)
    except FolderError:
        return False
    return True


def read_board_text(folder: str, name: str) -> Text:
    """The text of a board file, its line ends as ``\\n``. Raises FolderError or BoardError."""
    path = path_in(folder, name, "board")
    data = read_bytes(path)
    if isinstance(data, Problem):
        raise BoardError((_named(data, name),))
    text = decoded(data, name)
    if isinstance(text, Problem):
        raise BoardError((text,))
    return Text(text, digest_of(data))


def _named(problem: Problem, name: str) -> Problem:
    return Problem(name, problem.line, problem.column, problem.message, problem.text, problem.hint)


def digest_of(data: bytes) -> str:
    """A short digest of a file's bytes."""
    return hashlib.sha256(data).hexdigest()[:24]


def stand_of(folder: str) -> str:
    """A digest of how all board and meter files stand: a board may include others, a meter be any of them."""
    found = []
    for kind in ("board", "meter"):
        for name in files_of(folder, kind):
            with contextlib.suppress(OSError):
                stat = os.stat(os.path.join(folder, name))
                found.append(f"{name} {stat.st_mtime_ns} {stat.st_size}")
    return digest_of("\n".join(found).encode())


def digest_at(path: str) -> str:
    """The digest of a file, empty where there is none; of what cannot be read, one of its size and time."""
    data = read_bytes(path)
    if isinstance(data, bytes):
        return digest_of(data)
    try:
        stat = os.stat(path)
    except (OSError, ValueError):
        return ""
    return digest_of(f"{stat.st_mtime_ns} {stat.st_size}".encode())


def short(message: str, folder: str) -> str:
    """A message about files of the folder by their names alone: the page names files, never paths."""
    for home in (os.path.realpath(folder), folder):
        message = message.replace(os.path.join(home, ""), "")
    return message


def write_board_text(folder: str, name: str, text: str, base: str) -> str:
    """Write a board file, all or nothing, and return its new digest.

    `base` is the digest it was read with, empty for a new file. Raises ChangedError where it is another
    one by now, FolderError where it cannot be written.
    """
    path = path_in(folder, name, "board")
    if digest_at(path) != base:
        raise ChangedError(f"{name} was changed elsewhere since you opened it; nothing was saved")
    data = text.encode("utf-8")
    try:
        fd, new = tempfile.mkstemp(prefix=".", suffix=".new", dir=os.path.dirname(path))
        try:
            with os.fdopen(fd, "wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
            os.chmod(new, os.stat(path).st_mode & 0o777 if base else 0o644)
            os.replace(new, path)
        except OSError:
            Path(new).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise FolderError(f"{name} cannot be written: {error.strerror}; nothing was saved") from None
    return digest_of(data)
