"""Connections that ask for nothing, or byte by byte, are closed: they would stand in the way of others."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

SLOWEST = 10.0
"""[s] from the first byte of a request until it has been sent whole."""
SILENT = 30.0
"""[s] before that: browsers open connections ahead of need."""


class PatientProtocol(H11Protocol):
    """HTTP as uvicorn speaks it, with an end to waiting for a request; it has one only after an answer."""

    late: asyncio.TimerHandle | None = None
    begun = False  # a request that has not been sent whole

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait."""
        super().connection_made(transport)
        self._wait(SILENT)

    def data_received(self, data: bytes) -> None:
        """Wait on, or no longer where the request is there."""
        before = self.begun
        super().data_received(data)
        self.begun = self.conn.their_state in (h11.IDLE, h11.SEND_BODY)
        if not (before and self.begun):
            self._rest()
        if self.begun and not before:
            self._wait(SLOWEST)

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody to wait for."""
        self._rest()
        super().connection_lost(exc)

    def _wait(self, seconds: float) -> None:
        self.late = self.loop.call_later(seconds, self.transport.abort)

    def _rest(self) -> None:
        if self.late is not None:
            self.late.cancel()
            self.late = None
