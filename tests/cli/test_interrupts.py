"""Ctrl-C at any moment ends a command with 130 and one line, whoever drops it on the way."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time

import pytest

from incircuit.interrupts import put_off
from tests.cli.helpers import GATE, ROOT

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no signal of one process to itself")

STAGE = """
import signal, sys, time, weakref
import click
from incircuit import __main__
from incircuit.cli import main

class Thing: pass

def slow(context, some): time.sleep(60)

seen = []
def first_time():
    if not seen:
        seen.append(1)
        signal.raise_signal(signal.SIGINT)

@main.cli.command()
def stage():
{body}
    click.echo("the end")

sys.argv = ["incircuit", "stage"]
__main__.main()
"""
IN_A_CALLBACK = """
    thing = Thing()
    kept = weakref.ref(thing, lambda _: signal.raise_signal(signal.SIGINT))
    del thing
    time.sleep(60)
"""
IN_A_FINALIZER = """
    Thing.__del__ = lambda _: signal.raise_signal(signal.SIGINT)
    Thing()
    for _ in range(60):
        time.sleep(1)
"""
BY_A_LIBRARY = """
    try:
        signal.raise_signal(signal.SIGINT)
    except BaseException:
        pass
"""
AS_SOMETHING_ELSE = """
    try:
        signal.raise_signal(signal.SIGINT)
    except BaseException:
        raise RuntimeError("of the library")
"""
TWICE = """
    for _ in range(2):
        Thing.__del__ = lambda _: signal.raise_signal(signal.SIGINT)
        Thing()
    time.sleep(60)
"""
WORKERS = """
    from incircuit.advise import crew
    with crew.crew(None, 100, workers=2) as run:
        crew.in_chunks(run, slow, range(100))
"""
AT_A_FORK = """
    import os
    os.register_at_fork(after_in_parent=first_time)
""" + WORKERS
AFTER_A_FORK = """
    from multiprocessing import util
    real = util.Finalize
    def made(*arguments, **named):
        first_time()
        return real(*arguments, **named)
    util.Finalize = made  # made for a process just begun, of which nobody has taken note yet
""" + WORKERS


def staged(body: str) -> subprocess.CompletedProcess[str]:
    """A command that interrupts itself."""
    return subprocess.run([sys.executable, "-c", STAGE.replace("{body}", body)], cwd=ROOT,
                          capture_output=True, encoding="utf-8", timeout=50, check=False,
                          env={**os.environ, "PYTHONPATH": str(ROOT)})


@pytest.mark.parametrize("body", [IN_A_CALLBACK, IN_A_FINALIZER, TWICE, AS_SOMETHING_ELSE])
def test_an_interrupt_dropped_on_the_way_still_ends_the_work(body: str) -> None:
    done = staged(body)
    assert (done.returncode, done.stdout) == (130, "")
    assert done.stderr.strip() == "interrupted"


def test_an_interrupt_nobody_told_of_is_told_at_the_end() -> None:
    done = staged(BY_A_LIBRARY)
    assert (done.returncode, done.stdout, done.stderr) == (130, "the end\n", "interrupted\n")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="no fork")
@pytest.mark.parametrize("body", [AT_A_FORK, AFTER_A_FORK])
def test_an_interrupt_as_workers_start_ends_them_too(body: str) -> None:
    """What a fork calls drops interrupts; a process of which nobody has taken note is never ended."""
    done = staged(body)
    assert (done.returncode, done.stdout, done.stderr.strip()) == (130, "", "interrupted")


def test_what_is_ignored_stays_ignored() -> None:
    """As `sh` does for what runs in the background of a script."""
    done = subprocess.run(["sh", "-c", 'trap "" INT; "$0" -c "$1"', sys.executable,
                           STAGE.replace("{body}", "    signal.raise_signal(signal.SIGINT)")],
                          cwd=ROOT, capture_output=True, encoding="utf-8", timeout=50, check=False,
                          env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert (done.returncode, done.stdout, done.stderr) == (0, "the end\n", "")


@pytest.mark.parametrize("after", [0.15, 0.25, 0.35, 0.5, 0.7, 0.9])
def test_no_moment_leaves_a_traceback(after: float) -> None:
    with subprocess.Popen([sys.executable, "-m", "incircuit", "survey", GATE], cwd=ROOT,
                          stdout=subprocess.PIPE, stderr=subprocess.PIPE, encoding="utf-8",
                          start_new_session=True, env={**os.environ, "PYTHONPATH": str(ROOT)}) as process:
        time.sleep(after)
        os.killpg(process.pid, signal.SIGINT)  # as a terminal does, workers and all
        _, err = process.communicate(timeout=60)
    assert process.returncode in (130, 0, -signal.SIGINT)  # at the end; before the first line of ours
    assert "Traceback" not in err or process.returncode == -signal.SIGINT
    with pytest.raises(ProcessLookupError):  # nobody is left of them
        os.killpg(process.pid, 0)


def test_an_interrupt_put_off_comes_at_the_end() -> None:
    done = []

    def work() -> None:
        with put_off():
            signal.raise_signal(signal.SIGINT)
            done.append("whole")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done == ["whole"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_without_an_interrupt_nothing_comes() -> None:
    with put_off():
        pass
    failed: list[BaseException] = []

    def elsewhere() -> None:
        try:
            with put_off():
                pass
        except BaseException as error:  # noqa: BLE001  counted
            failed.append(error)

    thread = threading.Thread(target=elsewhere)
    thread.start()
    thread.join()
    assert failed == []
