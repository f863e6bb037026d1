"""Starting points: small commented boards to begin a board file of one's own with.

Each is a `.board` file in this package; its first line says what it is. Circuits and values are invented.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from incircuit.errors import StartError

_FOLDER = Path(__file__).parent
_ORDER = ("divider", "gate-drive", "bridge-link", "half-bridge", "flyback", "opto-feedback", "relay-driver",
          "led-string", "linear-regulator", "op-amp")
_HEAD = "# Starting point: "


@dataclass(frozen=True, slots=True)
class StartingPoint:
    """A board to begin with: `name` as typed, `line` what it is, `text` of its board file."""

    name: str
    line: str
    text: str


def starting_points() -> tuple[StartingPoint, ...]:
    """All starting points, the simplest first."""
    return tuple(_read(name) for name in _ORDER)


def starting_point(name: str) -> StartingPoint:
    """The starting point of that name. Raises StartError with the nearest one."""
    if name in _ORDER:
        return _read(name)
    from difflib import get_close_matches  # only where something was mistyped

    from incircuit.units import shown

    close = get_close_matches(name, _ORDER, 1, 0.5)
    hint = f"did you mean {close[0]}?" if close else f"there are {', '.join(_ORDER)}"
    raise StartError(f'there is no starting point "{shown(name)}": {hint}')


def begin(path: str | os.PathLike[str], point: StartingPoint) -> Path:
    """Write a starting point to a file that is not there yet, `.board` added to a bare name.

    Raises StartError where the file exists or cannot be written.
    """
    from incircuit.units import shown

    target = Path(path)
    if not target.name.strip():
        raise StartError(f'"{shown(os.fspath(path))}" names no file: write my-amplifier')
    if target.suffix != ".board":
        target = target.with_name(f"{target.name}.board")
    try:
        with open(target, "x", encoding="utf-8", newline="\n") as file:
            file.write(point.text)
    except FileExistsError:
        raise StartError(f"{shown(str(target))} is there already and stays as it is: take another name"
                         ) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise StartError(f"{shown(str(target))} cannot be written: {reason[:1].lower()}{reason[1:]}"
                         ) from None
    return target


def _read(name: str) -> StartingPoint:
    text = (_FOLDER / f"{name}.board").read_text(encoding="utf-8")
    first = text.partition("\n")[0]
    line = first.removeprefix(_HEAD).partition(". The circuit")[0]
    return StartingPoint(name, line, text)
