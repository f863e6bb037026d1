"""One server and one browser for the tests of the page; a folder of its own for every test that writes."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.web.serving import STAGE, Page, start

if TYPE_CHECKING:
    from playwright.sync_api import Browser

INSTALL = "apt-get update && apt-get install -y chromium && .venv/bin/pip install -e '.[test]'"


@pytest.fixture(scope="session")
def page_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """A page on a folder with one board, for tests that only ask."""
    folder = tmp_path_factory.mktemp("bench")
    (folder / "stage.board").write_text(STAGE, encoding="utf-8")
    page = start(folder)
    yield page
    page.stop()


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Callable[..., Page]]:
    """Start pages on folders of one's own; all are stopped at the end."""
    pages: list[Page] = []

    def begin(*options: str, text: str = STAGE, folder: Path = tmp_path, board: str = "") -> Page:
        if text and not (folder / "stage.board").exists():
            (folder / "stage.board").write_text(text, encoding="utf-8")
        pages.append(start(folder, *options, board=board))
        return pages[-1]

    yield begin
    for page in pages:
        page.stop()


def missing_for_chromium() -> str:
    """What a browser test lacks on this machine; empty where it can run."""
    try:
        import playwright.sync_api  # noqa: F401
    except ImportError:
        return "playwright is not installed"
    return "" if shutil.which("chromium") else "chromium is not installed"


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium. Absent, it fails in CI and is skipped elsewhere."""
    missing = missing_for_chromium()
    if missing and os.environ.get("CI"):
        pytest.fail(f"{missing}; as root: {INSTALL}")
    if missing:
        pytest.skip(f"{missing}; as root: {INSTALL}")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        found = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        yield found
        found.close()
