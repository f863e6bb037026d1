"""A story that grows line by line: what one reading more costs beside judging all of it at once."""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from incircuit.board import read_board
from incircuit.judge.judge import judge, judge_again
from incircuit.judge.memory import Memory
from incircuit.story import parse_story

HERE = Path(__file__).resolve().parent
FIRST = 4
"""Readings before the first that is timed."""


def ratios(story: str) -> tuple[float, float, float]:
    """Processor seconds of a whole judgement, and as parts of it the median reading more and nothing new."""
    board = read_board(str(HERE / "fifteen.board"))
    lines = [x for x in (HERE / story).read_text(encoding="utf-8").splitlines() if x and x[0] != "#"]
    stories = [parse_story("\n".join(lines[:k]) + "\n", board=board) for k in range(FIRST, len(lines) + 1)]
    judge(board, stories[-1])  # what is loaded or drawn once
    at_once, _ = _timed(partial(judge, board, stories[-1]))
    memory, more = Memory(), []
    for told in stories:
        took, (_, memory) = _timed(partial(judge_again, board, told, memory))
        more.append(took)
    same = [_timed(partial(judge_again, board, stories[-1], memory))[0] for _ in range(5)]
    return at_once, statistics.median(more[1:]) / at_once, statistics.median(same) / at_once


def _timed(work: Callable[[], Any]) -> tuple[float, Any]:
    gc.collect()
    begin = time.process_time()
    found = work()
    return time.process_time() - begin, found
