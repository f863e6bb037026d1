"""Every view passes axe-core with no violation, light and dark, desktop and phone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import pytest

from tests.web.serving import STAGE, Page, posted, start, worked
from tests.web.technician import PHONE, complaints_of, tab_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser
    from playwright.sync_api import Page as Tab

READY = {
    "describe": "#problems li", "see": "#figures svg", "read": ".word", "next": "#sheet .ticked",
    "power": "#powerup .steps", "practice": "#d-picture svg",
}
LOOKS = {
    "desktop light": {"color_scheme": "light"}, "desktop dark": {"color_scheme": "dark"},
    "phone light": {**PHONE, "color_scheme": "light"}, "phone dark": {**PHONE, "color_scheme": "dark"},
}


def violations(tab: Tab) -> list[str]:
    """What axe-core finds wrong."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(tab)
    return [f"{v['id']}: {node['html'][:160]} {node.get('failureSummary', '')[:200]}"
            for v in found.response["violations"] for node in v["nodes"]]


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """A page with a story in which something failed, and a board with a remark to make."""
    folder = tmp_path_factory.mktemp("told")
    text = STAGE + "R9 resistor IN LOOSE 1k\nsupply +12V 0V 12V\n"
    (folder / "stage.board").write_text(text, encoding="utf-8")
    page = start(folder)
    try:
        _tell(page)
        yield page
    finally:
        page.stop()


def _tell(page: Page) -> None:
    base = {"board": "stage.board", "readings": "stage.readings"}

    def record(**ask: object) -> None:
        assert posted(page, "/api/record", {**base, **ask})[0] == 200

    for red, black, mode, shown in (("+12V", "COIL", "ohms", "0.2"), ("IN", "0V", "ohms", "26.7k"),
                                    ("COIL", "+12V", "diode", "0.000")):
        record(red=red, black=black, mode=mode, shown=shown)
    record(word="lift", args=["R9.1"])
    step = worked(page, "worksheet")["result"]["steps"][0]
    record(red=step["red"], black=step["black"], mode=step["mode"], shown="OL")
    record(red="IN", black="0V", mode="ohms", shown="26.1k", readings="good.readings")


@pytest.mark.parametrize("look", LOOKS)
def test_every_view_is_accessible(browser: Browser, told: Page, look: str) -> None:
    tab = tab_of(browser, told, **LOOKS[look])
    tab.locator("#pads option").first.wait_for(state="attached")
    tab.fill("#red", "+12V")
    tab.fill("#black", "COIL")
    for view, ready in READY.items():
        tab.click(f"nav a[href='#{view}']")
        if view == "practice":
            tab.fill("#d-seed", "3")
            tab.click("#view-practice button.main")
        tab.locator(f"#view-{view} {ready}" if ready[0] == "." else ready).first.wait_for()
        for details in tab.locator(f"#view-{view} details:not([open]) > summary, "
                                   "#drawing:not([hidden]) details:not([open]) > summary").all():
            if details.is_visible():
                details.click()
        if view != "practice":
            tab.locator("#picture svg").wait_for()
        assert violations(tab) == [], view
        width = tab.viewport_size["width"] if tab.viewport_size else 0
        assert tab.evaluate("() => document.documentElement.scrollWidth") <= width, view
    tab.click("#d-bench button:text-is('All is well')")
    tab.locator("#d-outcome .word").wait_for()
    assert violations(tab) == [], "outcome"
    tab.click("nav a[href='#read']")
    tab.select_option("#good", "good.readings")
    tab.locator("#lines th", has_text="good board").wait_for()
    assert violations(tab) == [], "beside a good board"
    tab.select_option("#readings", label="begin another …")
    tab.locator("dialog #other-name").wait_for()
    assert violations(tab) == [], "another file"
    tab.click("dialog button:text-is('Leave it')")
    tab.click("#parts button >> nth=0")
    tab.locator("dialog[open]").wait_for()
    assert violations(tab) == []
    assert complaints_of(tab) == []


def test_the_page_for_the_code_is_accessible(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench("--share")
    tab = tab_of(browser, page)
    tab.locator("#code").wait_for()
    assert violations(tab) == []
    tab.fill("#code", "11111111")
    tab.keyboard.press("Enter")
    tab.locator("#refused", has_text="not the code").wait_for()
    code = next(line for line in page.said if line.startswith("code")).rpartition(": ")[2]
    tab.fill("#code", code)
    tab.keyboard.press("Enter")
    tab.locator("#view-read h2").first.wait_for()
    tab.reload()
    tab.locator("#view-read h2").first.wait_for()  # this device is known now
    assert complaints_of(tab) == []
