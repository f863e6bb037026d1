"""A bench page started as a user starts it, and plain HTTP to talk to it."""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import incircuit

ROOT = Path(incircuit.__file__).absolute().parents[1]

STAGE = """board "Relay stage"
net  +12V pad=TP1
net  COIL "collector of Q1" pad=TP2
net  0V pad=TP3
net  IN pad=TP4
K1   relay     A1=+12V A2=COIL    dcr=360
D1   diode     A=COIL K=+12V      rectifier
Q1   npn       B=B1 C=COIL E=0V   small
R1   resistor  IN B1              4k7 5%
R2   resistor  B1 0V              22k 5%
C1   capacitor +12V 0V            100u 25V electrolytic
R3   resistor  +12V 0V            2k2 5%
"""
"""Made up for these tests: a relay, its diode and the transistor that drives it."""


@dataclass
class Page:
    """A running bench page."""

    folder: Path
    process: subprocess.Popen[str]
    port: int
    said: list[str] = field(default_factory=list)

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}/"

    def kill(self) -> None:
        """As if the machine had lost its power."""
        self.process.kill()
        self.process.wait(10)

    def stop(self, how: int = signal.SIGINT) -> int:
        """Interrupt it and give its exit code."""
        if self.process.poll() is None:
            self.process.send_signal(how)
        code = self.process.wait(20)
        if self.process.stdout:
            self.process.stdout.close()
        return code


def start(folder: Path, *options: str, board: str = "") -> Page:
    """Start `incircuit bench` on a folder and wait until it answers."""
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, (
        str(ROOT), os.environ.get("PYTHONPATH", "")))), "PYTHONUTF8": "1"}
    if not any(option.startswith("--port") for option in options):
        options = (*options, "--port=0")
    options = (*options, f"--results={folder / 'drill.jsonl'}")  # not where the user keeps them
    command = [sys.executable, "-P", "-m", "incircuit", "bench", str(folder / board), *options]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                               env=environment, cwd=folder)
    assert process.stdout is not None
    page = Page(folder, process, 0)
    for line in process.stdout:
        page.said.append(line.rstrip("\n"))
        if "http://127.0.0.1:" in line:
            page.port = int(line.rpartition(":")[2].strip().rstrip("/"))
        if "Ctrl-C ends" in line:
            return page
    process.stdout.close()
    process.wait(10)
    raise AssertionError("\n".join(page.said))


def ask(page: Page, method: str, path: str, body: Any = None, headers: Mapping[str, str] | None = None,
        host: str = "", raw: bytes | None = None) -> tuple[int, dict[str, str], bytes]:
    """One request with the headers a browser on the page would send; `headers` override (empty: left out)."""
    own = f"127.0.0.1:{page.port}"
    sent: dict[str, str] = {"Host": host or own}
    data = raw
    if method == "POST":
        sent |= {"Origin": f"http://{own}", "Content-Type": "application/json"}
        data = json.dumps(body).encode() if raw is None else raw
        sent["Content-Length"] = str(len(data))
    sent |= dict(headers or {})
    link = http.client.HTTPConnection("127.0.0.1", page.port, timeout=60)
    try:
        link.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in sent.items():
            if value:
                link.putheader(name, value)
        link.endheaders(data)
        answer = link.getresponse()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
    finally:
        link.close()


def posted(page: Page, path: str, body: Any) -> tuple[int, dict[str, Any]]:
    """A post from the page itself, and its JSON."""
    status, _, content = ask(page, "POST", path, body)
    found: dict[str, Any] = json.loads(content)
    return status, found


def got(page: Page, path: str) -> tuple[int, dict[str, Any]]:
    """A question from the page itself, and its JSON."""
    status, _, content = ask(page, "GET", path)
    found: dict[str, Any] = json.loads(content)
    return status, found


def worked(page: Page, kind: str, tab: str = "t", **fields: str) -> dict[str, Any]:
    """Work off the request, asked about until it is done."""
    while True:
        status, said = posted(page, "/api/work", {"kind": kind, "tab": tab, "board": "stage.board",
                                                  "readings": "stage.readings", **fields})
        assert status == 200, said
        if said["state"] not in ("working", "stale"):
            return said
