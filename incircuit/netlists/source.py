"""From a path to the text of a foreign netlist, and which files a deck may bring in."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from incircuit.board.source import LARGEST, MOST_LINES, read_bytes
from incircuit.errors import NetlistError, Problem


def read_netlist_text(path: str) -> str:
    """The text of a netlist with ``\\n`` line ends. UTF-8, UTF-16 with its mark, else Latin-1.

    Other programs write all three. Only regular files of a fit size are opened. Raises NetlistError.
    """
    data = read_bytes(path, "netlist")
    if isinstance(data, Problem):
        raise NetlistError((replace(data, hint="name a SPICE deck or an exported netlist"),))
    return decoded_netlist(data, path)


def decoded_netlist(data: bytes, path: str) -> str:
    """Bytes to text, see `read_netlist_text`. Raises NetlistError for what is no text."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", "replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
    wrong = ""
    if "\0" in text:
        wrong = "a NUL byte: this is not a text file"
    elif text.count("\n") > MOST_LINES:
        wrong = f"has more than {MOST_LINES:,} lines"
    elif len(text) > LARGEST:
        wrong = f"has more than {LARGEST:,} characters"
    if wrong:
        raise NetlistError((Problem(path, 1, 1, wrong, hint="name a SPICE deck or an exported netlist"),))
    return text.replace("\r\n", "\n").replace("\r", "\n")


def confined(folder: str, includer: str, name: str) -> str | None:
    """The path an include names, relative to the file it stands in; None where it leads out of `folder`.

    Links are followed first, so that none leads out.
    """
    try:
        path = os.path.join(os.path.dirname(includer), name)
        inside = Path(path).resolve().is_relative_to(Path(folder).resolve())
    except (OSError, ValueError, RuntimeError):  # a null byte, a loop of links
        return None
    return path if inside else None
