"""A technician at the page: a real browser, and a dead board that answers like the meter would."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from incircuit.advise.suspects import state_now
from incircuit.board import State, parse_board
from incircuit.meter.profile import load_meter
from incircuit.predict.prediction import predict
from incircuit.predict.question import ask_about
from incircuit.story import story_of_file

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext
    from playwright.sync_api import Page as Tab

    from tests.web.serving import Page

PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
WAIT = 45_000
"""[ms] A busy machine is slow; a wrong page never gets there."""


def tab_of(browser: Browser, page: Page, view: str = "", **options: object) -> Tab:
    """A tab of a fresh browser profile on the page. Whatever it complains about fails the test that asks."""
    context: BrowserContext = browser.new_context(**options)  # type: ignore[arg-type]
    return open_in(context, page, view)


def open_in(context: BrowserContext, page: Page, view: str = "") -> Tab:
    """One more tab of a profile."""
    tab = context.new_page()
    tab.set_default_timeout(WAIT)
    complaints: list[str] = []
    tab.on("pageerror", lambda error: complaints.append(str(error)))
    tab.on("console", lambda said: complaints.append(said.text)
           if said.type == "error" and not _expected(said.text) else None)
    tab.complaints = complaints  # type: ignore[attr-defined]
    outside: list[str] = []
    tab.on("request", lambda r: outside.append(r.url) if not r.url.startswith(page.address) else None)
    tab.outside = outside  # type: ignore[attr-defined]
    tab.goto(f"{page.address}{'#' + view if view else ''}")
    return tab


def _expected(text: str) -> bool:
    """What a browser logs for answers that are part of the conversation: a refusal, a server that is gone."""
    return text.startswith("Failed to load resource")


def complaints_of(tab: Tab) -> list[str]:
    """Errors of the page's own script or policy, and requests to any other host."""
    return [*tab.complaints, *tab.outside]  # type: ignore[attr-defined]


def dead_board_shows(folder: Path, fault: str, red: str, black: str, mode: str) -> str:
    """What a meter shows on the board of the folder with a fault, in the state the story brought it to."""
    board = parse_board((folder / "stage.board").read_text(encoding="utf-8"), str(folder / "stage.board"))
    file = folder / "stage.readings"
    now = state_now(board, story_of_file(file, board) if file.exists() else None)
    state = State(now.lifted, now.removed, now.jumpers, (fault,) if fault else (), now.charge, now.celsius)
    (found,) = predict(ask_about(board, state, red, black), load_meter("handheld"), [mode], [False])
    return found.shown.text.replace(" ", "") if found.shown.value is not None else "OL"


def judged(tab: Tab, count: int) -> None:
    """Wait for the verdict on so many readings."""
    tab.locator(f'#verdict[data-count="{count}"]:not(.stale)').wait_for()
