"""The drill on the page: the same bench as in the terminal, nothing given away, results kept once."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from incircuit.drill.bench import act, start
from incircuit.drill.deal import deal
from incircuit.drill.results import kept
from tests.web.serving import Page, posted
from tests.web.technician import complaints_of, tab_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser


def played(page: Page, lines: list[str], level: int = 1, seed: int = 3, when: str = "") -> dict[str, Any]:
    """The answer of the page's server after these lines."""
    ask = {"kind": "drill", "tab": "t", "level": str(level), "seed": str(seed), "lines": json.dumps(lines),
           "played": when}
    while True:
        said = posted(page, "/api/work", ask)[1]
        if said["state"] not in ("working", "stale"):
            return said


def test_it_answers_as_in_the_terminal(page_server: Page) -> None:
    lines = ["IN OUT diode", "OUT IN diode", "lift D1.A", "D1.A OUT diode", "resolder D1.A"]
    bench = start(deal(1, 3))
    texts = []
    for line in lines:
        bench, answer = act(bench, line)
        texts.append(answer.text)
    said = played(page_server, lines)["result"]
    assert [a["text"] for a in said["answers"]] == texts
    assert said["spent"] == round(bench.spent)
    assert said["lifted"] == []


def test_nothing_is_given_away_before_the_end(page_server: Page) -> None:
    truth = deal(1, 3).faults
    said = played(page_server, ["IN OUT diode"])["result"]
    assert said["review"] is None
    assert not said["over"]
    assert "truth" not in json.dumps({k: v for k, v in said.items() if k != "faults"})
    end = f"fault {', '.join(h.text for h in truth)}" if truth else "healthy"
    done = played(page_server, ["IN OUT diode", end])["result"]
    assert done["over"]
    assert done["review"]["right"]
    assert done["review"]["lesson"]


def test_what_cannot_be_done_leaves_the_bench_as_it_was(page_server: Page) -> None:
    for line in ("IN NOWHERE diode", "lift D1", "explode", "fault D1 sleepy", "IN OUT farads", ""):
        said = played(page_server, ["IN OUT ohms", line])
        assert said["state"] == "error", line
    assert len(played(page_server, ["IN OUT ohms"])["result"]["answers"]) == 1
    for wrong in ({"level": "9"}, {"level": "x"}, {"seed": "-1"}, {"seed": "9" * 30}, {"lines": "{}"},
                  {"lines": "[1]"}, {"lines": "["}):
        ask = {"kind": "drill", "tab": "t", "level": "1", "seed": "3", "lines": "[]", "played": "", **wrong}
        assert posted(page_server, "/api/work", ask)[1]["state"] == "error", wrong


def test_a_bench_played_to_the_end(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page, "practice", viewport={"width": 1280, "height": 900})
    tab.fill("#d-seed", "3")
    tab.click("#view-practice button.main")
    tab.locator("#d-picture svg").wait_for()
    tab.locator("#d-picture [data-net='IN'] text").first.click()
    tab.locator("#d-picture [data-net='OUT'] text").first.click()
    assert (tab.input_value("#d-red"), tab.input_value("#d-black")) == ("IN", "OUT")
    tab.click("#d-bench button.main")
    tab.locator("#d-bench td").first.wait_for()
    tab.reload()  # nothing is lost
    tab.locator("#d-bench th code", has_text="IN OUT diode").wait_for()
    tab.click("#d-bench button:text-is('All is well')")
    tab.locator("#d-outcome .word").wait_for()
    assert "The lesson" in tab.inner_text("#d-outcome")
    tab.reload()
    tab.locator("#d-outcome .word").wait_for()
    results = kept(page.folder / "drill.jsonl")
    assert [(r.level, r.seed) for r in results] == [(1, 3)]
    assert complaints_of(tab) == []
