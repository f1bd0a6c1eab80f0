"""The server of the page: one job file, one packet, any number of tabs."""

from __future__ import annotations

import asyncio
import contextlib
import json
import math
import secrets
import socket
from collections.abc import AsyncIterator, Callable
from importlib.resources import files
from pathlib import Path
from types import FrameType
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, PlainTextResponse, Response, StreamingResponse
from starlette.routing import Route

from layout.errors import LayoutError
from layout.job.form import form
from layout.job.rewrite import Change
from layout.page.background import Planning, Sketcher
from layout.page.document import Document, Refused
from layout.page.guard import PACKET_POLICY, Guard, TooLarge
from layout.page.reading import reading

LOOKS = 1.0
"""How often the file on disk is looked at [seconds]."""
MOST_CHANGES = 2_000
"""Most changes in one request."""
MOST_WORDS = 200
"""Longest label or name of a session [characters]."""
MOST_TABS = 20
"""Most tabs that are told of what happens."""
TYPES = {".html": "text/html", ".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}


class Session:
    """What the server knows: the document, the latest answer, and a plan if there is one.

    Parameters
    ----------
    document
        The opened job file.
    folder
        Where its packet goes.
    """

    def __init__(self, document: Document, folder: Path) -> None:
        self.document, self.folder = document, folder
        self.answer: dict[str, Any] = {}
        self.answered = 0
        self.planning: Planning | None = None
        self.packet_revision = 0
        self._sketcher = Sketcher()
        self._read: tuple[int, dict[str, Any]] = (0, {})
        self._tabs: set[asyncio.Event] = set()
        self._changed = asyncio.Event()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._tasks: list[asyncio.Task[None]] = []
        self._leaving = False

    @contextlib.asynccontextmanager
    async def lifespan(self, app: Starlette) -> AsyncIterator[None]:
        """Answer and watch while the server runs."""
        self._loop = asyncio.get_running_loop()
        self._tasks = [asyncio.create_task(self._answering()), asyncio.create_task(self._watching())]
        self._changed.set()
        try:
            yield
        finally:
            for task in self._tasks:
                task.cancel()
            if self.planning is not None:
                self.planning.end()
            self._sketcher.end()

    def leave(self) -> None:
        """Wake every waiting tab, since the server is about to end."""
        self._leaving = True
        self.tell()

    def tell(self) -> None:
        """Tell every tab that something is new; may be called from any thread."""
        def wake() -> None:
            for tab in self._tabs:
                tab.set()

        if self._loop is not None:
            self._loop.call_soon_threadsafe(wake)

    async def _answering(self) -> None:
        """Answer the latest state, again and again."""
        while True:
            await self._changed.wait()
            self._changed.clear()
            revision, text, plain = self.document.now()
            found = await asyncio.to_thread(self._sketcher.ask, text, str(self.document.path), plain,
                                            lambda: self.document.revision != revision)
            if found is not None:
                self.answer, self.answered = found, revision
                self.tell()

    async def _watching(self) -> None:
        """Look at the file on disk now and then."""
        while True:
            await asyncio.sleep(LOOKS)
            if await asyncio.to_thread(self.document.look):
                self.moved_on()

    def moved_on(self) -> None:
        """The document changed: ask for an answer, and tell the tabs."""
        self._changed.set()
        self.tell()

    # what the tabs are told

    def state(self) -> dict[str, Any]:
        """Return all that a tab shows of the document."""
        document = self.document
        revision, text, plain = document.now()
        if self._read[0] != revision:
            self._read = (revision, {"job": _finite(plain), **reading(text, document.path.name, plain)})
        return {**self._read[1], **self.status(), "revision": revision}

    def status(self) -> dict[str, Any]:
        """Return what changes without the document, and its number."""
        document, planning = self.document, self.planning
        return {
            "revision": document.revision, "file": document.path.name, "folder": str(document.path.parent),
            "undoes": document.undoes, "redoes": document.redoes, "trouble": document.trouble,
            "told": list(document.told), "answered": self.answered, "packet": self.folder.name,
            "planned": self.packet_revision,
            "planning": None if planning is None else {
                "revision": planning.revision, "running": planning.running, "words": planning.words,
                "lines": planning.lines, "trouble": planning.trouble},
        }

    # what the tabs ask

    async def get_state(self, request: Request) -> Response:
        """The document and all about it."""
        return _json(await asyncio.to_thread(self.state))

    async def get_form(self, request: Request) -> Response:
        """The fields that a job has."""
        return _json(form())

    async def get_answer(self, request: Request) -> Response:
        """The latest quick answer, its drawings left out."""
        drawings = self.answer.get("drawings", {})
        words = {key: {"title": made["title"], "drops": made["drops"]} for key, made in drawings.items()}
        return _json({**self.answer, "drawings": words, "revision": self.answered})

    async def get_drawing(self, request: Request) -> Response:
        """One drawing of the latest quick answer."""
        key = f"{request.path_params['run']}/{request.path_params['face']}"
        made = self.answer.get("drawings", {}).get(key)
        return _json({**made, "revision": self.answered}) if made else PlainTextResponse("no such drawing", 404)

    async def get_events(self, request: Request) -> Response:
        """Tell a tab whenever something is new, as long as it is open."""
        if len(self._tabs) >= MOST_TABS:
            return PlainTextResponse("too many tabs", 503)
        return StreamingResponse(self._events(), media_type="text/event-stream")

    async def _events(self) -> AsyncIterator[bytes]:
        mine = asyncio.Event()
        self._tabs.add(mine)
        try:
            while not self._leaving:
                mine.clear()
                yield b"data: " + json.dumps(self.status()).encode() + b"\n\n"
                with contextlib.suppress(TimeoutError):
                    await asyncio.wait_for(mine.wait(), 15)
        finally:
            self._tabs.discard(mine)

    async def post_edit(self, request: Request) -> Response:
        """Change the document."""
        try:
            told = await _told(request)
            base, changes, label, session = _changes(told)
        except TooLarge:
            return PlainTextResponse("the request is too large", 413)
        except (KeyError, TypeError, ValueError):
            return PlainTextResponse("not a change", 400)
        return await self._doing(lambda: self.document.edit(base, changes, label=label, session=session))

    async def post_undo(self, request: Request) -> Response:
        """Go back one state."""
        return await self._doing(self.document.undo)

    async def post_redo(self, request: Request) -> Response:
        """Go forward one state."""
        return await self._doing(self.document.redo)

    async def post_overwrite(self, request: Request) -> Response:
        """Write over a file on disk that cannot be read."""
        return await self._doing(self.document.overwrite)

    async def _doing(self, do: Callable[[], None]) -> Response:
        """Do something to the document and return what it then is."""
        refused: dict[str, Any] = {}
        try:
            await asyncio.to_thread(do)
        except Refused as error:
            refused = {"refused": {"why": str(error), "paths": [list(path) for path in error.paths]}}
        except LayoutError as error:
            refused = {"refused": {"why": str(error), "paths": []}}
        self.moved_on()
        return _json({**await asyncio.to_thread(self.state), **refused})

    async def post_plan(self, request: Request) -> Response:
        """Plan the document as it is and write its packet."""
        if self.planning is not None and self.planning.running:
            return _json(self.status())
        revision, text, _ = self.document.now()
        planning = self.planning = Planning(revision)
        file = str(self.document.path)

        async def run() -> None:
            await asyncio.to_thread(planning.run, text, file, self.folder, self.tell)
            if planning.lines:
                self.packet_revision = planning.revision
            self.tell()

        self._tasks.append(asyncio.create_task(run()))
        return _json(self.status())

    async def post_stop(self, request: Request) -> Response:
        """Take the best plan so far."""
        if self.planning is not None:
            self.planning.stop()
        return _json(self.status())

    async def get_packet(self, request: Request) -> Response:
        """A file of the packet that was written here."""
        place = (self.folder / request.path_params["name"]).resolve()
        if not self.packet_revision or not place.is_relative_to(self.folder.resolve()) or not place.is_file():
            return PlainTextResponse("there is no such file in a packet written here", 404)
        return FileResponse(place, headers={"content-security-policy": PACKET_POLICY.decode()})

    def app(self) -> Starlette:
        """Return the application."""
        return Starlette(lifespan=self.lifespan, routes=[
            Route("/", _static), Route("/static/{name}", _static), Route("/state", self.get_state),
            Route("/form", self.get_form), Route("/answer", self.get_answer),
            Route("/drawing/{run:int}/{face:int}", self.get_drawing), Route("/events", self.get_events),
            Route("/packet/{name:path}", self.get_packet),
            *(Route(f"/{name}", do, methods=["POST"]) for name, do in (
                ("edit", self.post_edit), ("undo", self.post_undo), ("redo", self.post_redo),
                ("overwrite", self.post_overwrite), ("plan", self.post_plan), ("stop", self.post_stop))),
        ])


async def _static(request: Request) -> Response:
    name = request.path_params.get("name", "page.html")
    found = next((file for file in files("layout.page").joinpath("static").iterdir() if file.name == name), None)
    kind = TYPES.get(Path(name).suffix)
    if found is None or kind is None:
        return PlainTextResponse("no such file", 404)
    return Response(found.read_bytes(), media_type=kind)


def _finite(value: Any) -> Any:
    """Return plain values with numbers that JSON does not have as words; such a number is a fault anyway."""
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list):
        return [_finite(item) for item in value]
    return value if not isinstance(value, float) or math.isfinite(value) else str(value)


def _json(content: Any) -> Response:
    return JSONResponse(content)


async def _told(request: Request) -> Any:
    body = await request.body()
    try:
        return json.loads(body)
    except (ValueError, RecursionError):
        return None


def _changes(told: Any) -> tuple[int, list[Change], str, str]:
    """Return what an edit says; raises ValueError, TypeError or KeyError when it says nothing of the kind."""
    changes = []
    if len(told["changes"]) > MOST_CHANGES:
        raise ValueError("too many changes")
    for each in told["changes"]:
        path = tuple(each["path"])
        if each["do"] not in ("set", "remove", "insert", "move") or not path or len(path) > 12:
            raise ValueError("not a change")
        if not all(isinstance(step, str) or (isinstance(step, int) and step >= 0) for step in path):
            raise ValueError("not a path")
        changes.append(Change(each["do"], path, each.get("value"), int(each.get("to", 0))))
    label, session = str(told.get("label", ""))[:MOST_WORDS], str(told.get("session", ""))[:MOST_WORDS]
    return int(told["base"]), changes, label or "a change", session


class _Server(uvicorn.Server):
    """A server that lets the tabs go before it ends, or it would wait for them."""

    def __init__(self, config: uvicorn.Config, page: Session) -> None:
        super().__init__(config)
        self.page = page

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Hear Ctrl-C."""
        self.page.leave()
        super().handle_exit(sig, frame)


def serve_page(path: Path, folder: Path, *, port: int = 0, ready: Callable[[str], None]) -> None:
    """Serve the page of a job file until interrupted.

    Parameters
    ----------
    path
        The job file; it is written when something is first entered, if it is not there.
    folder
        Where its packet goes.
    port
        Where to listen on 127.0.0.1; 0 for any that is free.
    ready
        Called with the page's address once the server listens.

    Raises
    ------
    JobError
        When the file cannot be read.
    LayoutError
        When the port is taken.
    """
    page = Session(Document(path), folder)
    token = secrets.token_urlsafe(24)
    with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as listener:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind(("127.0.0.1", port))
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            raise LayoutError(f"127.0.0.1:{port}: cannot be listened on: {why}") from None
        listener.listen(64)
        here = int(listener.getsockname()[1])
        ready(f"http://127.0.0.1:{here}/{token}/")
        server = _Server(uvicorn.Config(
            Guard(page.app(), token=token, port=here), log_config=None, log_level="error", access_log=False,
            lifespan="on", server_header=False, date_header=False, timeout_graceful_shutdown=1, limit_concurrency=200,
            ws="none"), page)
        with contextlib.suppress(KeyboardInterrupt):
            server.run(sockets=[listener])
