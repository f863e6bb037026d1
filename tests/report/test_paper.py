"""The papers: valid HTML that needs nothing from outside, escaped, accessible, printed without bad breaks."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from incircuit.advise.costs import load_costs
from incircuit.advise.worksheet import Worksheet, worksheet
from incircuit.board import Board, make_state, parse_board
from incircuit.circuit.build import build
from incircuit.judge.judge import judge
from incircuit.meter.profile import load_meter
from incircuit.report.job import job_page
from incircuit.report.sheet import worksheet_page
from incircuit.story import story_of_text

if TYPE_CHECKING:
    from playwright.sync_api import Browser

NASTY = "<script>alert('1')</script> & \"co\""
BOARD = f'''board "{NASTY.replace('"', "''")}"
net <b>IN pad=TP1
R1 resistor <b>IN GATE 10R 1%
R2 resistor GATE RTN 10k 1%
D1 diode A=GATE K=<b>IN signal
Q1 nmos G=GATE D=OUT S=RTN power
C1 capacitor OUT RTN 470u 400V electrolytic
'''
STORY = '''meter handheld
<b>IN GATE ohms 10.2 "</td><script>alert(2)</script>" @2026-03-01T09:30
GATE RTN diode OL
OUT RTN diode 0.001 settled
lift R1.1
remove Q1
fit Q1 "new & <i>tested</i>" @2026-03-01T11:00
OUT RTN diode OL
resolder R1.1
'''
FIELDS = {"customer": NASTY, "device": "lift drive\x07 7", "order": ""}


@pytest.fixture(scope="module")
def board() -> Board:
    """A board whose names would break a page that does not escape."""
    return parse_board(BOARD)


@pytest.fixture(scope="module")
def sheet(board: Board) -> tuple[Worksheet, str]:
    """A worksheet and its page."""
    circuit, meter = build(board, make_state(board)), load_meter("handheld")
    found = worksheet(circuit, meter, load_costs(""))
    return found, worksheet_page(found, circuit, meter)


@pytest.fixture(scope="module")
def job(board: Board) -> str:
    """A job record."""
    story = story_of_text(STORY, board)
    return job_page(judge(board, story), story, load_meter("handheld"), FIELDS, "hums, then <silence>")


@pytest.fixture(scope="module")
def pages(sheet: tuple[Worksheet, str], job: str) -> dict[str, str]:
    """Both, by name."""
    return {"worksheet": sheet[1], "job": job}


@pytest.mark.parametrize("name", ["worksheet", "job"])
def test_valid_html_and_nothing_from_outside(pages: dict[str, str], name: str) -> None:
    import html5lib

    html5lib.HTMLParser(strict=True).parse(pages[name])
    text = re.sub(r'xmlns="http://www\.w3\.org/2000/svg"', "", pages[name])
    assert "http" not in re.sub(r'http-equiv="Content', "", text)
    assert not re.search(r"<(script|link|iframe|object|img)\b|\bsrc=|@import|url\(", text)


@pytest.mark.parametrize("name", ["worksheet", "job"])
def test_what_people_typed_is_text(pages: dict[str, str], name: str) -> None:
    assert "<script" not in pages[name]
    assert "<b>IN" not in pages[name]
    assert "&lt;script&gt;alert(" in pages[name]
    assert "\x07" not in pages[name]


@pytest.mark.parametrize("name", ["worksheet", "job"])
def test_opens_without_a_network_and_is_accessible(browser: Browser, pages: dict[str, str], name: str,
                                                   tmp_path: Path) -> None:
    from axe_playwright_python.sync_playwright import Axe

    file = tmp_path / f"{name}.html"
    file.write_text(pages[name], encoding="utf-8")
    context = browser.new_context(offline=True, java_script_enabled=True)
    tab = context.new_page()
    asked: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(file.as_uri())
    assert asked == [file.as_uri()]
    found = Axe().run(tab).response["violations"]
    assert [(v["id"], [n["html"][:120] for n in v["nodes"]]) for v in found] == []
    context.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_prints_with_cautions_on_top_and_rows_in_one_piece(browser: Browser, sheet: tuple[Worksheet, str],
                                                           paper: str, tmp_path: Path) -> None:
    found, text = sheet
    pages = printed(browser, text, paper, tmp_path)
    assert pages[0].index("CAUTION") < pages[0].index("Readings") < pages[0].index("you read")
    assert "C1 may hold 37.6 J at its rated 400 V" in " ".join(pages[0].split())
    for n, step in enumerate(found.steps, start=1):
        row = re.compile(rf"(?m)^{n}\s+{re.escape(step.probe.red)}\s+{re.escape(step.probe.black)}\s")
        assert sum(bool(row.search(page)) for page in pages) == 1
    for page in pages[1:]:
        if re.search(r"(?m)^\d+ \S+ \S+ (diode|ohms)", page):
            assert "you read" in page  # the head of the table comes again
    assert all(len(page.split()) > 15 for page in pages)  # no page for a leftover line


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_job_record_prints(browser: Browser, job: str, paper: str, tmp_path: Path) -> None:
    pages = printed(browser, job, paper, tmp_path)
    whole = " ".join(" ".join(pages).split())
    for said in (
        "What came in",
        "hums, then <silence>",
        "FAILED: Q1 (the old one, replaced since)",
        "R1.1 lifted",
        "Q1: new & <i>tested</i>",
        "Checks after the repair",
        "2026-03-01T09:30",
        "incircuit 0.",
    ):
        assert said in whole
    assert "still lifted" not in whole
    for page in pages:  # no heading alone at the foot of a page
        last = page.strip().splitlines()[-1]
        assert last not in ("Parts replaced", "Checks after the repair", "Open points", "Cautions", "Meter")


def printed(browser: Browser, text: str, paper: str, folder: Path) -> list[str]:
    """The text of every page of the browser's print."""
    import pypdfium2

    file, out = folder / "page.html", folder / "page.pdf"
    file.write_text(text, encoding="utf-8")
    tab = browser.new_page()
    tab.goto(file.as_uri())
    tab.pdf(path=str(out), format=paper)
    tab.close()
    document = pypdfium2.PdfDocument(str(out))
    pages = [document[k].get_textpage().get_text_range().replace("\r", "") for k in range(len(document))]
    document.close()
    return pages
