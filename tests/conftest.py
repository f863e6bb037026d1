"""Shared by all tests: what the second engine and the browser need, and what happens where one is absent."""

from __future__ import annotations

import ctypes
import importlib.util
import os
import shutil
from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser

BROWSER_LINE = "apt-get update && apt-get install -y chromium && .venv/bin/pip install -e '.[test]'"
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


def missing_for_chromium() -> str:
    """What a browser test lacks on this machine; empty where it can run."""
    try:
        import playwright.sync_api  # noqa: F401
    except ImportError:
        return "playwright is not installed"
    return "" if shutil.which("chromium") else "chromium is not installed"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium, one for all tests of a process. Absent, it fails in CI and is skipped elsewhere."""
    missing = missing_for_chromium()
    if missing and os.environ.get("CI"):
        pytest.fail(f"{missing}; as root: {BROWSER_LINE}")
    if missing:
        pytest.skip(f"{missing}; as root: {BROWSER_LINE}")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        yield found
        found.close()
