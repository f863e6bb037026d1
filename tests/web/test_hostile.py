"""What other sites, other machines and wrong requests get: refused, in a sentence, and nothing is written."""

from __future__ import annotations

import json
import os
import socket
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.web.serving import Page, ask, got, posted, worked

READING = {"board": "stage.board", "readings": "hostile.readings", "red": "IN", "black": "0V", "mode": "ohms",
           "shown": "26.7k"}


@pytest.mark.parametrize("host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.2:{port}",
                                  "localhost.evil.example:{port}", "[::1]:{port}", "127.0.0.1:1"])
def test_a_foreign_name_gets_nothing(page_server: Page, host: str) -> None:
    # DNS rebinding: the attacker's name points to this machine, and the browser sends that name
    for path in ("/", "/api/folder", "/static/main.js"):
        status, _, body = ask(page_server, "GET", path, host=host.format(port=page_server.port))
        assert status == 421
        assert b"stage" not in body


def test_localhost_is_this_machine(page_server: Page) -> None:
    assert ask(page_server, "GET", "/", host=f"LOCALHOST:{page_server.port}")[0] == 200


@pytest.mark.parametrize("headers", [
    {"Origin": "http://evil.example"}, {"Origin": "null"}, {"Origin": ""}, {"Origin": "http://127.0.0.1:1"},
    {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"},
    {"Content-Type": "text/plain"}, {"Content-Type": "application/x-www-form-urlencoded"},
    {"Content-Type": ""},
])
def test_a_post_from_another_site_writes_nothing(page_server: Page, headers: dict[str, str]) -> None:
    status, _, _ = ask(page_server, "POST", "/api/record", READING, headers)
    assert status in (403, 415)
    assert not (page_server.folder / "hostile.readings").exists()


def test_another_site_cannot_ask_either(page_server: Page) -> None:
    for headers in ({"Sec-Fetch-Site": "cross-site"}, {"Origin": "http://evil.example"}):
        assert ask(page_server, "GET", "/api/board?file=stage.board", headers=headers)[0] == 403
    assert ask(page_server, "GET", "/", headers={"Sec-Fetch-Site": "cross-site"})[0] == 200  # a followed link


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "TRACE", "PATCH"])
def test_other_methods_are_refused(page_server: Page, method: str) -> None:
    assert ask(page_server, method, "/api/record")[0] == 405


@pytest.mark.parametrize("name", [
    "../secret.board", "/etc/passwd", "..\\secret.board", "sub/x.board", ".hidden.board", ".board", "x.txt",
    "CON.board", "nul.board", "com1.x.board", "\ud800.board",
    "", "x\0.board", "a" * 200 + ".board", "link.board", "C:x.board", "x.board/", "\u202ex.board", "..",
])
def test_no_file_outside_the_folder(page_server: Page, name: str, tmp_path: Path) -> None:
    (page_server.folder.parent / "secret.board").write_text("board \"secret\"\n", encoding="utf-8")
    (tmp_path / "secret.board").write_text('board "secret"\n', encoding="utf-8")
    link = page_server.folder / "link.board"
    if not link.is_symlink():
        link.symlink_to(tmp_path / "secret.board")
    status, said = posted(page_server, "/api/save", {"file": name, "text": "board \"mine\"\n", "base": ""})
    assert status == 422, said
    status, said = posted(page_server, "/api/check", {"file": name, "text": "R1 resistor A B 1k\n"})
    assert status == 422, said
    for asked in ({**READING, "board": name}, {**READING, "readings": name}):
        status, said = posted(page_server, "/api/record", asked)
        assert status == 422, said
    assert "mine" not in (page_server.folder.parent / "secret.board").read_text(encoding="utf-8")
    assert "mine" not in (tmp_path / "secret.board").read_text(encoding="utf-8")
    assert "link.board" not in got(page_server, "/api/folder")[1]["boards"]


@pytest.mark.parametrize("include", ["../secret.board", "/etc/passwd", "sub/../../secret.board"])
def test_no_include_leads_out_of_the_folder(page_server: Page, include: str) -> None:
    (page_server.folder.parent / "secret.board").write_text("hush hush\n", encoding="utf-8")
    _, said = posted(page_server, "/api/check", {"file": "stage.board", "text": f'include "{include}"\n'})
    assert not said["sound"]
    assert [p["message"] for p in said["problems"]] == [f'"{include}" lies outside the opened folder']
    assert "hush" not in json.dumps(said)
    assert "root:" not in json.dumps(said)


@pytest.mark.parametrize("meter", ["../meter.toml", "/etc/passwd", "/dev/zero", "sub/x.toml"])
def test_no_meter_from_outside_the_folder(page_server: Page, meter: str) -> None:
    (page_server.folder.parent / "meter.toml").write_text('name = "x"\n', encoding="utf-8")
    status, said = posted(page_server, "/api/record", {"board": "stage.board", "readings": "hostile.readings",
                                                       "word": "meter", "args": [meter]})
    assert status == 422, said
    assert not (page_server.folder / "hostile.readings").exists()


@pytest.mark.parametrize("body", [
    b"", b"{", b"[]", b"null", b'"x"', b"[" * 100_000, b"\xff\xfe", b'{"board": 1}', b'{"board": ["x"]}',
    b'{"board": {"a": 1}, "readings": null}', b'{"kind": "see"}', b'{"kind": 5}',
    b'{"kind": "verdict", "tab": 1}', b'{"file": "stage.board", "text": {}}',
    b'{"pins": 3, "kind": "resistor"}', b'{"pins": [1], "kind": "diode"}',
    b'{"kind": "resistor", "words": 7, "pins": []}',
    b'{"board": "stage.board", "readings": "x.readings", "args": 3, "word": "lift"}',
    b'{"board": "stage.board", "readings": "x.readings", "word": ["lift"]}',
])
def test_nonsense_is_answered_in_a_sentence(page_server: Page, body: bytes) -> None:
    for path in ("record", "undo", "save", "check", "part", "work", "enter", "instrument"):
        status, headers, content = ask(page_server, "POST", f"/api/{path}", raw=body)
        assert status in (200, 400, 403, 409, 422), (path, status, content)
        assert headers["content-type"] == "application/json"
        assert b"Traceback" not in content


def test_large_bodies_are_refused_before_they_are_read(page_server: Page) -> None:
    endless = {"Content-Length": "9" * 30}
    assert ask(page_server, "POST", "/api/check", raw=b"x", headers=endless)[0] in (400, 413)
    assert ask(page_server, "POST", "/api/check", raw=b" " * 500_000)[0] == 413
    status, said = posted(page_server, "/api/check", {"file": "stage.board", "text": "#" * 310_000})
    assert (status, "at most" in said["error"]) == (422, True)
    with socket.create_connection(("127.0.0.1", page_server.port), 10) as link:
        own = f"127.0.0.1:{page_server.port}"
        link.sendall(f"POST /api/check HTTP/1.1\r\nHost: {own}\r\nOrigin: http://{own}\r\nContent-Type: "
                     "application/json\r\nTransfer-Encoding: chunked\r\n\r\n".encode())
        assert b" 411 " in link.recv(200)


def test_a_request_line_of_100_kilobytes_is_refused(page_server: Page) -> None:
    with socket.create_connection(("127.0.0.1", page_server.port), 10) as link:
        link.sendall(b"GET /" + b"a" * 100_000 + b" HTTP/1.1\r\n")
        assert b" 400 " in link.recv(200)
    assert ask(page_server, "GET", "/")[0] == 200


@pytest.mark.parametrize("path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py",
                                  "/static/", "/static//etc/passwd", "/nothing", "/api/nothing",
                                  "/static/bench.css/x"])
def test_static_files_are_those_of_the_page(page_server: Page, path: str) -> None:
    status, _, body = ask(page_server, "GET", path)
    assert status == 404
    assert b"import" not in body


def test_every_answer_holds_the_page_in(page_server: Page) -> None:
    for path in ("/", "/enter", "/static/main.js", "/api/folder", "/nothing"):
        headers = ask(page_server, "GET", path)[1]
        policy = headers["content-security-policy"]
        assert policy.startswith("default-src 'none'; script-src 'self'; style-src 'self'")
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["x-frame-options"] == "DENY"
        assert "server" not in headers


def test_it_listens_on_this_machine_only(page_server: Page) -> None:
    others = {info[4][0] for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)}
    others = {ip for ip in others if not str(ip).startswith("127.")}
    if not others:
        pytest.skip("this machine has no other address")
    for ip in others:
        with pytest.raises(OSError, match="refused"), socket.create_connection((ip, page_server.port), 3):
            pass


def test_a_shared_page_wants_the_code_and_takes_it_once(bench: Callable[..., Page]) -> None:
    page = bench("--share")
    code = next(line for line in page.said if line.startswith("code")).rpartition(": ")[2]
    assert ask(page, "GET", "/api/folder")[0] == 401
    assert ask(page, "GET", "/api/folder", headers={"Cookie": f"bench-{page.port}=guess"})[0] == 401
    status, headers, _ = ask(page, "GET", "/")
    assert (status, headers["location"]) == (303, "/enter")
    assert ask(page, "GET", "/enter")[0] == 200
    assert posted(page, "/api/enter", {"code": "00000000"})[0] == 403
    status, headers, _ = ask(page, "POST", "/api/enter", {"code": code})
    assert status == 200
    assert "HttpOnly" in headers["set-cookie"]
    assert "samesite=strict" in headers["set-cookie"].lower()
    cookie = headers["set-cookie"].partition(";")[0]
    assert ask(page, "GET", "/api/folder", headers={"Cookie": cookie})[0] == 200
    assert ask(page, "POST", "/api/enter", {"code": code})[0] == 403  # used up


def test_a_page_kept_for_oneself_has_no_code(page_server: Page) -> None:
    assert not any("code" in line for line in page_server.said)
    assert f"  http://127.0.0.1:{page_server.port}/" in page_server.said


def test_a_file_called_like_a_module_is_not_run(bench: Callable[..., Page], tmp_path: Path) -> None:
    # a folder from a stranger: its json.py must not be taken for Python's own by a worker
    for name in ("json", "numpy", "asyncio"):
        (tmp_path / f"{name}.py").write_text(f"open({str(tmp_path / 'ran')!r}, 'w')\n", encoding="utf-8")
    assert worked(bench(), "verdict")["state"] == "done"
    assert not (tmp_path / "ran").exists()


def test_half_requests_do_not_keep_others_out(bench: Callable[..., Page]) -> None:
    page = bench()
    halves = []
    for _ in range(320):  # more than are let in at a time
        halves.append(socket.create_connection(("127.0.0.1", page.port), 10))
        halves[-1].sendall(b"GET / HTTP/1.1\r\nHost: x")
    deadline = time.monotonic() + 60.0
    while ask(page, "GET", "/api/folder")[0] != 200:
        assert time.monotonic() < deadline
        time.sleep(0.5)
    for half in halves:
        half.close()


@pytest.mark.parametrize("content", [
    b"\x89PNG\r\n\x1a\n\x00\x00", "IN 0V ohms 1k\n".encode("utf-16"), b"dear diary\n", b"#" * 8_100_000, None,
])
def test_what_is_no_readings_file_is_left_alone(page_server: Page, content: bytes | None) -> None:
    file = page_server.folder / "hostile.readings"
    if content is None:
        os.mkfifo(file)  # to open it would wait for ever
    else:
        file.write_bytes(content)
    try:
        status, said = posted(page_server, "/api/record", READING)
        assert status == 422
        assert said["error"].startswith("hostile.readings:")  # no path
        assert got(page_server, "/api/story?board=stage.board&readings=hostile.readings")[1]["problems"]
        assert content is None or file.read_bytes() == content
    finally:
        file.unlink()
