"""The page's server, asked as a browser asks it, and by those that it must refuse."""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("starlette", reason="the page's extra is not installed")
from layout.job.text import read_tree  # noqa: E402  (after the skip)
from layout.page import background, server  # noqa: E402
from layout.page.background import Planning, Sketcher  # noqa: E402
from layout.page.document import Document  # noqa: E402
from layout.page.guard import MOST_BODY, Guard  # noqa: E402
from layout.page.server import Session  # noqa: E402

SAMPLES = Path(__file__).resolve().parent.parent / "samples"
RING = Path(__file__).resolve().parent / "data" / "ring.yaml"
PORT, TOKEN = 4321, "T0ken_of-this-test"
HOST, OWN = "127.0.0.1:4321", "http://127.0.0.1:4321"
Answer = tuple[int, dict[str, str], bytes]


class Client:
    """Asks the guarded application without a network."""

    def __init__(self, page: Session) -> None:
        self.page = page
        self.app = Guard(page.app(), token=TOKEN, port=PORT)

    async def ask(
        self, method: str, path: str, body: bytes | None = None, *, headers: dict[str, str] | None = None,
        chunks: int = 1, heard: Callable[[bytes], bool] = lambda part: False,
    ) -> Answer:
        given = {"host": HOST, **({"origin": OWN} if method != "GET" else {}), **(headers or {})}
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http",
            "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "", "client": ("127.0.0.1", 9),
            "server": ("127.0.0.1", PORT),
            "headers": [(key.encode(), value.encode()) for key, value in given.items() if value],
        }
        parts = [(body or b"")[at::chunks] for at in range(chunks)]
        gone = asyncio.Event()
        status, head, found = 0, {}, b""

        async def receive() -> dict[str, Any]:
            if parts:
                return {"type": "http.request", "body": parts.pop(0), "more_body": bool(parts)}
            await gone.wait()
            return {"type": "http.disconnect"}

        async def send(message: Any) -> None:
            nonlocal status, found
            if message["type"] == "http.response.start":
                status = message["status"]
                head.update({key.decode(): value.decode() for key, value in message["headers"]})
            else:
                found += message.get("body", b"")
                if heard(message.get("body", b"")):
                    gone.set()

        await self.app(scope, receive, send)
        return status, head, found

    async def get(self, place: str) -> Any:
        status, _, body = await self.ask("GET", f"/{TOKEN}/{place}")
        assert status == 200, body
        return json.loads(body)

    async def post(self, place: str, body: object) -> Any:
        status, _, found = await self.ask("POST", f"/{TOKEN}/{place}", json.dumps(body).encode())
        assert status == 200, found
        return json.loads(found)


def served(folder: Path, test: Callable[[Client], Awaitable[None]], name: str = "basement") -> None:
    """Run a test against the page of a copy of a sample."""
    job = folder / "job.yaml"
    job.write_bytes((SAMPLES / f"{name}.yaml").read_bytes())
    page = Session(Document(job), folder / "job-packet")

    async def run() -> None:
        async with page.lifespan(page.app()):
            await test(Client(page))

    asyncio.run(run())


async def until(what: Callable[[], Any], seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < end
        await asyncio.sleep(0.02)


def length(number: int, value: str) -> dict[str, object]:
    return {"do": "set", "path": ["runs", 0, "faces", number, "length"], "value": value}


def test_an_edit_is_saved_answered_and_undone(tmp_path: Path) -> None:
    async def test(client: Client) -> None:
        page = client.page
        state = await client.get("state")
        assert (state["revision"], state["file"], state["unit"], state["faults"]) == (1, "job.yaml", "in", [])
        await until(lambda: page.answered == 1)
        made = await client.post("edit", {"base": 1, "changes": [length(0, "far")], "label": "length of South"})
        assert (made["revision"], made["undoes"]) == (2, "length of South")
        assert [fault["path"] for fault in made["faults"]] == [["runs", 0, "faces", 0, "length"]]
        assert "length: far\n" in (tmp_path / "job.yaml").read_text()
        await until(lambda: page.answered == 2)
        answer = await client.get("answer")
        assert (answer["revision"], answer["why"], sorted(answer["drawings"])) == (2, "faults", ["0/1", "0/2", "0/3"])
        assert (await client.ask("GET", f"/{TOKEN}/drawing/0/0"))[0] == 404
        back = await client.post("undo", {})
        assert (back["revision"], back["faults"], back["redoes"]) == (3, [], "length of South")
        assert (tmp_path / "job.yaml").read_bytes() == (SAMPLES / "basement.yaml").read_bytes()
        await until(lambda: page.answered == 3)
        drawing = await client.get("drawing/0/0")
        assert drawing["markup"].startswith("<svg") and "style=" not in drawing["markup"] and drawing["css"]
        assert (await client.get("answer"))["figures"]["rolls"].isdigit()
        assert (await client.post("redo", {}))["faults"] != []

    served(tmp_path, test)


def test_a_change_that_someone_else_got_in_before_is_refused(tmp_path: Path) -> None:
    async def test(client: Client) -> None:
        await client.post("edit", {"base": 1, "changes": [length(0, "31'")]})
        made = await client.post("edit", {"base": 1, "changes": [length(0, "32'")]})
        assert made["refused"]["paths"] == [["runs", 0, "faces", 0, "length"]]
        assert made["job"]["runs"][0]["faces"][0]["length"] == "31'"
        made = await client.post("edit", {"base": 9, "changes": [length(0, "32'")]})
        assert "too far behind" in made["refused"]["why"]
        made = await client.post("edit", {"base": 2, "changes": [{"do": "remove", "path": ["runs", 5]}]})
        assert "there is no such place" in made["refused"]["why"]

    served(tmp_path, test)


@pytest.mark.parametrize("body", [
    b"", b"[]", b"{}", b"no", b"[" * 5000, b'{"base": 1}', b'{"base": "x", "changes": []}',
    b'{"base": 1, "changes": [{"do": "burn", "path": ["a"]}]}', b'{"base": 1, "changes": [{"do": "set", "path": []}]}',
    b'{"base": 1, "changes": [{"do": "set", "path": [1.5]}]}', b'{"base": 1, "changes": [{"do": "set", "path": [-1]}]}',
    b'{"base": 1, "changes": "xy"}', b'{"base": 1, "changes": [' + b'{"do": "x"},' * 2000 + b'{"do": "x"}]}',
])
def test_what_is_no_change_is_refused(tmp_path: Path, body: bytes) -> None:
    async def test(client: Client) -> None:
        assert (await client.ask("POST", f"/{TOKEN}/edit", body))[0] == 400
        assert (tmp_path / "job.yaml").read_bytes() == (SAMPLES / "basement.yaml").read_bytes()

    served(tmp_path, test)


def test_only_the_page_itself_gets_in(tmp_path: Path) -> None:
    async def test(client: Client) -> None:
        here = f"/{TOKEN}/state"
        for headers, status in (
            ({}, 200), ({"origin": OWN}, 200), ({"sec-fetch-site": "same-origin"}, 200),
            ({"sec-fetch-site": "none"}, 200), ({"host": "localhost:4321"}, 403),
            ({"host": ""}, 403), ({"host": "evil.example"}, 403), ({"host": "127.0.0.1"}, 403),
            ({"origin": "http://evil.example"}, 403), ({"origin": "null"}, 403),
            ({"origin": "http://127.0.0.1:80"}, 403),
            ({"sec-fetch-site": "cross-site"}, 403), ({"sec-fetch-site": "same-site"}, 403),
        ):
            found, head, _ = await client.ask("GET", here, headers=headers)
            assert found == status, headers
            assert "script-src 'self'" in head["content-security-policy"] and "unsafe" not in str(head)
            assert head["x-content-type-options"] == "nosniff" and head["referrer-policy"] == "no-referrer"
        for path in ("/", "/state", f"/{TOKEN}", f"/{TOKEN}x/state", f"/{TOKEN[:-1]}/state", "/é/state", "//state"):
            assert (await client.ask("GET", path))[0] == 403, path
        assert (await client.ask("POST", f"/{TOKEN}/undo", b"{}", headers={"origin": ""}))[0] == 403
        assert (await client.ask("DELETE", here))[0] == 405
        assert (await client.ask("GET", here + "x" * 2000))[0] == 414
        assert (await client.ask("GET", f"/{TOKEN}/nothing"))[0] == 404
        assert (await client.ask("GET", f"/{TOKEN}/edit"))[0] == 405

    served(tmp_path, test)


def test_large_requests_are_refused_whatever_their_head_says(tmp_path: Path) -> None:
    async def test(client: Client) -> None:
        large = b"x" * (MOST_BODY + 1)
        for headers in ({"content-length": str(len(large))}, {"content-length": "-5"}, {"content-length": "9" * 30}):
            assert (await client.ask("POST", f"/{TOKEN}/edit", large, headers=headers))[0] == 413
        assert (await client.ask("POST", f"/{TOKEN}/edit", large, chunks=7))[0] == 413
        assert (await client.ask("POST", f"/{TOKEN}/edit", large[:-1], chunks=7))[0] == 400

    served(tmp_path, test)


def test_the_page_has_no_script_or_style_of_its_own(tmp_path: Path) -> None:
    async def test(client: Client) -> None:
        status, head, body = await client.ask("GET", f"/{TOKEN}/")
        assert status == 200 and head["content-type"].startswith("text/html")
        assert b"<style" not in body and b"style=" not in body and b"onclick" not in body and b"http" not in body
        assert body.count(b"<script") == 1 and b'src="static/main.js"></script>' in body
        for name, kind in (("main.js", "text/javascript"), ("page.css", "text/css"), ("icon.svg", "image/svg+xml")):
            status, head, body = await client.ask("GET", f"/{TOKEN}/static/{name}")
            assert status == 200 and head["content-type"].startswith(kind)
            assert b"innerHTML" not in body and b"eval(" not in body
        for name in ("none.js", "..", "%2e%2e", "__init__.py"):
            assert (await client.ask("GET", f"/{TOKEN}/static/{name}"))[0] == 404
        assert list(await client.get("form"))[0] == "JobPart"

    served(tmp_path, test)


def test_a_tab_is_told_what_happens_until_the_server_leaves(tmp_path: Path) -> None:
    async def test(client: Client) -> None:
        told: list[dict[str, Any]] = []

        def heard(part: bytes) -> bool:
            told.extend([json.loads(part.decode()[6:])] if part else [])
            return False

        tab = asyncio.create_task(client.ask("GET", f"/{TOKEN}/events", heard=heard))
        await until(lambda: told)
        await client.post("edit", {"base": 1, "changes": [length(0, "38'-7\"")]})
        await until(lambda: told[-1]["revision"] == 2)
        (tmp_path / "job.yaml").write_bytes(RING.read_bytes())
        await until(lambda: told[-1]["revision"] == 3)
        assert "Another program changed the file" in told[-1]["told"][1]
        await until(lambda: told[-1]["answered"] == 3)
        client.page.leave()
        status, head, _ = await asyncio.wait_for(tab, 20)
        assert status == 200 and head["content-type"].startswith("text/event-stream")

    served(tmp_path, test)


def test_so_many_tabs_and_no_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(server, "MOST_TABS", 1)

    async def test(client: Client) -> None:
        told: list[bytes] = []
        tab = asyncio.create_task(client.ask("GET", f"/{TOKEN}/events", heard=lambda part: bool(told.append(part))))
        await until(lambda: told)
        assert (await client.ask("GET", f"/{TOKEN}/events"))[0] == 503
        client.page.leave()
        await asyncio.wait_for(tab, 20)

    served(tmp_path, test)


@pytest.mark.slow
def test_a_plan_is_made_and_its_packet_is_served(tmp_path: Path) -> None:
    async def test(client: Client) -> None:
        page = client.page
        assert (await client.ask("GET", f"/{TOKEN}/packet/plan.json"))[0] == 404
        assert (await client.post("plan", {}))["planning"]["running"]
        await client.post("plan", {})
        await client.post("stop", {})
        await until(lambda: page.planning is not None and not page.planning.running, 120)
        status = (await client.get("state"))
        assert (status["planned"], status["planning"]["trouble"]) == (1, "")
        assert " drops, " in status["planning"]["lines"][0]
        found, head, body = await client.ask("GET", f"/{TOKEN}/packet/packet.html")
        assert found == 200 and b"<html" in body and "connect-src 'none'" in head["content-security-policy"]
        for name in ("../job.yaml", "none", "", "elevations", "/etc/passwd", "..%2fjob.yaml"):
            assert (await client.ask("GET", f"/{TOKEN}/packet/{name}"))[0] == 404, name

    served(tmp_path, test)
    assert sorted(os.listdir(tmp_path)) == ["job-packet", "job.yaml"]


@pytest.mark.slow
def test_a_plan_that_cannot_be_says_why(tmp_path: Path) -> None:
    (tmp_path / "job-packet").mkdir()
    (tmp_path / "job-packet" / "mine.txt").write_text("mine")

    async def test(client: Client) -> None:
        await client.post("plan", {})
        planning = client.page.planning
        assert planning is not None
        await until(lambda: not planning.running, 120)
        assert "is a folder but not a packet" in planning.trouble and not planning.lines
        assert (await client.ask("GET", f"/{TOKEN}/packet/mine.txt"))[0] == 404

    served(tmp_path, test)


def test_a_file_written_over_when_the_user_says_so(tmp_path: Path) -> None:
    async def test(client: Client) -> None:
        (tmp_path / "job.yaml").write_text("[")
        made = await client.post("edit", {"base": 1, "changes": [length(0, "38'-7\"")]})
        assert "nothing is written over it" in made["trouble"] and (tmp_path / "job.yaml").read_text() == "["
        assert (await client.post("overwrite", {}))["trouble"] == ""
        assert "38'-7\"" in (tmp_path / "job.yaml").read_text()

    served(tmp_path, test)


# --- work in other processes -------------------------------------------------------------------

@pytest.mark.slow
def test_an_answer_nobody_waits_for_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    text = (SAMPLES / "basement.yaml").read_text("utf-8")
    plain = read_tree(text)[0].plain()
    sketcher = Sketcher()
    try:
        monkeypatch.setattr(background, "GRACE", 0.0)
        assert sketcher.ask(text, "job.yaml", plain, lambda: True) is None
        assert sketcher.process is None
        monkeypatch.setattr(background, "GRACE", 60.0)
        assert sketcher.ask(text, "job.yaml", plain, lambda: True) is None
        assert sketcher.process is not None
        found = sketcher.ask(text, "job.yaml", plain, lambda: False)
        assert found is not None and found["figures"]
        sketcher.process.kill()
        sketcher.process.join()
        found = sketcher.ask(text, "job.yaml", plain, lambda: False)
        assert found is not None and found["figures"]
    finally:
        sketcher.end()


def test_the_processes_answer_and_plan_what_they_are_sent(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The two processes' own work, done in this one, so that it is measured what of it is run."""
    monkeypatch.setattr(signal, "signal", lambda number, handler: None)
    text = RING.read_text("utf-8")
    plain = read_tree(text)[0].plain()
    ours, theirs = multiprocessing.Pipe()
    work = threading.Thread(target=background.answer_sketches, args=(theirs,))
    work.start()
    ours.send((text, "job.yaml", plain))
    assert ours.recv()["figures"]
    ours.close()
    work.join(20)
    assert not work.is_alive()
    for told, kind in ((text, "done"), ("runs: 3", "trouble")):
        ours, theirs = multiprocessing.Pipe()
        stop = threading.Event()
        stop.set()
        background.plan_once(theirs, stop, told, "job.yaml", str(tmp_path / "packet"))
        said = []
        while ours.poll(1):
            try:
                said.append(ours.recv())
            except EOFError:
                break
        assert said[-1][0] == kind, said
    assert (tmp_path / "packet" / "plan.json").is_file()


def test_a_plan_that_is_ended_leaves_nothing(tmp_path: Path) -> None:
    text = (SAMPLES / "hillside.yaml").read_text("utf-8")
    planning = Planning(1)
    work = threading.Thread(target=planning.run, args=(text, "job.yaml", tmp_path / "packet", lambda: None))
    work.start()
    end = time.monotonic() + 60
    while planning.words == "starting" and time.monotonic() < end:
        time.sleep(0.02)
    planning.end()
    work.join(30)
    assert not work.is_alive() and not planning.running
    assert planning.trouble == "the planning was ended before there was a plan; nothing was written"
    assert os.listdir(tmp_path) == []
