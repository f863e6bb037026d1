"""What a person waits for: Enter to the updated verdict, and the first page after the start.

`python -m tests.web.latency [rounds]` on a quiet machine prints the figures of DEVELOPERS.md: a 15-part board
with 10 readings, one more typed in a real Chromium.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import Page as Tab
from playwright.sync_api import sync_playwright

from tests.web.serving import ROOT, Page, start
from tests.web.technician import judged

BOARD = ROOT / "boards" / "pump-drive" / "mains-input.board"
STORY = """L N ohms 0.44M
N L ohms 0.441M
LR L ohms 10.3
LC L ohms 0.3
RECT- RECT ohms 318k
L RECT diode 0.506
RECT- L diode 0.507
N RECT diode 0.508
RLY +12V ohms 359.6
RECT- PE ohms OL
"""
MORE = (("RECT-", "L", "ohms", "35.9k"), ("N", "RECT", "ohms", "35.8k"), ("RECT-", "N", "diode", "0.506"),
        ("L", "RECT", "ohms", "35.7k"), ("LR", "LC", "ohms", "10.4"), ("RECT", "RECT-", "ohms", "OL"),
        ("RLY", "+12V", "diode", "0.36"), ("RECT-", "RECT", "diode", "0.98"), ("LC", "N", "ohms", "0.44M"))


def first_page(folder: Path) -> float:
    """[s] from starting the command to the first page being served whole."""
    began = time.perf_counter()
    page = start(folder)
    urllib.request.urlopen(page.address).read()
    took = time.perf_counter() - began
    page.stop()
    return took


def enter(tab: Tab, red: str, black: str, mode: str, shown: str, count: int) -> tuple[float, float]:
    """[s] from Enter to the mark of the reading (the verdict's where that came first) and to the painted
    verdict on so many readings, by the browser's own clock."""
    tab.fill("#red", red)
    tab.press("#red", "Enter")
    tab.fill("#black", black)
    tab.press("#black", "Enter")
    tab.check(f"#mode-{mode}", force=True)
    tab.locator("#expect b").wait_for()
    tab.wait_for_timeout(1500)  # a person reads the display and types
    tab.evaluate("() => performance.clearMarks()")
    tab.type("#reading", shown)
    tab.keyboard.press("Enter")
    judged(tab, count)
    tab.wait_for_timeout(50)
    entered, glimpsed, seen = tab.evaluate("() => ['entered', 'glimpsed', 'judged'].map((name) =>"
                                           " performance.getEntriesByName(name).at(-1)?.startTime ?? 1e9)")
    return (min(glimpsed, seen) - entered) / 1000, (seen - entered) / 1000


def measured(page: Page, rounds: int) -> list[tuple[float, float]]:
    """[s] for each reading of `MORE`, so many times, each taken back before the next."""
    found = []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        tab = browser.new_page(viewport={"width": 1280, "height": 900})
        tab.goto(f"{page.address}#read")
        judged(tab, 10)
        for _ in range(rounds):
            for red, black, mode, shown in MORE:
                found.append(enter(tab, red, black, mode, shown, 11))
                tab.keyboard.type("--")
                tab.keyboard.press("Enter")
                judged(tab, 10)
        browser.close()
    return found


def main() -> None:
    """Measure and print."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        shutil.copy(BOARD, folder / "stage.board")
        (folder / "stage.readings").write_text(STORY, encoding="utf-8")
        starts = [first_page(folder) for _ in range(5)]
        page = start(folder)
        both = measured(page, rounds)
        page.stop()
    print(f"first page after the start: median {statistics.median(starts):.2f} s")
    waits = [seen for _, seen in both]
    print(f"Enter to the reading's mark: median {statistics.median(first for first, _ in both) * 1e3:.0f} ms")
    middle, quarter = statistics.median(waits), statistics.quantiles(waits, n=4)[2]
    print(f"Enter to verdict, 15 parts, 10 readings, {len(waits)} entries: median {middle * 1e3:.0f} ms, "
          f"quarter above {quarter * 1e3:.0f} ms, longest {max(waits) * 1e3:.0f} ms")


if __name__ == "__main__":
    main()
