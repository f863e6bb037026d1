"""What the page asks for, and who answers: text and story at once, electronics by the crew."""

from __future__ import annotations

import asyncio
import json
import os
import re
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

import incircuit
from incircuit.errors import BoardError, ChangedError, FolderError, IncircuitError, MeterError
from incircuit.web import bench, boardtext, folder, papers
from incircuit.web.crew import Crew
from incircuit.web.entry import Entry
from incircuit.web.guard import Guard, cookie_name
from incircuit.web.instrument import Instrument

STATIC = Path(__file__).parent / "static"
PATIENCE = 0.8
"""[s] a question about running work waits before it says how far the work is."""
FIELDS = {
    "see": ("board", "readings", "red", "black", "mode", "part"),
    "drill": ("level", "seed", "lines", "played"),
    "report": ("board", "readings", "good"),
    "paper": ("board", "readings"),
    "ready": ("board", "readings", "good", "red", "black", "mode"),
    "figures": ("board", "readings", "red", "black", "mode"),
    "verdict": ("board", "readings", "good"),
    "next": ("board", "readings"),
    "worksheet": ("board", "readings"),
    "charge": ("board",),
    "powerup": ("board", "readings"),
    "drawing": ("board", "readings", "red", "black", "mode", "marks", "shown", "text"),
}
"""What each kind of work is told."""
LONG = {"text": boardtext.LONGEST, "marks": 2000, "shown": 2000, "lines": 60_000}
Ask = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Opened:
    """What the page is opened on: a folder, the board asked for (empty: none), a meter that can be asked, and
    the file that results of drills are kept in (empty: none)."""

    folder: str
    board: str
    shared: bool
    instrument: Instrument | None = None
    results: str = ""


def make_app(opened: Opened, entry: Entry | None = None) -> Starlette:
    """The application. `entry` where other machines may reach it."""
    crew = Crew(opened.folder)

    @asynccontextmanager
    async def working(_: Starlette) -> AsyncIterator[None]:
        await crew.start()
        try:
            yield
        finally:
            await crew.stop()

    app = Starlette(routes=[
        Route("/", _page("bench.html")),
        Route("/enter", _page("enter.html")),
        Route("/report", _document("report")),
        Route("/paper", _document("paper")),
        Route("/api/enter", _post(_enter), methods=["POST"]),
        Route("/api/folder", _get(_folder)),
        Route("/api/kinds", _get(_kinds)),
        Route("/api/board", _get(_board)),
        Route("/api/save", _post(_save), methods=["POST"]),
        Route("/api/check", _post(_check), methods=["POST"]),
        Route("/api/part", _post(_part), methods=["POST"]),
        Route("/api/story", _get(_story)),
        Route("/api/record", _post(_record), methods=["POST"]),
        Route("/api/undo", _post(_undo), methods=["POST"]),
        Route("/api/instrument", _post(_instrument), methods=["POST"]),
        Route("/api/work", _post(_work), methods=["POST"]),
        Mount("/static", StaticFiles(directory=STATIC)),
    ], middleware=[Middleware(Guard, entry=entry)], lifespan=working,
        exception_handlers={HTTPException: _plain, Exception: _fault})
    app.state.opened, app.state.crew, app.state.entry = opened, crew, entry
    app.state.writing = asyncio.Lock()
    return app


def _page(name: str) -> Callable[[Request], Any]:
    async def page(_: Request) -> Response:
        return FileResponse(STATIC / name, media_type="text/html")

    return page


def _get(answer: Callable[[Request, Ask], Any]) -> Callable[[Request], Any]:
    async def handler(request: Request) -> Response:
        return await _answered(answer, request, dict(request.query_params))

    return handler


def _post(answer: Callable[[Request, Ask], Any]) -> Callable[[Request], Any]:
    async def handler(request: Request) -> Response:
        try:
            ask = json.loads(await request.body())
        except (ValueError, RecursionError, ClientDisconnect):
            return JSONResponse({"error": "this is not JSON"}, 400)
        if not isinstance(ask, dict):
            return JSONResponse({"error": "a question is a JSON object"}, 400)
        return await _answered(answer, request, ask)

    return handler


def _document(kind: str) -> Callable[[Request], Any]:
    async def document(request: Request) -> Response:
        ask = {**request.query_params, "kind": kind, "tab": "document"}
        said = await _answered(_work, request, ask)
        return papers.document(json.loads(bytes(said.body)), said.status_code)

    return document


async def _answered(answer: Callable[[Request, Ask], Any], request: Request, ask: Ask) -> Response:
    try:
        found = await answer(request, ask)
        return found if isinstance(found, Response) else JSONResponse(found)
    except ChangedError as error:
        return JSONResponse({"error": str(error)}, 409)
    except BoardError as error:
        name = str(ask.get("board") or ask.get("file") or "")
        return JSONResponse({"error": "the board file has errors: mend them under Describe",
                             "problems": [boardtext.problem_json(p, name) for p in error.problems]}, 422)
    except IncircuitError as error:
        return JSONResponse({"error": folder.short(str(error), _here(request))}, 422)
    except (TypeError, AttributeError, ValueError) as error:
        return JSONResponse({"error": f"a question of the wrong shape: {type(error).__name__}"}, 400)


async def _plain(_: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    return JSONResponse({"error": "there is no such page" if status == 404 else "refused"}, status)


async def _fault(_: Request, error: Exception) -> Response:
    return JSONResponse({"error": f"a fault of this program, please report it: {type(error).__name__}"}, 500)


def _here(request: Request) -> str:
    opened: Opened = request.app.state.opened
    return opened.folder


def _text(ask: Ask, name: str, most: int = 400) -> str:
    """A field of a question. Raises FolderError where it is no text, too long, or half a character."""
    value = ask.get(name, "")
    if not isinstance(value, str) or len(value) > most or re.search("[\ud800-\udfff]", value):
        raise FolderError(f"{name} must be a text of at most {most:,} characters")
    return value


async def _enter(request: Request, ask: Ask) -> Response:
    entry: Entry | None = request.app.state.entry
    token = entry.admit(_text(ask, "code")) if entry else ""
    if token is None:
        await asyncio.sleep(0.5)
        return JSONResponse({"error": "that is not the code the terminal shows now"}, 403)
    response = JSONResponse({"entered": True})
    response.set_cookie(cookie_name(request.scope), token, httponly=True, samesite="strict", path="/")
    return response


async def _folder(request: Request, _: Ask) -> Ask:
    opened: Opened = request.app.state.opened
    boards, readings, meters = await asyncio.to_thread(
        lambda: [folder.files_of(opened.folder, kind) for kind in ("board", "readings", "meter")])
    return {"folder": os.path.basename(opened.folder) or opened.folder, "boards": boards, "meters": meters,
            "readings": readings, "open": opened.board, "shared": opened.shared,
            "version": incircuit.__version__,
            "instrument": opened.instrument.name if opened.instrument else ""}


async def _kinds(_: Request, __: Ask) -> Ask:
    from incircuit.meter.profile import shipped_meters
    from incircuit.starts import starting_points

    return {"kinds": boardtext.kinds_json(), "meters": list(shipped_meters()),
            "starts": [{"name": p.name, "line": p.line, "text": p.text} for p in starting_points()]}


async def _board(request: Request, ask: Ask) -> Ask:
    def look() -> Ask:
        found = folder.read_board_text(here, name)
        return {"text": found.text, "digest": found.digest, **boardtext.checked(here, name, found.text)}

    here, name = _here(request), _text(ask, "file")
    return await asyncio.to_thread(look)


async def _check(request: Request, ask: Ask) -> Ask:
    name, text = _text(ask, "file"), _text(ask, "text", boardtext.LONGEST)
    return await asyncio.to_thread(boardtext.checked, _here(request), name, text)


async def _save(request: Request, ask: Ask) -> Ask:
    name, text, base = _text(ask, "file"), _text(ask, "text", boardtext.LONGEST), _text(ask, "base")
    async with request.app.state.writing:
        digest = await asyncio.to_thread(folder.write_board_text, _here(request), name, text, base)
    return {"digest": digest, **await asyncio.to_thread(boardtext.checked, _here(request), name, text)}


async def _part(_: Request, ask: Ask) -> Ask:
    return boardtext.part_line(ask)


async def _story(request: Request, ask: Ask) -> Ask:
    board, readings = _text(ask, "board"), _text(ask, "readings")
    known, good = _text(ask, "known"), _text(ask, "good")
    return await asyncio.to_thread(_story_now, _here(request), board, readings, known, good)


def _story_now(here: str, board: str, readings: str, known: str, good: str) -> Ask:
    """The story, or only that nothing has changed since `known`, nor in the readings of the `good` board."""
    file = folder.path_in(here, board, "board")
    stand = folder.stand_of(here)
    digests = [folder.digest_at(folder.path_in(here, name, "readings")) for name in (readings, good) if name]
    version = " ".join([stand, *digests])
    if known and known == version:
        return {"version": version, "same": True}
    read = boardtext.board_in(here, board)
    return {"version": version, "stand": stand, "board_digest": folder.digest_at(file),
            "board": boardtext.board_json(read), **bench.story_json(here, read, readings)}


async def _record(request: Request, ask: Ask) -> Ask:
    """One line more. With a `tab` its verdict is begun as soon as the line is on the disk."""
    def write() -> str:
        return bench.record(here, boardtext.board_in(here, board), readings, bench.line_of(ask))

    here, board, readings = _here(request), _text(ask, "board"), _text(ask, "readings")
    good, tab = _text(ask, "good"), _text(ask, "tab", 60)
    async with request.app.state.writing:
        stored = await asyncio.to_thread(write)
    try:
        if tab:
            request.app.state.crew.begin("verdict", await _task(request, "verdict", ask), tab)
        story = await asyncio.to_thread(_story_now, here, board, readings, "", good)
    except IncircuitError:  # the line is stored all the same; the page asks for the story again and is told
        story = {"same": True}
    return {"stored": stored, **story}


async def _undo(request: Request, ask: Ask) -> Ask:
    def back() -> Ask:
        taken = bench.take_back(here, boardtext.board_in(here, board), readings, line)
        return {"taken": taken, **_story_now(here, board, readings, "", good)}

    here, board, readings = _here(request), _text(ask, "board"), _text(ask, "readings")
    good = _text(ask, "good")
    line = _text(ask, "line", 4000)
    async with request.app.state.writing:
        return await asyncio.to_thread(back)


async def _instrument(request: Request, ask: Ask) -> Ask:
    meter: Instrument | None = request.app.state.opened.instrument
    if meter is None:
        raise MeterError("no meter is connected: start the page with --instrument")
    return {"shown": await asyncio.to_thread(meter.read, _text(ask, "mode", 20))}


def _stand(here: str, paths: list[str]) -> str:
    return " ".join([folder.stand_of(here), *(folder.digest_at(path) for path in paths)])


async def _work(request: Request, ask: Ask) -> Ask:
    kind, tab = _text(ask, "kind", 20), _text(ask, "tab", 60)
    if kind not in FIELDS:
        raise FolderError(f'"{kind}" is no kind of work')
    crew: Crew = request.app.state.crew
    return await crew.ask(kind, await _task(request, kind, ask), tab, PATIENCE)


async def _task(request: Request, kind: str, ask: Ask) -> dict[str, str]:
    """What a worker is told, with digests of the files it is about: no answer is one to an older text."""
    here = _here(request)
    task = {name: _text(ask, name, LONG.get(name, 400)) for name in FIELDS[kind]}
    if "board" in task:
        named = [task[name] for name in ("readings", "good") if task.get(name)]
        paths = [folder.path_in(here, name, "readings") for name in named]
        task["stand"] = await asyncio.to_thread(_stand, here, paths)
    if kind == "drill":
        task["results"] = request.app.state.opened.results
    return task
