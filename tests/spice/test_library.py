"""Finding the library, saying how to get it, and lasting for thousands of operating points."""

from __future__ import annotations

import os
import resource
import subprocess
import sys

import pytest

from incircuit.circuit.spice import run_op


def python(code: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True,
                          env=os.environ | environment, check=False, timeout=60)


ASK = """
from incircuit.circuit.spice import available, run_op
from incircuit.errors import EngineError
assert not available()
try:
    run_op("title\\nv1 a 0 1\\n.op\\n.end")
except EngineError as error:
    print(error)
"""


def test_absent_library_gives_the_install_line() -> None:
    done = python(ASK, NGSPICE_LIBRARY_PATH="/nowhere/libngspice.so")
    assert done.returncode == 0, done.stderr
    assert "/nowhere/libngspice.so" in done.stdout
    assert "sudo apt install libngspice0" in done.stdout
    assert done.stdout.count("\n") == 1


def test_absent_pyspice_gives_the_install_line() -> None:
    done = python("import sys; sys.modules['PySpice'] = None\n" + ASK)
    assert done.returncode == 0, done.stderr
    assert "PySpice is not installed" in done.stdout
    assert "pip install PySpice" in done.stdout


@pytest.mark.usefixtures("ngspice")
def test_nothing_is_printed_even_where_ngspice_struggles() -> None:
    code = """
from incircuit.circuit.spice import run_op
from incircuit.errors import EngineError
try:
    run_op("t\\nv1 a 0 1\\nv2 a 0 2\\n.op\\n.end")
except EngineError:
    print(run_op("t\\nv1 a 0 1\\n.op\\n.end")["a"])
"""
    done = python(code)
    assert (done.returncode, done.stdout, done.stderr) == (0, "1.0\n", "")


@pytest.mark.usefixtures("ngspice")
def test_thousands_of_points_do_not_grow_the_process() -> None:
    deck = ("t\ni1 0 a {}\nd1 a b m\nr1 b 0 10\nr2 a 0 1e6\nd2 0 b m\n.model m d is=1e-9 n=1.8\n"
            ".options rshunt=1e15\n.op\n.end")

    def run(count: int) -> None:
        for k in range(count):
            run_op(deck.format(1e-3 + 1e-7 * k))

    run(1000)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    run(5000)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 20_000  # [kB]


def test_importing_the_engine_loads_neither_numpy_nor_pyspice() -> None:
    done = python("import sys, incircuit.circuit.spice\n"
                  "print([m for m in ('numpy', 'PySpice', 'cffi') if m in sys.modules])")
    assert done.stdout == "[]\n", done.stderr
