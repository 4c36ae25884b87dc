"""``create_app``: one open project, its pages, and the guard before them."""

from __future__ import annotations

import functools
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlsplit

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

from ribwright.core.writers.to_svg import SVG_CSS
from ribwright.errors import RibwrightError
from ribwright.services.advisers import store_of
from ribwright.services.network import Served
from ribwright.services.project import Actor, Project
from ribwright.web.errors import status_of
from ribwright.web.live import Live
from ribwright.web.opening import Opening
from ribwright.web.pages import page
from ribwright.web.security import LOCAL_HOSTS, App, Receive, Scope, Send, guard
from ribwright.web.sessions import DESK, admit, is_here
from ribwright.web.uploads import PATHS

STATIC = Path(__file__).parent / "static"
LIKELY = 4


def create_app(
    project: Project,
    *,
    actor: Actor,
    hosts: frozenset[str] = LOCAL_HOSTS,
    report: Callable[[str], None] | None = None,
    served: Served | None = None,
    whole: bool = True,
) -> App:
    """The app over an open project.

    Args:
        project: stays open as long as the app; closing it is the caller's.
        actor: who acts on this machine when nobody signed in (the builder at the laptop).
        hosts: names by which browsers may call it.
        report: is given the traceback of anything unexpected; the page shows none.
        served: how it is served to the home network; None serves this machine only.
        whole: read in every page now; else the first page goes out before the rest is read in.
    """
    shared = store_of(project)
    rest = functools.partial(_all_routes, shared, report)
    app = Starlette(
        routes=rest() if whole else _first_routes(),
        exception_handlers={
            RibwrightError: _refused,
            HTTPException: _http,
            Exception: functools.partial(_unexpected, report=report),
        },
    )
    app.state.project = project
    app.state.actor = actor
    app.state.live = Live(project)
    app.state.served = served
    # No page shows a secret beside words that somebody else chose, so that their length tells nothing;
    # pictures, and streams that are told as they come, are left as they are.
    opened: App = app if whole else Opening(app, rest, functools.partial(_likely, project))
    packed = GZipMiddleware(opened, minimum_size=1000, compresslevel=5)
    local = guard(packed, hosts=hosts, upload_paths=PATHS)
    if served is None:
        return local
    admitted = admit(packed, project=project, served=served, with_desk=shared is not None)
    network = guard(admitted, hosts=served.hosts, upload_paths=PATHS)

    async def doors(scope: Scope, receive: Receive, send: Send) -> None:
        # Each listener has its own names: else a name that somebody in the network claims could be pointed
        # at 127.0.0.1, and its page would pass for the laptop's own.
        door = local if scope["type"] == "lifespan" or is_here(scope) else network
        await door(scope, receive, send)

    return doors


def _desk(store: Any, report: Callable[[str], None] | None) -> Mount:
    """The advisers' desk beside a build of the same database: an app of its own, with sign-in and pages of its own."""
    from ribwright.web.adviser import desk

    return Mount(DESK.rstrip("/"), desk(store, report=report), name="desk")


def _static() -> Mount:
    return Mount("/static", StaticFiles(directory=STATIC), name="static")


def _first_routes() -> list[BaseRoute]:
    from ribwright.web.routes import bench

    return [Route("/static/drawing.css", drawing_css, name="drawing_css"), *bench.ROUTES, _static()]


def _all_routes(shared: Any = None, report: Callable[[str], None] | None = None) -> list[BaseRoute]:
    desk = [] if shared is None else [_desk(shared, report)]
    return [*desk, *routes(), _static()]


def _likely(project: Project) -> list[str]:
    """What is opened next from the first page: the first operations that can be worked on, and their stages."""
    from ribwright.services.bench import next_on_bench

    ready = next_on_bench(project).ready[:LIKELY]
    return [
        path
        for line in ready
        for path in (f"/operation/{quote(line.ref, safe='')}", f"/stage/{quote(line.ref, safe='')}/{quote(line.stage, safe='')}")
    ]  # fmt: skip


def routes() -> list[Route]:
    """Every page and form of the app; tests walk this list."""
    from ribwright.web.routes import (
        advisers,
        airframe,
        bench,
        calc,
        checks,
        discrepancy,
        entrance,
        first_hour,
        flight,
        gauge,
        live,
        offline,
        operation,
        phones,
        photo,
        plan,
        plan_forms,
        record,
        rolled,
        spoiled,
        stores,
        tally,
        twist,
        weight,
    )

    return [
        Route("/static/drawing.css", drawing_css, name="drawing_css"),
        *bench.ROUTES,
        *live.ROUTES,
        *offline.ROUTES,
        *tally.ROUTES,
        *twist.ROUTES,
        *airframe.ROUTES,
        *first_hour.ROUTES,
        *operation.ROUTES,
        *calc.ROUTES,
        *checks.ROUTES,
        *discrepancy.ROUTES,
        *gauge.ROUTES,
        *photo.ROUTES,
        *plan.ROUTES,
        *plan_forms.ROUTES,
        *flight.ROUTES,
        *weight.ROUTES,
        *record.ROUTES,
        *stores.ROUTES,
        *rolled.ROUTES,
        *spoiled.ROUTES,
        *entrance.ROUTES,
        *phones.ROUTES,
        *advisers.ROUTES,
    ]


def drawing_css(request: Request) -> Response:
    """The rules that every drawing on a page follows."""
    return Response(SVG_CSS, media_type="text/css", headers={"cache-control": "max-age=3600"})


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, RibwrightError)
    context = {"title": "Not done", "sentences": _sentences(error), "back": _came_from(request)}
    return page(request, "error.html", context, status=status_of(error))


def _came_from(request: Request) -> str:
    """The page of this app whose form was refused, as a path; "" for a page that was only opened, or from elsewhere."""
    came = urlsplit(request.headers.get("referer", ""))
    if request.method != "POST" or came.netloc != request.url.netloc or not came.path.startswith("/"):
        return ""
    return f"/{came.path.lstrip('/')}" + (f"?{came.query}" if came.query else "")


def _sentences(error: RibwrightError) -> list[str]:
    return [error.sentence(), *(other.sentence() for other in getattr(error, "others", ()))]


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    said = {404: "There is no such page.", 405: "This page can't be used that way."}.get(
        error.status_code, str(error.detail)
    )
    return page(
        request,
        "error.html",
        {
            "title": "Not found" if error.status_code == 404 else "Not done",
            "sentences": [said],
            "back": _came_from(request),
        },
        status=error.status_code,
    )


def _unexpected(request: Request, error: Exception, *, report: Callable[[str], None] | None) -> Response:
    if report is not None:
        report("".join(traceback.format_exception(error)))
    return PlainTextResponse(
        "Something went wrong inside the program; nothing was half written. The report is where the program was started.",
        status_code=500,
    )
