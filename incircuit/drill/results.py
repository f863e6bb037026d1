"""What was reached, kept so that progress shows: one line of JSON an exercise, only ever added to."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from incircuit.drill.bench import Bench
from incircuit.drill.review import Review
from incircuit.errors import DrillError
from incircuit.units import shown

MOST = 100_000
"""Exercises read back, the latest ones."""


@dataclass(frozen=True, slots=True)
class Result:
    """One exercise that was played to its end; `when` is ISO 8601, seconds of bench work otherwise."""

    when: str
    board: str
    level: int
    seed: int
    right: bool
    spent: float
    way: float
    points: int
    lesson: str


def result_of(bench: Bench, reviewed: Review, when: str) -> Result:
    """The line of an exercise. The time comes from outside: nothing here looks at a clock."""
    case = bench.case
    return Result(
        when,
        case.source,
        case.level,
        case.seed,
        reviewed.right,
        round(reviewed.spent, 1),
        round(reviewed.way.seconds, 1),
        reviewed.points,
        reviewed.lesson.page,
    )


def keep(path: str | os.PathLike[str], result: Result) -> None:
    """Add a result to a file, made with its folder where it is not there. Raises DrillError.

    A line is written in one go and handed to the disk; a torn line of an earlier crash stays by itself.
    """
    target = Path(path)
    line = json.dumps(asdict(result), ensure_ascii=False, sort_keys=True)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        with open(target, "ab") as file:
            start = "" if file.tell() == 0 or _ends_well(target) else "\n"
            file.write(f"{start}{line}\n".encode())
            file.flush()
            os.fsync(file.fileno())
    except (OSError, ValueError) as error:
        raise DrillError(
            f"results: {shown(str(target))} cannot be written: {getattr(error, 'strerror', None) or error}"
        ) from None


def _ends_well(path: Path) -> bool:
    with open(path, "rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"


def kept(path: str | os.PathLike[str]) -> tuple[Result, ...]:
    """The results of a file in order, none where it is not there; lines that are none are passed over.

    Raises DrillError for a file that cannot be read.
    """
    try:
        text = Path(path).read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        return ()
    except (OSError, ValueError) as error:
        raise DrillError(
            f"results: {shown(os.fspath(path))} cannot be read: {getattr(error, 'strerror', None) or error}"
        ) from None
    return tuple(filter(None, (_result(line) for line in text.splitlines()[-MOST:])))


def _result(line: str) -> Result | None:
    try:
        data: dict[str, Any] = json.loads(line)
        return Result(
            str(data["when"]),
            str(data["board"]),
            int(data["level"]),
            int(data["seed"]),
            data["right"] is True,
            float(data["spent"]),
            float(data["way"]),
            int(data["points"]),
            str(data["lesson"]),
        )
    except (ValueError, TypeError, KeyError, OverflowError, RecursionError):
        return None


@dataclass(frozen=True, slots=True)
class Progress:
    """One level: exercises played, how many were right, mean points of all and of the last ten."""

    level: int
    played: int
    right: int
    points: float
    lately: float


def progress_of(results: Iterable[Result]) -> tuple[Progress, ...]:
    """Progress level by level."""
    by_level: dict[int, list[Result]] = {}
    for result in results:
        by_level.setdefault(result.level, []).append(result)
    return tuple(
        Progress(level, len(some), sum(r.right for r in some), _mean(some), _mean(some[-10:]))
        for level, some in sorted(by_level.items())
    )


def _mean(results: list[Result]) -> float:
    return sum(r.points for r in results) / len(results)
