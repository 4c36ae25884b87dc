"""Opening fast: the first page goes out before the rest of the program is read in."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable, Sequence

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.routing import BaseRoute

from ribwright.web.security import Message, Receive, Scope, Send

WARMED = ("/airframe", "/record", "/checks", "/stores", "/calc")
PAUSE_S = 0.05


class Opening:
    """An app whose further routes are read in after its first page, or when one of them is asked for.

    Args:
        app: with the routes of the first page only.
        rest: reads in the whole route table.
        pages: paths that are worth preparing then, beside the common ones.
    """

    def __init__(
        self, app: Starlette, rest: Callable[[], list[BaseRoute]], pages: Callable[[], Sequence[str]]
    ) -> None:
        self._app, self._rest, self._pages = app, rest, pages
        self._whole = False
        self._door = threading.Lock()
        self._warming: asyncio.Task[None] | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        path = str(scope.get("path", "/"))
        if not self._whole and path != "/" and not path.startswith("/static/"):
            await run_in_threadpool(self._read_in)
        await self._app(scope, receive, send)
        if self._warming is None and scope["type"] == "http":
            self._warming = asyncio.create_task(self._warm(scope))

    def _read_in(self) -> None:
        with self._door:
            if not self._whole:
                self._app.router.routes = self._rest()
                self._whole = True

    async def _warm(self, first: Scope) -> None:
        """Open what is likely to be opened next, one after the other, for nobody."""
        await asyncio.sleep(PAUSE_S)
        await run_in_threadpool(self._read_in)
        wanted = [*WARMED, *await run_in_threadpool(self._pages)]
        for path in wanted:
            with contextlib.suppress(Exception):  # whoever opens it will be told
                await self._app(_asking(first, path), _nothing_more, _unread)
            await asyncio.sleep(PAUSE_S)


def _asking(first: Scope, path: str) -> Scope:
    kept = {key: first[key] for key in ("http_version", "scheme", "server", "root_path") if key in first}
    return kept | {
        "type": "http", "method": "GET", "path": path, "raw_path": path.encode(), "query_string": b"",
        "headers": [(b"host", b"127.0.0.1")], "client": ("127.0.0.1", 0), "asgi": {"version": "3.0"},
    }  # fmt: skip


async def _nothing_more() -> Message:
    return {"type": "http.request", "body": b"", "more_body": False}


async def _unread(message: Message) -> None:
    return None
