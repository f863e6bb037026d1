"""Who may ask: Host and Origin checks, size limits, the code of a shared page; headers that hold a page in.

Against DNS rebinding the Host must be the very address the connection came to. Against posts from other
sites a post needs this page's own Origin and a JSON body, which no form can send.
"""

from __future__ import annotations

from http.cookies import CookieError, SimpleCookie
from ipaddress import ip_address

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from incircuit.web.entry import Entry

LARGEST = 400_000
"""Bytes of a request's body: a neighbourhood is a few thousand, a whole board file some ten thousand."""

POLICY = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
          "base-uri 'none'; form-action 'none'; frame-ancestors 'none'")
PAPER = "default-src 'none'; style-src {styles}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
"""For documents that bring their own style: those very styles, by their hashes."""
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
    "cache-control": "no-store",
}
OPEN = ("/enter", "/api/enter", "/static/")
"""What a device may have before its code was entered."""


class Guard:
    """Stands before the app and lets through what may pass."""

    def __init__(self, app: ASGIApp, entry: Entry | None = None) -> None:
        self.app, self.entry = app, entry

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it in a sentence."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return
        headers = Headers(scope=scope)
        refused = _refused(scope, headers) or self._stranger(scope, headers)
        await (refused or self.app)(scope, receive, _with_headers(send))

    def _stranger(self, scope: Scope, headers: Headers) -> Response | None:
        """What a device gets that has not entered the code."""
        path = scope["path"]
        if self.entry is None or any(path == p or (p[-1] == "/" and path.startswith(p)) for p in OPEN):
            return None
        if self.entry.knows(token_of(headers, scope)):
            return None
        if path == "/":
            return RedirectResponse("/enter", 303)
        return _no(401, "enter the code that the terminal shows")


def cookie_name(scope: Scope) -> str:
    """Cookies do not tell ports apart, so the name does."""
    return f"bench-{(scope.get('server') or ('', 0))[1]}"


def token_of(headers: Headers, scope: Scope) -> str:
    """The token a device shows, empty for none."""
    cookies: SimpleCookie = SimpleCookie()
    try:
        cookies.load(headers.get("cookie", ""))
    except CookieError:
        return ""
    found = cookies.get(cookie_name(scope))
    return found.value if found else ""


def _refused(scope: Scope, headers: Headers) -> Response | None:
    method, path = scope["method"], scope["path"]
    hosts = headers.getlist("host")
    if len(hosts) != 1 or hosts[0].lower() not in _own_names(scope):
        return _no(421, "this page answers only under the address the terminal shows")
    if method not in ("GET", "HEAD", "POST"):
        return _no(405, "only GET and POST")
    site = headers.get("sec-fetch-site", "")
    if path != "/" and site not in ("", "same-origin", "none"):
        return _no(403, "asked by another site")
    origin = headers.get("origin")
    own = f"http://{hosts[0].lower()}"
    if origin is not None and origin.lower() != own:
        return _no(403, "asked by another site")
    return _refused_post(headers, origin) if method == "POST" else None


def _refused_post(headers: Headers, origin: str | None) -> Response | None:
    if origin is None:
        return _no(403, "a post needs its Origin")
    if headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        return _no(415, "a post is JSON")
    length = headers.get("content-length", "")
    if not (length.isascii() and length.isdigit()):
        return _no(411, "a post says how long it is")
    if len(length) > 12 or int(length) > LARGEST:
        return _no(413, f"too large: at most {LARGEST:,} bytes")
    return None


def _own_names(scope: Scope) -> set[str]:
    """Host headers that mean this server: the address the connection came to, or localhost."""
    address, port = scope.get("server") or ("", 0)
    try:
        ip = ip_address(address)
    except ValueError:
        return set()
    names = [f"[{ip}]" if ip.version == 6 else str(ip)]
    if ip.is_loopback:
        names.append("localhost")
    found = {f"{name}:{port}" for name in names}
    return found | set(names) if port == 80 else found


def _no(status: int, why: str) -> Response:
    return JSONResponse({"error": why}, status)


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sending
