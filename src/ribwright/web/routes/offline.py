"""The worker that keeps the day's pages on a phone, and the page that lists what waits there."""

from __future__ import annotations

from pathlib import Path

from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from ribwright.web.pages import page
from ribwright.web.queue import kept

WORKER = Path(__file__).parent.parent / "static" / "worker.js"


def worker(request: Request) -> Response:
    """The worker's script; the browser is told that it may serve the whole app, and never to keep an old one."""
    headers = {"service-worker-allowed": "/", "cache-control": "no-cache"}
    return FileResponse(WORKER, media_type="text/javascript", headers=headers)


def waiting(request: Request) -> Response:
    """What waits on this phone; the list itself is only there."""
    return kept(page(request, "waiting.html", {"title": "Waiting on this phone"}))


ROUTES = [
    Route("/static/worker.js", worker, name="worker"),
    Route("/waiting", waiting, name="waiting"),
]
