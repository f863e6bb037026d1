"""From a folder to a page that is being served: sockets, addresses, a clean end."""

from __future__ import annotations

import os
import socket
from collections.abc import Callable
from pathlib import Path
from typing import Any

import uvicorn

from incircuit.errors import FolderError
from incircuit.web.app import Opened, make_app
from incircuit.web.entry import Entry
from incircuit.web.patience import PatientProtocol

PORT = 8417
"""Where no port is asked for: always the same, so that a bookmark and a kept draft find their page again."""
Say = Callable[[str], None]


def opened_on(path: str, shared: bool) -> Opened:
    """What the page is opened on: a folder, or a board file and the folder it lies in. Raises FolderError."""
    try:
        target = Path(path or os.curdir).resolve()
        is_folder = target.is_dir()
    except (OSError, ValueError):
        raise FolderError(f"{path!r} is neither a folder nor a board file") from None
    if is_folder:
        return Opened(str(target), "", shared)
    if target.suffix != ".board":
        raise FolderError(f"{path}: neither a folder nor a file that ends in .board")
    if not target.parent.is_dir():
        raise FolderError(f"{path}: there is no folder {target.parent}")
    return Opened(str(target.parent), target.name, shared)


def listen(port: int | None, shared: bool) -> socket.socket:
    """A listening socket: on this machine only, or with `shared` on the local network.

    Without a port the usual one, or any free one where that is taken. Raises FolderError.
    """
    host = "0.0.0.0" if shared else "127.0.0.1"
    wanted = (port,) if port is not None else (PORT, 0)
    for k, number in enumerate(wanted):
        sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name != "nt":  # there it would let two servers have one port
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            sock.bind((host, number))
            sock.listen(128)
            sock.setblocking(False)
        except (OSError, OverflowError) as error:
            sock.close()
            if k == len(wanted) - 1:
                reason = (getattr(error, "strerror", None) or str(error)).lower()
                raise FolderError(f"--port {number}: {reason}; name another port") from None
        else:
            return sock
    raise AssertionError("a port is free or refused")


def addresses(port: int, shared: bool) -> tuple[str, ...]:
    """Addresses under which the page answers, for people to type."""
    if not shared:
        return (f"http://127.0.0.1:{port}/",)
    return tuple(f"http://{ip}:{port}/" for ip in (_network_address(), "127.0.0.1") if ip)


def _network_address() -> str:
    """This machine's address on the network it would use to reach others; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for documentation, RFC 5737
            found: str = probe.getsockname()[0]
        except OSError:
            return ""
    return "" if found.startswith("127.") else found


class Server(uvicorn.Server):
    """Calls back once it answers."""

    ready: Callable[[], None] | None = None

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then say so."""
        await super().startup(sockets)
        if self.started and self.ready:
            self.ready()


def serve(opened: Opened, sock: socket.socket, say: Say, ready: Callable[[], None] | None = None) -> None:
    """Serve until interrupted; raises KeyboardInterrupt then, everything being closed."""
    app: Any = make_app(opened, Entry(say) if opened.shared else None)
    config = uvicorn.Config(app, log_level="critical", access_log=False, server_header=False, ws="none",
                            http=PatientProtocol, proxy_headers=False, timeout_graceful_shutdown=2,
                            limit_concurrency=300, timeout_keep_alive=20)
    server = Server(config)
    server.ready = ready
    server.run(sockets=[sock])
