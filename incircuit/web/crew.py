"""Work off the request: worker processes for verdicts, for what to expect, for drawings, and for the rest.

A task belongs to a lane (what, for which tab). A newer task of a lane takes the place of an older one:
waiting it is dropped, running it is stopped with its worker. Equal tasks of several tabs are done once.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
import json
import os
import signal
import sys
import time
from collections import OrderedDict
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import incircuit

WORKERS = (("verdict", "report", "ready"), ("see", "figures"), ("drawing",),
           ("charge", "next", "powerup", "drill"), ())
"""What each worker does, the first of a row first; the last worker does all else."""
NICE = (0, 0, 5, 5, 10)
"""How far each gives way to the others."""
AT_ONCE = 3
"""So many are started with the page, the others when they are needed."""
KEPT = 200
"""Answers remembered."""
LONGEST = 300.0
"""[s] a task may run."""
FORGOTTEN = 20.0
"""[s] after which a task nobody asks about any more is stopped."""
GRACE = 2.0
"""[s] a stale verdict or drawing may go on: what it has worked out makes the next one fast."""
LARGEST_LINE = 64_000_000

Answer = dict[str, Any]


@dataclass(slots=True)
class Job:
    """A task, who wants it, and how far it is."""

    key: str
    kind: str
    task: dict[str, Any]
    lanes: set[str]
    answer: asyncio.Future[Answer]
    progress: tuple[int, int] = (0, 0)
    early: Answer | None = None  # known ahead of the answer; `told` are the lanes that have heard it
    told: set[str] = field(default_factory=set)
    news: asyncio.Event = field(default_factory=asyncio.Event)
    asked: float = field(default_factory=time.monotonic)
    begun: float = 0.0


@dataclass(slots=True)
class Hand:
    """One worker process, the jobs waiting for it and the one it is at."""

    folder: str
    rank: int
    waiting: list[Job] = field(default_factory=list)
    now: Job | None = None
    process: asyncio.subprocess.Process | None = None
    called: asyncio.Event = field(default_factory=asyncio.Event)
    stopped: bool = False  # by us


class Crew:
    """The workers. Use `start` and `stop` inside a running event loop."""

    def __init__(self, folder: str) -> None:
        self.folder = folder
        self.hands: tuple[Hand, ...] = ()
        self.done: OrderedDict[str, Answer] = OrderedDict()
        self.loops: list[asyncio.Task[None]] = []

    async def start(self) -> None:
        """Start the workers; they load what they need while the page is being read."""
        self.hands = tuple(Hand(self.folder, rank) for rank in range(len(WORKERS)))
        for hand in self.hands:
            if hand.rank < AT_ONCE:
                await _ready(hand)
            self.loops.append(asyncio.create_task(self._work(hand)))
        self.loops.append(asyncio.create_task(self._sweep()))

    async def stop(self) -> None:
        """End the workers."""
        for loop in self.loops:
            loop.cancel()
        await asyncio.gather(*self.loops, return_exceptions=True)
        for hand in self.hands:
            await _end(hand)

    async def ask(self, kind: str, task: dict[str, Any], tab: str, patience: float) -> Answer:
        """The answer, or after `patience` [s] how far it is: ``{"state": "working", "done": …, "of": …}``.

        What is known ahead of the answer is given at once, as `early`, to each tab once.
        """
        job = self.begin(kind, task, tab)
        if not isinstance(job, Job):
            return job
        heard = tab in job.told
        news = asyncio.ensure_future(job.news.wait())
        either: set[asyncio.Future[Any]] = {job.answer} if heard else {job.answer, news}
        await asyncio.wait(either, timeout=patience, return_when=asyncio.FIRST_COMPLETED)
        news.cancel()
        if job.answer.done():
            return job.answer.result()
        done, of = job.progress
        waited = time.monotonic() - job.begun if job.begun else 0.0
        said: Answer = {"state": "working", "done": done, "of": of, "seconds": round(waited, 1)}
        if job.early is not None and not heard:
            job.told.add(tab)
            said["early"] = job.early
        return said

    def begin(self, kind: str, task: dict[str, Any], tab: str) -> Job | Answer:
        """Set a task going, or join an equal one; its answer where that is known already."""
        key = hashlib.sha256(json.dumps([kind, task], sort_keys=True).encode()).hexdigest()
        lane = f"{kind} {tab}"
        if key in self.done:
            self.done.move_to_end(key)
            return self.done[key]
        hand = self.hands[next((k for k, kinds in enumerate(WORKERS) if kind in kinds), -1)]
        job = next((j for j in (*hand.waiting, *([hand.now] if hand.now else [])) if j.key == key), None)
        if job is None:
            job = Job(key, kind, task, set(), asyncio.get_running_loop().create_future())
            hand.waiting.append(job)
        job.lanes.add(lane)
        job.asked = time.monotonic()
        self._supersede(hand, job, lane)
        hand.called.set()
        return job

    def _supersede(self, hand: Hand, job: Job, lane: str) -> None:
        """Whatever else this lane wanted is stale."""
        for other in list(hand.waiting):
            if other is not job and lane in other.lanes:
                other.lanes.discard(lane)
                if not other.lanes:
                    hand.waiting.remove(other)
                    _finish(other, {"state": "stale"})
        now = hand.now
        if now is not None and now is not job and lane in now.lanes:
            now.lanes.discard(lane)
            patient = hand.rank < AT_ONCE
            if not now.lanes and not (patient and time.monotonic() - now.begun < GRACE):
                _stop(hand)

    async def _work(self, hand: Hand) -> None:
        while True:
            await hand.called.wait()
            hand.called.clear()
            while hand.waiting:
                job = min(hand.waiting, key=lambda j: _rank(j.kind))
                hand.waiting.remove(job)
                hand.now, job.begun = job, time.monotonic()
                answer = await _run(hand, job)
                if answer["state"] in ("done", "error") and not answer.get("again"):
                    self.done[job.key] = answer
                    while len(self.done) > KEPT:
                        self.done.popitem(last=False)
                hand.now = None
                _finish(job, answer)
            with contextlib.suppress(OSError):  # said when it is needed
                await _ready(hand)

    async def _sweep(self) -> None:
        """Stop what nobody asks about any more, such as the survey of a closed tab."""
        while True:
            await asyncio.sleep(FORGOTTEN / 4)
            old = time.monotonic() - FORGOTTEN
            for hand in self.hands:
                for job in [j for j in hand.waiting if j.asked < old]:
                    hand.waiting.remove(job)
                    _finish(job, {"state": "stale"})
                if hand.now is not None and hand.now.asked < old:
                    _stop(hand)


def _rank(kind: str) -> int:
    return next((kinds.index(kind) for kinds in WORKERS if kind in kinds), 0)


def _finish(job: Job, answer: Answer) -> None:
    if not job.answer.done():
        job.answer.set_result(answer)


def _stop(hand: Hand) -> None:
    hand.stopped = True
    if hand.process is not None and hand.process.returncode is None:
        with contextlib.suppress(ProcessLookupError):
            if os.name == "nt":
                hand.process.kill()
            else:
                os.killpg(hand.process.pid, signal.SIGKILL)  # and the processes it has started itself


async def _ready(hand: Hand) -> None:
    """A living worker. One that was told to stop may not have noticed yet."""
    if hand.process is not None:
        if hand.process.returncode is None and not hand.stopped:
            return
        await _end(hand)
    package = str(Path(incircuit.__file__).absolute().parents[1])
    paths = [package, *filter(None, os.environ.get("PYTHONPATH", "").split(os.pathsep))]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(dict.fromkeys(paths)), "PYTHONUTF8": "1",
                   "OPENBLAS_NUM_THREADS": "1"}  # small matrices: threads only wait for each other
    hand.stopped = False
    # -P: a json.py lying in the folder must not be taken for Python's own
    hand.process = await asyncio.create_subprocess_exec(
        sys.executable, "-P", "-m", "incircuit.web.worker", hand.folder, str(NICE[hand.rank]),
        stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE, env=environment, limit=LARGEST_LINE,
        start_new_session=os.name != "nt")  # Ctrl-C is for the server


async def _end(hand: Hand) -> None:
    _stop(hand)
    if hand.process is not None:
        await hand.process.wait()


async def _run(hand: Hand, job: Job) -> Answer:
    """One task to its end: ``done``, ``error`` (``again``: it may go well another time), or ``stale`` where
    its worker was stopped."""
    try:
        await _ready(hand)
        if hand.stopped:  # while its worker was being started
            return await _broken_off(hand)
        return await asyncio.wait_for(_converse(hand, job), LONGEST)
    except TimeoutError:
        await _end(hand)
        return {"state": "error", "again": True, "message": f"stopped after {LONGEST / 60:.0f} minutes: "
                                                            "describe only the neighbourhood you measure in"}
    except (OSError, asyncio.IncompleteReadError, ValueError):
        return await _broken_off(hand)


async def _converse(hand: Hand, job: Job) -> Answer:
    process = hand.process
    assert process is not None
    assert process.stdin is not None
    assert process.stdout is not None
    process.stdin.write(json.dumps({"kind": job.kind, **job.task}).encode() + b"\n")
    await process.stdin.drain()
    while line := await process.stdout.readline():
        said: Answer = json.loads(line)
        if said["state"] != "working":
            return said
        job.progress = (int(said["done"]), int(said["of"]))
        if "early" in said:
            job.early = said["early"]
            job.news.set()
    return await _broken_off(hand)


async def _broken_off(hand: Hand) -> Answer:
    """The worker is gone: because the task was stale, or for want of memory and the like."""
    stopped = hand.stopped
    await _end(hand)
    if stopped:
        return {"state": "stale"}
    return {"state": "error", "again": True,
            "message": "the computation broke off, perhaps for want of memory: describe only the "
                       "neighbourhood you measure in"}
