"""Documents to print: served with a policy that lets through their own style and nothing else."""

from __future__ import annotations

import base64
import hashlib
import re
from html import escape
from typing import Any

from starlette.responses import HTMLResponse

from incircuit.web.guard import PAPER

_FRAME = ('<!doctype html><html lang="en"><head><meta charset="utf-8"><title>{title}</title>{more}'
          '<link rel="stylesheet" href="/static/bench.css"></head><body><main><h1>{title}</h1><p>{text}</p>'
          "</main></body></html>")


def document(said: dict[str, Any], status: int) -> HTMLResponse:
    """The document, or a page that asks again by itself while it is being written, or what is wrong."""
    if said.get("state") == "done":
        html = str(said["result"]["html"])
        return HTMLResponse(html, headers={"content-security-policy": PAPER.format(styles=_styles(html))})
    if said.get("state") in ("working", "stale"):
        share = f" {100 * said['done'] // said['of']} %" if said.get("of") else ""
        return HTMLResponse(_FRAME.format(title="Being written", text=f"A moment, please.{share}",
                                          more='<meta http-equiv="refresh" content="1">'))
    wrong = said.get("message") or said.get("error") or "refused"
    return HTMLResponse(_FRAME.format(title="No document", text=escape(str(wrong)), more=""),
                        status if status != 200 else 422)


def _styles(html: str) -> str:
    found = re.findall(r"<style>(.*?)</style>", html, re.DOTALL)
    hashes = [base64.b64encode(hashlib.sha256(each.encode()).digest()).decode() for each in found]
    return " ".join(f"'sha256-{each}'" for each in hashes) or "'none'"
