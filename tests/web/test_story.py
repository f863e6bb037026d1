"""What is typed on the page is in the file, once, whatever happens; tabs do not lose each other's lines."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from incircuit.story import read_story
from tests.web.serving import STAGE, Page, got, posted

STORY = "/api/story?board=stage.board&readings=stage.readings"


def reading(shown: str, red: str = "IN", black: str = "0V", mode: str = "ohms",
            **more: Any) -> dict[str, Any]:
    return {"board": "stage.board", "readings": "stage.readings", "red": red, "black": black, "mode": mode,
            "shown": shown, **more}


def done(word: str, *args: str, **more: Any) -> dict[str, Any]:
    return {"board": "stage.board", "readings": "stage.readings", "word": word, "args": list(args), **more}


def lines(page: Page) -> list[str]:
    text = (page.folder / "stage.readings").read_text(encoding="utf-8")
    return [line for line in text.splitlines() if not line.startswith("#")]


def test_a_reading_is_on_the_disk_when_it_is_acknowledged(bench: Callable[..., Page]) -> None:
    page = bench()
    one = reading("26k7", remark='he said "ok"', stamp="2031-05-06T07:08:09+02:00")
    status, said = posted(page, "/api/record", one)
    assert status == 200
    assert lines(page) == ['IN 0V ohms 26k7 "he said \\"ok\\"" @2031-05-06T07:08:09+02:00']
    page.kill()
    assert lines(page) == [said["stored"]]
    assert read_story(page.folder / "stage.readings").readings[0].typed.value == 26700.0


def test_the_same_line_sent_again_is_stored_once(bench: Callable[..., Page]) -> None:
    page = bench()
    one = reading("26k7", stamp="2031-05-06T07:08:09Z")
    for _ in range(3):  # the answer was lost on the way, so the page sends it again
        assert posted(page, "/api/record", one)[0] == 200
    assert posted(page, "/api/record", reading("26k7", stamp="2031-05-06T07:08:10Z"))[0] == 200
    assert len(lines(page)) == 2


def test_lines_of_twenty_tabs_are_all_there(bench: Callable[..., Page]) -> None:
    page = bench()
    sent = [[f"{tab}.{k}k" for k in range(1, 6)] for tab in range(1, 21)]
    found: list[int] = []

    def tab(values: list[str]) -> None:
        found.extend(posted(page, "/api/record", reading(value))[0] for value in values)

    threads = [threading.Thread(target=tab, args=(values,)) for values in sent]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [200] * 100
    assert sorted(line.split()[3] for line in lines(page)) == sorted(v for values in sent for v in values)


def test_a_stored_line_is_acknowledged_whatever_else_is_wrong(bench: Callable[..., Page]) -> None:
    page = bench()
    status, said = posted(page, "/api/record", reading("26k7", good="no such kind.txt", tab="t verdict"))
    assert (status, said["stored"]) == (200, "IN 0V ohms 26k7")
    assert lines(page) == ["IN 0V ohms 26k7"]


def test_a_refused_line_says_why_and_is_not_stored(bench: Callable[..., Page]) -> None:
    page = bench()
    for wrong, why in (
        (reading("ten"), "is not a value"), (reading("0.6", red="INN"), "did you mean IN"),
        (reading(""), "SHOWN missing"), (reading("1k\nlift D1.A"), "plain text"),
        (reading("beep"), "continuity tells"), (done("lift", "D1"), "D1.A"),
        (done("explode", "D1"), "no word"), (reading("1k", black="IN"), "two different pads"),
        (done("charge", "R1", "5"), "keeps a charge"), (done("lift", "D1.A\nremove Q1"), "plain text"),
    ):
        status, said = posted(page, "/api/record", wrong)
        assert status == 422
        assert why in said["error"]
    assert not (page.folder / "stage.readings").exists()


def test_undo_takes_back_only_what_the_page_shows_as_last(bench: Callable[..., Page]) -> None:
    page = bench()
    posted(page, "/api/record", reading("26k7"))
    posted(page, "/api/record", reading("OL", red="0V", black="IN"))
    undo = {"board": "stage.board", "readings": "stage.readings", "line": "IN 0V ohms 26k7"}
    status, said = posted(page, "/api/undo", undo)  # another tab added one meanwhile
    assert (status, "nothing was taken back" in said["error"]) == (409, True)
    assert posted(page, "/api/undo", {**undo, "line": "0V IN ohms OL"})[0] == 200
    assert posted(page, "/api/undo", undo)[0] == 200
    assert posted(page, "/api/undo", undo)[0] == 422
    assert lines(page) == []


def test_the_bench_is_what_was_done_to_it(bench: Callable[..., Page]) -> None:
    page = bench()
    for word, *args in (("lift", "D1.A"), ("remove", "R3"), ("charge", "C1", "3.2"), ("hot", "Q1", "60"),
                        ("fit", "R2"), ("short", "IN", "0V"), ("power", "+12V", "0V", "12")):
        status, said = posted(page, "/api/record", done(word, *args))
        assert status == 200, said
    now = got(page, STORY)[1]["bench"]
    assert now == {"lifted": ["D1.A"], "removed": ["R3"], "wires": [["IN", "0V"]], "charge": [["C1", 3.2]],
                   "power": [["+12V", "0V", 12.0]], "hot": [["Q1", 60.0]], "replaced": ["R2"],
                   "celsius": 25.0}
    assert posted(page, "/api/record", reading("26k7"))[0] == 422  # ohms with the supply on
    posted(page, "/api/record", done("resolder", "D1.A"))
    assert got(page, STORY)[1]["bench"]["lifted"] == []


def test_what_another_program_writes_is_seen(bench: Callable[..., Page]) -> None:
    page = bench()
    version = got(page, STORY)[1]["version"]
    assert got(page, f"{STORY}&known={version.replace(' ', '%20')}")[1] == {"version": version, "same": True}
    (page.folder / "stage.readings").write_text("IN 0V ohms 26k7\nnonsense here\n+12V COIL diode OL\n",
                                                encoding="utf-8")
    story = got(page, f"{STORY}&known={version.replace(' ', '%20')}")[1]
    assert [e["text"] for e in story["entries"]] == ["IN 0V ohms 26k7", "+12V COIL diode OL"]
    assert story["problems"][0]["line"] == 2


def test_control_c_ends_it_cleanly(bench: Callable[..., Page]) -> None:
    page = bench()
    assert page.stop(signal.SIGINT) == 0


def test_a_taken_port_is_told(bench: Callable[..., Page], tmp_path: Path) -> None:
    from click.testing import CliRunner

    from incircuit.cli.main import cli
    from incircuit.errors import FolderError

    page = bench()
    found = CliRunner().invoke(cli, ["bench", str(tmp_path), "--port", str(page.port)])
    assert isinstance(found.exception, FolderError)
    assert f"--port {page.port}" in str(found.exception)


def test_text_is_saved_only_over_what_was_read(bench: Callable[..., Page]) -> None:
    page = bench()
    found = got(page, "/api/board?file=stage.board")[1]
    assert found["text"] == STAGE
    new = STAGE.replace("22k", "27k")
    status, saved = posted(page, "/api/save", {"file": "stage.board", "text": new, "base": found["digest"]})
    assert (status, saved["sound"]) == (200, True)
    status, said = posted(page, "/api/save", {"file": "stage.board", "text": STAGE, "base": found["digest"]})
    assert (status, "changed elsewhere" in said["error"]) == (409, True)
    assert (page.folder / "stage.board").read_text(encoding="utf-8") == new
    as_new = {"file": "stage.board", "text": STAGE, "base": ""}
    assert posted(page, "/api/save", as_new)[0] == 409
    assert posted(page, "/api/save", {"file": "new one.board", "text": 'board "x"\n', "base": ""})[0] == 200
    assert sorted(p.name for p in page.folder.iterdir()) == ["new one.board", "stage.board"]
