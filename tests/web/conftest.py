"""One server for the tests of the page; a folder of its own for every test that writes."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.web.serving import STAGE, Page, start


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
