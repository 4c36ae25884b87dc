"""The first page goes out before the rest is read in; whatever else is asked for is read in and answered."""

from __future__ import annotations

import asyncio
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from filled import filled
from ribwright.web import opening
from ribwright.web.opening import Opening
from ribwright.web.security import Message


class Told:
    """An opened app and what it did, in order."""

    def __init__(self, *, broken: str = "", pages: Sequence[str] = ("/likely",)) -> None:
        self.order: list[str] = []
        self.askers: set[str] = set()
        self.broken = broken
        first: list[BaseRoute] = [Route("/", self.page), Route("/static/a.css", self.page)]
        self.app = Opening(Starlette(routes=first), self.rest, lambda: pages)

    async def page(self, request: Request) -> Response:
        self.order.append(request.url.path)
        self.askers.add(request.client.host if request.client else "")
        if request.url.path == self.broken:
            raise RuntimeError("in the middle of preparing")
        return PlainTextResponse(request.url.path)

    def rest(self) -> list[BaseRoute]:
        time.sleep(0.03)  # reading in takes its time; another may ask meanwhile
        self.order.append("read in")
        assert threading.current_thread() is not threading.main_thread(), "it would hold up every answer"
        return [Route("/", self.page), Route("/static/a.css", self.page), Route("/{rest:path}", self.page)]

    async def ask(self, path: str, *, client: str = "10.0.0.9") -> tuple[int, bytes]:
        """One request, as a server puts it."""
        came: list[Message] = []

        async def receive() -> Message:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: Message) -> None:
            came.append(message)

        scope = {
            "type": "http", "method": "GET", "path": path, "raw_path": path.encode(), "query_string": b"", "headers": [],
            "client": (client, 5), "server": ("127.0.0.1", 80), "scheme": "http", "http_version": "1.1", "root_path": "", "asgi": {"version": "3.0"},
        }  # fmt: skip
        await self.app(scope, receive, send)
        return came[0]["status"], b"".join(m.get("body", b"") for m in came[1:])

    async def warmed(self, last: str) -> None:
        for _ in range(400):
            if last in self.order:
                return
            await asyncio.sleep(0.01)
        raise AssertionError(self.order)


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(opening, "PAUSE_S", 0.01)


def test_first_page_before_the_rest_and_then_what_is_likely() -> None:
    told = Told()

    async def run() -> None:
        assert await told.ask("/static/a.css") == (200, b"/static/a.css")
        assert await told.ask("/") == (200, b"/")
        assert "read in" not in told.order, "neither the first page nor its parts wait for the rest"
        await told.warmed("/likely")

    asyncio.run(run())
    assert told.order == ["/static/a.css", "/", "read in", *opening.WARMED, "/likely"]


def test_another_page_asked_for_first_is_read_in_and_answered_once() -> None:
    told = Told()

    async def run() -> list[tuple[int, bytes]]:
        answers = await asyncio.gather(*(told.ask(path) for path in ("/record", "/record", "/none", "/")))
        await told.warmed("/likely")
        return [*answers, await told.ask("/later")]

    answers = asyncio.run(run())
    assert [body for _, body in answers] == [b"/record", b"/record", b"/none", b"/", b"/later"]
    assert told.order.count("read in") == 1


def test_a_page_that_fails_to_be_prepared_stops_nothing() -> None:
    told = Told(broken=opening.WARMED[1])

    async def run() -> None:
        assert await told.ask("/") == (200, b"/")
        await told.warmed("/likely")

    asyncio.run(run())
    assert told.order[-1] == "/likely"


def test_what_is_prepared_is_prepared_for_nobody_and_once() -> None:
    told = Told()

    async def run() -> None:
        for _ in range(3):
            await told.ask("/")
        await told.warmed("/likely")
        told.askers.clear()
        for _ in range(3):
            await told.ask("/")
        await asyncio.sleep(0.05)

    asyncio.run(run())
    assert told.order.count("/likely") == 1
    assert told.askers == {"10.0.0.9"}, "nothing is prepared a second time"


def test_serving_the_first_page_reads_in_no_other(tmp_path: Path) -> None:
    """The program itself: modules of other pages are not there before one of them is asked for."""
    filled(tmp_path / "p").close()
    words = """
import sys
from pathlib import Path
from ribwright.services.project import Actor, open_project
from ribwright.web.app import create_app
from starlette.testclient import TestClient
with open_project(Path(sys.argv[1])) as project:
    client = TestClient(create_app(project, actor=Actor("Ann Bell"), whole=False), base_url="http://127.0.0.1")
    far = ("ribwright.web.routes.flight", "ribwright.web.routes.plan", "ribwright.services.fullsize", "scipy", "numba", "cv2")
    assert client.get("/").status_code == 200
    assert client.get("/static/drawing.css").status_code == 200
    print([name for name in far if name in sys.modules])
"""
    done = subprocess.run([sys.executable, "-c", words, str(tmp_path / "p")], capture_output=True, text=True)
    assert done.stdout.splitlines() == ["[]"], done.stdout + done.stderr
