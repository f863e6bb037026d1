"""Work off the request: right, never stale, equal questions answered once, dead workers replaced."""

from __future__ import annotations

import asyncio
import contextlib
import os
import signal
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from incircuit.board import HEALTHY, read_board
from incircuit.meter.profile import load_meter
from incircuit.predict.prediction import predict
from incircuit.predict.question import ask_about
from incircuit.web.crew import WORKERS, Crew, Job
from tests.web.serving import STAGE, Page, posted, worked


def test_see_shows_what_predict_says(page_server: Page) -> None:
    board = read_board(page_server.folder / "stage.board")
    expected = predict(ask_about(board, HEALTHY, "+12V", "COIL"), load_meter("handheld"))
    said = worked(page_server, "see", red="+12V", black="COIL", mode="ohms")["result"]
    assert [f"{r['digits']} {r['unit']}".strip() for r in said["rows"]] == [p.shown.text for p in expected]
    assert said["part"] in ("K1", "D1")
    assert said["why"]["drive"].startswith("The meter drives")


def test_a_wrong_pad_is_told_with_the_nearest(page_server: Page) -> None:
    said = worked(page_server, "see", red="COLI", black="0V", mode="ohms")
    assert (said["state"], "did you mean COIL" in said["message"]) == ("error", True)


def test_the_verdict_is_the_one_of_judge(page_server: Page) -> None:
    from incircuit.judge.judge import judge
    from incircuit.judge.words import why
    from incircuit.story import read_story

    file = page_server.folder / "judged.readings"
    file.write_text("+12V COIL ohms 360\n+12V COIL diode 0.001\nCOIL +12V diode 0.001\nCOIL +12V ohms 0.2\n",
                    encoding="utf-8")
    board = read_board(page_server.folder / "stage.board")
    expected = judge(board, read_story(file))
    said = worked(page_server, "verdict", readings="judged.readings")["result"]
    assert (said["word"], said["why"]) == (expected.ruling.word, why(expected))
    assert len(said["lines"]) == 4


def test_a_known_good_board_counts_in_the_verdict(page_server: Page) -> None:
    from incircuit.judge.judge import judge
    from incircuit.story import read_story

    for name, shown in (("this", "318"), ("good", "361")):
        (page_server.folder / f"{name}.readings").write_text(f"+12V COIL ohms {shown}\n", encoding="utf-8")
    board = read_board(page_server.folder / "stage.board")
    this, good = (read_story(page_server.folder / f"{name}.readings") for name in ("this", "good"))
    expected = judge(board, this, reference=good)
    said = worked(page_server, "verdict", readings="this.readings", good="good.readings")["result"]
    assert [c["odds"] for c in said["candidates"]][:1] == [
        e.probability for e in expected.explanations if e.fits and not e.silent][:1]
    assert (said["lines"][0]["good"], said["lines"][0]["differs"]) == ("361", True)
    assert worked(page_server, "verdict", readings="this.readings")["result"]["lines"][0]["good"] == ""
    refused = worked(page_server, "verdict", readings="this.readings", good="this.readings")
    assert "choose another file" in refused["message"]
    ask = {"kind": "verdict", "tab": "t", "board": "stage.board", "readings": "this.readings",
           "good": "none.board"}
    assert posted(page_server, "/api/work", ask)[0] == 422


def test_what_it_may_hold_is_what_discharge_says(page_server: Page) -> None:
    from incircuit.power.discharge import stored
    from incircuit.report import charge

    text = STAGE + "C9 capacitor +=LINK -=0V 470u 400V electrolytic\nR9 resistor LINK 0V 100k\n"
    (page_server.folder / "held.board").write_text(text, encoding="utf-8")
    bank = stored(read_board(page_server.folder / "held.board")).banks[0]
    answer = worked(page_server, "charge", board="held.board")
    assert answer["state"] == "done", answer
    said = answer["result"]
    assert said["banks"][0]["rows"] == [list(row) for row in charge.bleed_rows(bank)]
    assert said["banks"][0]["resistor"] == charge.resistor_words(bank.discharger)
    assert said["marks"] == {"C9": "400 V"}
    refused = worked(page_server, "powerup", board="held.board", readings="link.readings")
    assert "add a line such as" in refused["message"]


def test_advice_and_worksheet_name_pads_of_the_board(page_server: Page) -> None:
    advice = worked(page_server, "next")["result"]
    sheet = worked(page_server, "worksheet")["result"]
    pads = {"+12V", "COIL", "0V", "IN", "B1"}
    for step in (*advice["acts"], *sheet["steps"]):
        assert {step["red"], step["black"]} <= pads
        assert step["mode"] in ("diode", "ohms", "continuity")
    assert advice["acts"]
    assert advice["acts"][0]["outcomes"]
    assert "Unplug" in advice["caution"]


def test_a_drawing_names_its_nets_and_parts(page_server: Page) -> None:
    said = worked(page_server, "drawing", red="+12V", black="0V", mode="ohms", text="", shown="",
                  marks='{"D1": "82 %", "X9": "no"}')["result"]
    for name in ("COIL", "+12V"):
        assert f'data-net="{name}"' in said["svg"]
    assert 'data-part="K1"' in said["svg"]
    assert "82 %" in said["svg"]
    assert "<style" not in said["svg"]  # the page's policy would not apply it
    assert " style=" not in said["svg"]
    typed = worked(page_server, "drawing", red="", black="", mode="ohms", marks="", shown="",
                   text="R77 resistor A B 1k\n")
    assert 'data-part="R77"' in typed["result"]["svg"]


def test_names_of_a_board_never_become_markup(page_server: Page) -> None:
    text = ('board "<script>alert(1)</script>"\n'
            "R1 resistor <b>A</b> B&amp;'x 1k text=\"<img src=x onerror=alert(1)>\"\n")
    said = worked(page_server, "drawing", red="", black="", mode="ohms", marks="", shown="",
                  text=text)["result"]
    for bad in ("<script", "<b>", "<img"):
        assert bad not in said["svg"]


def test_a_newer_question_of_a_tab_takes_the_place_of_an_older(tmp_path: Path) -> None:
    (tmp_path / "stage.board").write_text(STAGE, encoding="utf-8")

    async def play() -> None:
        crew = Crew(str(tmp_path))
        await crew.start()
        base = {"board": "stage.board", "readings": "stage.readings"}
        try:
            first = asyncio.create_task(crew.ask("next", {**base, "n": 1}, "tab", 60.0))
            await asyncio.sleep(0.2)
            waiting = asyncio.create_task(crew.ask("next", {**base, "n": 2}, "tab", 60.0))
            await asyncio.sleep(0.05)
            last = asyncio.create_task(crew.ask("next", {**base, "n": 3}, "tab", 60.0))
            assert await first == {"state": "stale"}
            assert await waiting == {"state": "stale"}
            assert (await last)["state"] == "done"
            same = [crew.ask("next", {**base, "n": 4}, f"tab {k}", 60.0) for k in range(8)]
            answers = await asyncio.gather(*same)  # one piece of work for eight tabs
            assert all(a is answers[0] for a in answers)
            begun = crew.begin("next", {**base, "n": 7}, "tab")  # as when a line is stored: joined when asked
            assert isinstance(begun, Job)
            assert await crew.ask("next", {**base, "n": 7}, "tab", 60.0) is await begun.answer
            hand = next(h for h in crew.hands if "next" in WORKERS[h.rank])
            for n in range(20, 24):  # overtaken while its worker is being started
                assert hand.process is not None
                hand.process.kill()
                await hand.process.wait()
                early = asyncio.create_task(crew.ask("next", {**base, "n": n}, "tab", 60.0))
                while not hand.called.is_set() and hand.now is None:
                    await asyncio.sleep(0)
                await asyncio.sleep(0)
                later = asyncio.create_task(crew.ask("next", {**base, "n": n + 10}, "tab", 60.0))
                assert await early == {"state": "stale"}
                assert (await later)["state"] == "done"
            pid = hand.process
            assert pid is not None
            pid.kill()  # as if it had run out of memory
            await pid.wait()
            assert (await crew.ask("next", {**base, "n": 5}, "tab", 60.0))["state"] in ("done", "error")
            assert (await crew.ask("next", {**base, "n": 6}, "tab", 60.0))["state"] == "done"
        finally:
            await crew.stop()
        assert all(h.process.returncode is not None for h in crew.hands if h.process)

    with ThreadPoolExecutor(1) as thread:  # the browser's driver has an event loop in this one
        thread.submit(asyncio.run, play()).result(120)


def test_a_question_that_takes_long_says_how_far_it_is(page_server: Page) -> None:
    from incircuit.starts import starting_point

    (page_server.folder / "long.board").write_text(starting_point("half-bridge").text, encoding="utf-8")
    ask = {"kind": "worksheet", "tab": "long", "board": "long.board", "readings": "long.readings"}
    said, began = [], time.monotonic()
    while time.monotonic() - began < 100:
        said.append(posted(page_server, "/api/work", ask)[1])
        if said[-1]["state"] == "done":
            break
    assert said[-1]["state"] == "done"
    for each in said[:-1]:
        assert each["state"] == "working"
        assert 0 <= each["done"] <= max(each["of"], 1)


@pytest.mark.skipif(os.name == "nt", reason="processes are told apart by /proc")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_no_worker_outlives_its_page(bench: Callable[..., Page], how: int) -> None:
    page = bench()
    base = {"board": "stage.board", "readings": "stage.readings", "tab": "x"}
    for kind in ("verdict", "next", "worksheet"):
        posted(page, "/api/work", {"kind": kind, **base})

    def workers() -> list[str]:
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdigit():
                with contextlib.suppress(OSError):
                    said = (entry / "cmdline").read_bytes().split(b"\0")
                    if b"incircuit.web.worker" in said and str(page.folder).encode() in said:
                        found.append(entry.name)
        return found

    assert len(workers()) >= 5
    page.stop(how)
    for _ in range(200):  # a worker of a killed page notices with its next word
        if not workers():
            break
        time.sleep(0.1)
    assert workers() == []
