"""The code of a shared page: good once, guessed never, and the address must be the one that was called."""

from __future__ import annotations

import socket
from collections.abc import Callable

from incircuit.web.entry import DEVICES, PAUSE, TRIES, Entry
from tests.web.serving import Page


def test_a_code_is_good_once_and_guessing_closes_the_door() -> None:
    said: list[str] = []
    now = [0.0]
    entry = Entry(said.append, clock=lambda: now[0])
    first = entry.code
    token = entry.admit(f" {first[:4]}-{first[4:]} ")
    assert token
    assert entry.knows(token)
    assert entry.code != first
    assert entry.admit(first) is None
    for _ in range(TRIES - 1):
        assert entry.admit("no") is None
    assert entry.admit(entry.code) is None  # closed, the right code too
    now[0] += PAUSE
    assert entry.admit(entry.code)
    assert len(said) == 4  # the first, after each use, after the guesses
    assert not entry.knows("")
    assert not entry.knows("ä")


def test_the_device_that_came_first_makes_room() -> None:
    entry = Entry(lambda _: None)
    tokens = [entry.admit(entry.code) or "" for _ in range(DEVICES + 1)]
    assert not entry.knows(tokens[0])
    assert all(entry.knows(token) for token in tokens[1:])


def test_the_name_must_be_the_address_that_was_called(bench: Callable[..., Page]) -> None:
    page = bench("--share")  # reachable under every address of the machine

    def asked(address: str, host: str) -> bytes:
        with socket.create_connection((address, page.port), 10) as link:
            link.sendall(f"GET /enter HTTP/1.1\r\nHost: {host}:{page.port}\r\n\r\n".encode())
            return link.recv(100)

    assert b" 200 " in asked("127.0.0.2", "127.0.0.2")
    assert b" 421 " in asked("127.0.0.2", "127.0.0.1")
    assert b" 421 " in asked("127.0.0.1", "0.0.0.0")
    assert b" 421 " in asked("127.0.0.1", "rebound.example")
