"""Who may use a bench page that other machines can reach: a code shown in the terminal, good once."""

from __future__ import annotations

import hmac
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field

DIGITS = 8
TRIES = 5
"""Wrong codes before the code is changed and nobody is let in for `PAUSE` seconds …"""
PAUSE = 30.0
"""[s] … so that guessing all day finds the code once in 7,000 days."""
DEVICES = 32
"""Devices let in at a time; the one that came first has to enter a new code."""


@dataclass(slots=True)
class Entry:
    """The code that is valid now, and the devices that were let in."""

    say: Callable[[str], None]
    clock: Callable[[], float] = time.monotonic
    code: str = ""
    wrong: int = 0
    closed_until: float = 0.0
    devices: dict[str, None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Begin with a code."""
        self.renew()

    def renew(self) -> None:
        """Another code, shown in the terminal."""
        self.code = "".join(secrets.choice("0123456789") for _ in range(DIGITS))
        self.wrong = 0
        self.say(f"code for the next device: {self.code[:4]} {self.code[4:]}")

    def admit(self, typed: str) -> str | None:
        """The device's token for the right code, which is used up; None for a wrong one, or while closed."""
        if self.clock() < self.closed_until:
            return None
        digits = "".join(c for c in typed if c in "0123456789")
        if not hmac.compare_digest(digits, self.code):
            self.wrong += 1
            if self.wrong >= TRIES:
                self.closed_until = self.clock() + PAUSE
                self.renew()
            return None
        token = secrets.token_urlsafe(32)
        self.devices[token] = None
        while len(self.devices) > DEVICES:
            self.devices.pop(next(iter(self.devices)))
        self.renew()
        return token

    def knows(self, token: str) -> bool:
        """Whether a device was let in."""
        return any(hmac.compare_digest(token.encode(), known.encode()) for known in self.devices)
