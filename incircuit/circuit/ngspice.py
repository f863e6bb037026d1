"""The ngspice shared library in this process: find it, run one operating point, read it back.

PySpice 1.5 loads the library and hands over decks; all known traps of that pair are dealt with
here. ngspice is one set of global variables, so a lock keeps calls apart.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import importlib
import logging
import os
import threading
import warnings
from functools import cache
from typing import Any

from incircuit.errors import EngineError

PYSPICE_HINT = "install it with: pip install PySpice"
LIBRARY_HINT = "install it with: sudo apt install libngspice0"
_NAMES = ("libngspice.so.0", "libngspice.so", "libngspice.0.dylib", "libngspice.dylib")

_lock = threading.Lock()


def find_library() -> str:
    """Path or loadable name of ngspice's shared library.

    `NGSPICE_LIBRARY_PATH` wins; then the names under which systems ship it (Debian's libngspice0
    has ``libngspice.so.0`` and no bare ``libngspice.so``). Raises EngineError with the install
    line. The probe matters: PySpice cannot load a second time after a first failure.
    """
    wished = os.environ.get("NGSPICE_LIBRARY_PATH")
    found = ctypes.util.find_library("ngspice") if not wished else None
    for name in (wished,) if wished else (*_NAMES, found):
        if name and _loads(name):
            return name
    where = f"NGSPICE_LIBRARY_PATH is {wished!r}, which cannot be loaded" if wished else "not found"
    raise EngineError(f"engine ngspice: the ngspice library: {where}; {LIBRARY_HINT}")


def _loads(name: str) -> bool:
    try:
        ctypes.CDLL(name)
    except OSError:
        return False
    return True


def available() -> bool:
    """Whether the second engine can be used here."""
    try:
        _instance()
    except EngineError:
        return False
    return True


@cache
def _instance() -> Any:
    """The one loaded simulator. Raises EngineError where PySpice or the library is absent."""
    # PySpice logs every remark of ngspice; without a handler they would land on the terminal.
    logging.getLogger("PySpice").addHandler(logging.NullHandler())
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            shared = importlib.import_module("PySpice.Spice.NgSpice.Shared").NgSpiceShared
    except ImportError as error:
        raise EngineError(f"engine ngspice: PySpice is not installed ({error}); {PYSPICE_HINT}") from error
    shared.LIBRARY_PATH = find_library()
    try:
        return shared.new_instance()
    except (OSError, NameError) as error:
        raise EngineError(f"engine ngspice: cannot start ({error}); {LIBRARY_HINT}") from error


def run_op(netlist_text: str) -> dict[str, float]:
    """Operating point of a deck in ngspice's own language: node or branch name → volt or ampere.

    The first line is the title, as always in SPICE; the deck holds its own `.op` line, and `.end`.
    Names come back in lower case, branch currents as ``v1#branch``, the ground node not at all.
    Raises EngineError with ngspice's own last words if there is no result.
    """
    values, log = solve_deck(netlist_text)
    if values is None:
        raise EngineError(f"engine ngspice: no operating point: {_last_words(log)}")
    return values


def solve_deck(netlist_text: str) -> tuple[dict[str, float] | None, tuple[str, ...]]:
    """As `run_op`, but returns None in place of values when ngspice finds none, and its log."""
    with _lock:
        simulator = _instance()
        log: list[str] = []
        # PySpice drops empty lines, and with an empty title the first element would be the title.
        lines = netlist_text.splitlines() or [""]
        lines[0] = lines[0] if lines[0].strip() else "* deck"
        try:
            _call(log, simulator, simulator.load_circuit, "\n".join(lines))
            _call(log, simulator, simulator.exec_command, "run")
            return _read(simulator), tuple(log)
        finally:
            # Plots and circuits pile up in the library unless they are thrown away each time.
            _call([], simulator, simulator.exec_command, "destroy all")
            _call([], simulator, simulator.exec_command, "remcirc")


def _call(log: list[str], simulator: Any, action: Any, text: str) -> None:
    """One call; what PySpice takes for a failure is only noted, since gmin stepping is one too."""
    try:
        action(text)
    except NameError as error:  # PySpice's own exceptions derive from NameError
        log.append(str(error))
    log.extend(line for block in (simulator.stdout, simulator.stderr) for line in block.splitlines())


def _read(simulator: Any) -> dict[str, float] | None:
    name = simulator.plot_names[0]
    if not name.startswith("op"):
        return None
    library = simulator._ngspice_shared  # reading scalars straight is five times as fast
    ffi = importlib.import_module("PySpice.Spice.NgSpice.Shared").ffi
    vectors = library.ngSpice_AllVecs(name.encode())
    values: dict[str, float] = {}
    index = 0
    while vectors != ffi.NULL and vectors[index] != ffi.NULL:
        vector = ffi.string(vectors[index])
        info = library.ngGet_Vec_Info(name.encode() + b"." + vector)
        if info == ffi.NULL or info.v_length < 1 or info.v_realdata == ffi.NULL:
            return None  # a failed run leaves a plot of empty vectors
        values[vector.decode()] = float(info.v_realdata[0])
        index += 1
    return values


def _last_words(log: tuple[str, ...]) -> str:
    telling = [line for line in log if "error" in line.lower() or "singular" in line.lower()]
    return " | ".join((telling or list(log))[-3:]) or "no message"
