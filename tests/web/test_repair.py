"""A whole repair in a real browser: described with a mistake, mended, read, decided; by keys, by thumb."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from tests.web.serving import STAGE, Page
from tests.web.technician import PHONE, complaints_of, dead_board_shows, judged, open_in, tab_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Route
    from playwright.sync_api import Page as Tab

FAULT = "D1 short"


def where(tab: Tab) -> tuple[str, str, str]:
    """Red pad, black pad, mode, as the page has them."""
    return (tab.input_value("#red"), tab.input_value("#black"),
            tab.locator("input[name=mode]:checked").input_value())


def take_what_is_proposed(tab: Tab, page: Page, fault: str) -> bool:
    """Follow the first proposal of Next, a reading or a lead to lift; False where it says all is known."""
    tab.click("nav a[href='#next']")
    button = tab.locator("#advice button.main").first
    button.or_(tab.locator("#advice .says", has_text="The verdict is reached")).first.wait_for()
    if not button.count():
        return False
    lift = (button.text_content() or "").startswith("Done")
    button.click()
    if lift:
        tab.locator("#lines .done", has_text=re.compile("lift|remove")).first.wait_for()
    tab.type("#reading", dead_board_shows(page.folder, fault, *where(tab)))
    tab.keyboard.press("Enter")
    return True


def test_a_whole_repair(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench(text="")
    tab = tab_of(browser, page, viewport={"width": 1280, "height": 900})
    # an empty folder: begin a board, type it with a mistake, mend it
    tab.fill("#new-name", "stage")
    tab.click("#starts button")
    tab.locator("#text").wait_for()
    tab.locator("#state", has_text="saved").wait_for()
    tab.fill("#text", STAGE.replace("rectifier", "rectifer"))
    tab.locator("#problems li.error", has_text="did you mean rectifier").wait_for()
    assert tab.locator("#gutter .error").text_content() == "7"
    tab.click("#problems button")
    tab.keyboard.type("rectifier")  # the mistake is selected
    tab.locator("#state", has_text=re.compile("^not saved$")).wait_for()
    tab.locator("#picture [data-part=K1]").wait_for()
    tab.click("#save-board")
    tab.locator("#state", has_text=re.compile("^saved$")).wait_for()
    assert (page.folder / "stage.board").read_text(encoding="utf-8") == STAGE
    # see: click two pads
    tab.click("nav a[href='#see']")
    tab.locator("#picture [data-net='+12V'] text").first.click()
    tab.locator("#picture [data-net='COIL'] text").first.click()
    assert where(tab)[:2] == ("+12V", "COIL")
    tab.locator("#display b").wait_for()
    assert tab.locator("#display b").evaluate("e => parseFloat(getComputedStyle(e).fontSize)") >= 54
    # read
    tab.click("nav a[href='#read']")
    tab.locator("#expect b").wait_for()
    tab.type("#reading", dead_board_shows(page.folder, FAULT, *where(tab)))
    tab.keyboard.press("Enter")
    judged(tab, 1)
    # follow what is proposed until the verdict is reached
    count = 1
    while count < 9 and take_what_is_proposed(tab, page, FAULT):
        count += 1
        judged(tab, count)
    assert "replace D1" in (tab.locator("#advice .says").text_content() or "")
    tab.click("nav a[href='#read']")
    assert (tab.locator(".word").text_content() or "").split()[1:3] == ["failed", "D1"]
    # the repair: a new diode, and the first reading once more
    tab.click("#parts button:text-is('D1')")
    tab.click("dialog button:text-is('Fit a new D1')")
    tab.click("dialog button:text-is('Done')")
    tab.locator("#parts tr", has_text="D1").locator("text=new part").wait_for()
    text = (page.folder / "stage.readings").read_text(encoding="utf-8")
    assert "fit D1" in text
    # the record of the job, on paper
    tab.click("nav a[href='#next']")
    with tab.expect_popup() as opened:
        tab.click("#papers a:text-is('Job record')")
    paper = opened.value
    paper.locator("h1", has_text="Relay stage").or_(paper.locator("text=Relay stage")).first.wait_for()
    said = paper.inner_text("body")
    assert "D1" in said
    assert "FAILED" in said
    assert paper.locator("svg").count() >= 1
    font = paper.locator("body").evaluate("e => getComputedStyle(e).fontFamily")
    assert font.startswith("Arial")  # its own style applies
    assert len(paper.pdf()) > 5000
    assert complaints_of(tab) == []


def test_by_keyboard_alone(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page)
    tab.locator("#view-read h2").first.wait_for()
    tab.locator("#red").wait_for()
    tab.locator("#pads option").first.wait_for(state="attached")

    def tab_to(selector: str) -> None:
        for _ in range(60):
            tab.keyboard.press("Tab")
            if tab.locator(f"{selector}:focus").count():
                return
        raise AssertionError(f"{selector} is not reached by Tab")

    tab_to(".skip")
    tab_to("#red")
    tab.keyboard.type("+12V")
    tab.keyboard.press("Enter")
    tab.keyboard.type("COIL")
    tab.keyboard.press("Enter")
    assert tab.locator("#reading:focus").count()
    # from here on the keypad alone: digits, point, / * + - Enter
    tab.keyboard.press("*")
    assert where(tab) == ("+12V", "COIL", "ohms")
    tab.locator("#expect b").wait_for()
    tab.keyboard.type("359")
    tab.keyboard.press("Enter")
    judged(tab, 1)
    tab.keyboard.type("..")
    tab.keyboard.press("Enter")
    assert where(tab) == ("COIL", "+12V", "ohms")
    tab.keyboard.press("/")
    assert tab.input_value("#reading") == "OL"
    tab.keyboard.press("Enter")
    judged(tab, 2)
    tab.keyboard.type("--")
    tab.keyboard.press("Enter")
    judged(tab, 1)
    text = (page.folder / "stage.readings").read_text(encoding="utf-8")
    assert [line.split(" @")[0] for line in text.splitlines()[1:]] == ["+12V COIL ohms 359"]
    # the next reading to take, once the page knows it
    for _ in range(40):
        tab.keyboard.press("+")
        if where(tab) != ("COIL", "+12V", "ohms"):
            break
        tab.wait_for_timeout(250)
    assert where(tab) != ("COIL", "+12V", "ohms")
    assert tab.locator("#reading:focus").count()
    tab.keyboard.type("nonsense")
    tab.keyboard.press("Enter")
    tab.locator("#refused", has_text="is not a value").wait_for()
    assert tab.input_value("#reading") == "nonsense"  # to be mended, not typed again
    # what was done to a part, and every view
    tab_to("#parts button[data-key='part Q1']")
    tab.keyboard.press("Enter")
    tab.locator("dialog[open]").wait_for()
    tab_to("dialog button[data-key='lift Q1.B']")
    tab.keyboard.press("Enter")
    tab.locator("dialog button[data-key='resolder Q1.B']").wait_for()
    tab.keyboard.press("Escape")
    tab.locator("#parts tr", has_text="Q1.B lifted").wait_for()
    for view in ("describe", "see", "next", "practice"):
        tab_to(f"nav a[href='#{view}']")
        tab.keyboard.press("Enter")
        tab.locator(f"#view-{view}:not([hidden])").wait_for()
    assert complaints_of(tab) == []


def test_on_a_phone_with_one_thumb(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page, "read", **PHONE)
    tab.locator("#picture [data-net='COIL']").wait_for()
    tab.tap("#padlist summary")
    tab.tap("#padbuttons button[value='+12V']")
    tab.tap("#padbuttons button[value='COIL']")
    tab.tap("label:has(#mode-ohms)")
    tab.locator("#expect b").wait_for()
    tab.tap("#reading")
    tab.keyboard.type("359")
    tab.tap("#save")
    judged(tab, 1)
    tab.tap(".quick button:text-is('OL')")
    tab.tap("#save")
    judged(tab, 2)
    tab.tap("#undo")
    judged(tab, 1)
    assert tab.locator("#reading").get_attribute("inputmode") == "decimal"
    # what the thumb needs lies in the lower half, is large enough (WCAG 2.5.5), does not leave the screen
    for selector in ("#reading", "#save", ".quick button", "nav a"):
        for box in [each.bounding_box() for each in tab.locator(selector).all()]:
            assert box is not None
            assert box["height"] >= 44
            assert box["width"] >= 44
            assert box["y"] >= 844 / 2
            assert box["x"] + box["width"] <= 391
    assert tab.evaluate("() => document.documentElement.scrollWidth") <= 390
    assert complaints_of(tab) == []


def test_a_killed_server_loses_nothing(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page, "read")
    tab.locator("#pads option").first.wait_for(state="attached")
    tab.fill("#red", "IN")
    tab.fill("#black", "0V")
    tab.check("#mode-ohms", force=True)
    tab.type("#reading", "26.7k")
    tab.keyboard.press("Enter")
    judged(tab, 1)
    page.kill()  # in the middle of an entry
    tab.type("#reading", "26.8k")
    tab.keyboard.press("Enter")
    tab.locator("#pending", has_text="waits").wait_for()
    tab.type("#reading", "26.9k")
    tab.keyboard.press("Enter")
    tab.locator("#pending", has_text="2 lines wait").wait_for()
    again = bench(f"--port={page.port}")
    judged(tab, 3)
    assert tab.locator("#pending").text_content() == ""
    text = (again.folder / "stage.readings").read_text(encoding="utf-8")
    assert [line.split()[3] for line in text.splitlines()[1:]] == ["26.7k", "26.8k", "26.9k"]


def test_what_a_closed_tab_could_not_save_is_saved_by_another(browser: Browser,
                                                              bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page, "read")
    tab.locator("#pads option").first.wait_for(state="attached")
    tab.fill("#red", "IN")
    tab.fill("#black", "0V")
    tab.check("#mode-ohms", force=True)
    tab.locator("#expect b").wait_for()
    page.kill()
    tab.type("#reading", "26.8k")
    tab.keyboard.press("Enter")
    tab.locator("#pending", has_text="waits").wait_for()
    context = tab.context
    # a year later, by its stamp
    tab.evaluate("""() => {
        for (const key of Object.keys(localStorage).filter((k) => k.startsWith('pending ')))
            localStorage.setItem(key, localStorage.getItem(key).replace(/"stamp":"\\d{4}/, '"stamp":"2020'));
    }""")
    tab.close()
    again = bench(f"--port={page.port}")
    tab = open_in(context, again, "read")
    judged(tab, 1)
    text = (again.folder / "stage.readings").read_text(encoding="utf-8")
    assert [line.split()[3] for line in text.splitlines()[1:]] == ["26.8k"]


def test_a_closed_tab_loses_no_text(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page, "describe")
    tab.locator("#state", has_text="saved").wait_for()
    broken = STAGE + "R9 resistor IN"
    tab.fill("#text", broken)
    tab.locator("#problems li.error").first.wait_for()
    context = tab.context
    tab.close()
    assert (page.folder / "stage.board").read_text(encoding="utf-8") == STAGE  # a broken text waits for Save
    tab = open_in(context, page, "describe")
    tab.locator("#state", has_text="not saved").wait_for()
    assert tab.input_value("#text") == broken
    (page.folder / "stage.board").write_text(STAGE.replace("22k", "27k"), encoding="utf-8")
    tab.click("#save-board")
    tab.locator("#conflict", has_text="changed elsewhere").wait_for()
    tab.click("#conflict button:text-is('Take the other text')")
    tab.locator("#state", has_text=re.compile("^saved$")).wait_for()
    assert "27k" in tab.input_value("#text")


def test_a_board_that_is_not_there_yet_is_begun(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench(text="", board="new relay.board")
    tab = tab_of(browser, page)
    tab.locator("#new-name:focus").wait_for()
    assert tab.input_value("#new-name") == "new relay.board"
    tab.select_option("#start", "relay-driver")
    tab.click("#starts button")
    tab.locator("#picture [data-part]").first.wait_for()
    assert (page.folder / "new relay.board").read_text(encoding="utf-8").startswith("# Starting point")
    # a part by the form, the value as it is printed on it
    tab.click("#add summary")
    tab.select_option("#p-kind", "capacitor")
    tab.fill("#p-value", "104")
    tab.fill(".p-net >> nth=0", "COIL")
    tab.fill(".p-net >> nth=1", "GND")
    tab.locator("#p-line", has_text="100n").wait_for()
    tab.click("#part button:text-is('Add')")
    tab.locator("#state", has_text="not saved").wait_for()
    tab.focus("#text")
    tab.keyboard.press("Control+s")
    tab.locator("#state", has_text=re.compile("^saved$")).wait_for()
    assert re.search(r"^C\d+ capacitor COIL GND 100n$", tab.input_value("#text"), re.MULTILINE)
    assert complaints_of(tab) == []


def test_twenty_tabs(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench()
    context = browser.new_context()
    tabs = [open_in(context, page, "read") for _ in range(20)]
    for k, tab in enumerate(tabs):
        tab.locator("#pads option").first.wait_for(state="attached")
        tab.fill("#red", "IN")
        tab.fill("#black", "0V")
        tab.check("#mode-ohms", force=True)
        tab.type("#reading", f"26.{k:02d}k")
        tab.keyboard.press("Enter")
    for tab in tabs:
        judged(tab, 20)
        assert complaints_of(tab) == []
    text = (page.folder / "stage.readings").read_text(encoding="utf-8")
    assert [line.split()[3] for line in text.splitlines()[1:]] == [f"26.{k:02d}k" for k in range(20)]
    context.close()


@pytest.mark.parametrize("name", ["<img src=x onerror=alert(1)>", "\"'`{{7*7}}${7}"])
def test_what_a_file_says_is_never_markup(browser: Browser, bench: Callable[..., Page], name: str) -> None:
    page = bench(text="")
    ref = name.replace(" ", "_").replace("=", "").replace('"', "").replace("#", "")
    title = name.replace('"', "")
    (page.folder / "stage.board").write_text(
        f'board "{title}"\nR1 resistor {ref} B 1k\nR2 resistor {ref} B 2k text="x"\n', encoding="utf-8")
    (page.folder / "stage.readings").write_text(
        f'{ref} B ohms 660 "<b>bold</b>"\n{ref} <u>x ohms 1\n', encoding="utf-8")
    tab = tab_of(browser, page, "read")
    tab.locator("#verdict", has_text="cannot be used").wait_for()
    tab.locator("#picture svg").wait_for()
    assert tab.locator("main img, main u, main b:text-is('bold')").count() == 0
    assert ref in (tab.locator("#padbuttons").text_content() or "")
    assert complaints_of(tab) == []


def test_what_it_may_hold_and_the_first_power(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench(text=STAGE + "C9 capacitor +=LINK -=0V 470u 400V electrolytic\nR9 resistor LINK 0V 100k\n"
                              "supply LINK 0V 325V\nsupply +12V 0V 12V\n")
    tab = tab_of(browser, page, "read", viewport={"width": 1280, "height": 900})
    # before the first reading it stands where the verdict will be
    tab.locator("#verdict h2", has_text="Before the first reading").wait_for()
    assert "C9, LINK to 0V" in (tab.locator("#verdict").text_content() or "")
    assert "can kill" in (tab.locator("#may-hold").text_content() or "")
    tab.click("#may-hold")
    tab.locator("#charge tbody tr", has_text="R9 open").wait_for()
    tab.locator("#picture [data-part=C9]", has_text="325 V").wait_for()
    tab.click("#charge button:text-is('C9 discharged, verified on volts')")
    tab.locator("#charge .fine", has_text="C9 discharged and verified").wait_for()
    assert "discharge C9" in (page.folder / "stage.readings").read_text(encoding="utf-8")
    # after the repair: nothing is powered while a lead is lifted
    tab.locator("#powerup h3", has_text="12 V on the +12V rail").wait_for()
    tab.click("#picture [data-part=R3] >> nth=0")
    tab.click("dialog button:text-is('Lift R3.1 from +12V')")
    tab.click("dialog button:text-is('Done')")
    tab.locator("#undone", has_text="R3.1 is lifted").wait_for()
    # the readings to take once more are a click away
    tab.click("#powerup button >> nth=0")
    tab.locator("#reading:focus").wait_for()
    assert where(tab)[0] in ("LINK", "+12V")
    assert complaints_of(tab) == []


def test_a_known_good_board_beside(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page, "read")
    tab.locator("#pads option").first.wait_for(state="attached")
    tab.select_option("#readings", label="begin another …")
    tab.fill("#other-name", "good one")
    tab.keyboard.press("Enter")
    tab.locator("#readings option:checked", has_text="good one.readings").wait_for(state="attached")

    def take(red: str, black: str, shown: str, count: int) -> None:
        tab.fill("#red", red)
        tab.fill("#black", black)
        tab.check("#mode-ohms", force=True)
        tab.type("#reading", shown)
        tab.keyboard.press("Enter")
        judged(tab, count)

    take("IN", "0V", "26.6k", 1)
    take("+12V", "COIL", "361", 2)
    tab.select_option("#readings", "stage.readings")
    judged(tab, 0)
    take("IN", "0V", "26.7k", 1)
    take("+12V", "COIL", "318", 2)
    tab.select_option("#good", "good one.readings")
    tab.locator("#lines p", has_text="it differs in reading 2 (good board 361)").wait_for()
    rows = tab.locator("#lines tbody tr").all_inner_texts()
    assert ["differs" in row for row in rows] == [True, False]  # the newest first
    tab.reload()
    tab.locator("#lines p", has_text="it differs in reading 2").wait_for()  # the choice is kept
    tab.select_option("#good", "")
    tab.locator("#lines p").wait_for(state="detached")
    assert complaints_of(tab) == []


def test_a_question_that_was_cut_off_is_asked_again(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page, "read")
    judged(tab, 0)
    cut: list[str] = []

    def cutting(route: Route) -> None:
        if "verdict" in (route.request.post_data or "") and len(cut) < 2:
            cut.append(route.request.url)
            route.abort("connectionreset")
        else:
            route.continue_()

    tab.route("**/api/work", cutting)
    tab.fill("#red", "IN")
    tab.fill("#black", "0V")
    tab.check("#mode-ohms", force=True)
    tab.type("#reading", "26.7k")
    tab.keyboard.press("Enter")
    judged(tab, 1)
    assert len(cut) == 2


def test_the_mark_of_a_reading_does_not_wait_for_its_verdict(browser: Browser,
                                                             bench: Callable[..., Page]) -> None:
    page = bench()
    tab = tab_of(browser, page, "read")
    judged(tab, 0)
    said: list[dict[str, object]] = []
    tab.on("response", lambda r: said.append(r.json()) if "/api/work" in r.url
           and '"kind":"verdict"' in (r.request.post_data or "") else None)
    tab.fill("#red", "IN")
    tab.fill("#black", "0V")
    tab.check("#mode-ohms", force=True)
    for count, (shown, mark) in enumerate((("26.7k", "as healthy"), ("4.9k", "off")), start=1):
        tab.locator("#expect b").wait_for()
        tab.wait_for_timeout(2000)  # while the display is read, its verdict is prepared
        tab.type("#reading", shown)
        tab.keyboard.press("Enter")
        judged(tab, count)
        early = [one["early"] for one in said if "early" in one]
        last = tab.locator("#lines tbody tr >> nth=0").inner_text()
        if early:  # a verdict that is there at once has none
            assert early[-1]["mark"] == mark  # type: ignore[index]
            assert early[-1]["healthy"] in last  # type: ignore[index]
        assert mark in last
    assert complaints_of(tab) == []


def test_long_names_do_not_widen_the_page(browser: Browser, bench: Callable[..., Page]) -> None:
    net = "/power/gate_drive/high_side_return_of_the_upper_switch_of_phase_U"
    page = bench(text=f"R1 resistor {net} Ω 10k\nR2 resistor Ω {net}2 4k7\nC1 capacitor Ω {net}2 100u 63V\n"
                      f"supply {net}2 {net} 24V\n")
    tab = tab_of(browser, page, "read", **PHONE)
    tab.locator("#pads option").first.wait_for(state="attached")
    tab.fill("#red", net)
    tab.fill("#black", f"{net}2")
    tab.check("#mode-ohms", force=True)
    tab.type("#reading", "9k9")
    tab.keyboard.press("Enter")
    judged(tab, 1)
    for view, ready in (("read", "#parts td .tag"), ("see", "#figures svg"), ("power", "#powerup h3"),
                        ("next", "#sheet .steps"), ("describe", "#picture svg")):
        tab.tap(f"nav a[href='#{view}']")
        tab.locator(ready).first.wait_for()
        assert tab.evaluate("() => document.documentElement.scrollWidth") <= 390, view
