"""Connections that ask for nothing, or byte by byte, are closed: they would stand in the way of others."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

SLOWEST = 10.0
"""[s] from the first moment of a request, or of a connection, until the request has been sent whole."""


class PatientProtocol(H11Protocol):
    """HTTP as uvicorn speaks it, with an end to waiting for a request; it has one only after an answer."""

    late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait."""
        super().connection_made(transport)
        self._wait()

    def data_received(self, data: bytes) -> None:
        """Wait on, or no longer where the request is there."""
        super().data_received(data)
        if self.conn.their_state not in (h11.IDLE, h11.SEND_BODY):
            self._rest()
        elif self.late is None:
            self._wait()

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody to wait for."""
        self._rest()
        super().connection_lost(exc)

    def _wait(self) -> None:
        self.late = self.loop.call_later(SLOWEST, self.transport.abort)

    def _rest(self) -> None:
        if self.late is not None:
            self.late.cancel()
            self.late = None
