"""Shared by all tests: what the second engine needs, and what happens where it is absent."""

from __future__ import annotations

import ctypes
import importlib.util
import os

import pytest

INSTALL_LINE = "apt-get update && apt-get install -y libngspice0 && .venv/bin/pip install -e '.[test]'"


def missing_for_ngspice() -> str:
    """What the second engine lacks on this machine; empty where it can run."""
    if importlib.util.find_spec("PySpice") is None:
        return "PySpice is not installed"
    names = (os.environ.get("NGSPICE_LIBRARY_PATH"), "libngspice.so.0", "libngspice.so")
    for name in names:
        try:
            if name:
                ctypes.CDLL(name)
                return ""
        except OSError:
            continue
    return "libngspice is not installed"


@pytest.fixture(scope="session")
def ngspice() -> None:
    """Ask for this where the test runs ngspice: absent, it fails in CI and is skipped elsewhere."""
    missing = missing_for_ngspice()
    if missing and os.environ.get("CI"):
        pytest.fail(f"{missing}; as root: {INSTALL_LINE}")
    if missing:
        pytest.skip(f"{missing}; as root: {INSTALL_LINE}")
