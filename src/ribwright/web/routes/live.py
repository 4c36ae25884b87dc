"""Open pages of an operation: one stream each, and what one page says to the others."""

from __future__ import annotations

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response, StreamingResponse
from starlette.routing import Route

from ribwright.core.record.rules import check_role
from ribwright.services.record import get_object
from ribwright.web.live import Live, read_message
from ribwright.web.pages import actor_of, project_of


def live_of(request: Request) -> Live:
    """The open pages of this app."""
    live: Live = request.app.state.live
    return live


async def stream(request: Request) -> Response:
    """What happens to an operation, as server-sent events; asked for plainly, its state once."""
    ref = request.path_params["ref"]
    await run_in_threadpool(get_object, project_of(request), ref)
    live = live_of(request)
    headers = {"cache-control": "no-store", "x-accel-buffering": "no"}
    if "text/event-stream" not in request.headers.get("accept", ""):
        return Response(await live.snapshot(ref), media_type="text/event-stream", headers=headers)
    known = request.headers.get("last-event-id") or request.query_params.get("head", "")
    since = int(known) if known.isascii() and known.isdigit() and len(known) < 13 else None
    return StreamingResponse(live.listen(ref, since), media_type="text/event-stream", headers=headers)


async def say(request: Request) -> Response:
    """Pass a line, a mark or an angle on to the other pages of the operation, from who works at the bench."""
    ref, who = request.path_params["ref"], actor_of(request)
    check_role("reading", by=who.name, role=who.role)
    live = live_of(request)
    async with request.form(max_fields=12, max_files=0) as sent:
        form = {name: value for name, value in sent.items() if isinstance(value, str)}
    if not live.knows(ref):
        await run_in_threadpool(get_object, project_of(request), ref)
    key, message = read_message(form)
    live.say(ref, message, key=key)
    return Response(status_code=204)


ROUTES = [
    Route("/live/{ref}", stream, methods=["GET"], name="live"),
    Route("/live/{ref}/say", say, methods=["POST"], name="say"),
]
