"""The adviser's own pages: what waits for an answer over many builds, and what is often not within limits.

It is an app of its own on the adviser's machine: it holds no project, and the database lets it see no more of a
build than that build's questions, and its findings where they are shared.
"""

from __future__ import annotations

import functools
import traceback
from collections.abc import Callable
from contextlib import ExitStack
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from ribwright import __version__
from ribwright.errors import RibwrightError
from ribwright.services import advisers
from ribwright.web.app import STATIC, drawing_css
from ribwright.web.errors import status_of
from ribwright.web.forms import new_request_id
from ribwright.web.pages import environment
from ribwright.web.posting import see_other
from ribwright.web.security import LOCAL_HOSTS, App, guard

AUTHORITIES = ("designer", "licensed mechanic", "inspector", "opinion")
PAGES = (("/", "Waiting"), ("/often", "Often not within limits"), ("/builds", "Builds"))


def create_adviser_app(
    database: str, *, adviser: str, stack: ExitStack, report: Callable[[str], None] | None = None
) -> App:
    """The app of one adviser over one database; the stack closes the database.

    Args:
        database: ``postgresql://user@host/name``.
        adviser: by the name that the builds invited.
        report: is given the traceback of anything unexpected; the page shows none.

    Raises:
        ServeError: the link is open to others. OutOfRangeError: no such name can be.
    """
    store = stack.enter_context(advisers.database(database))
    advisers.builds(
        store, adviser
    )  # a wrong name or a database that isn't there is said before anything is served
    app = Starlette(
        routes=[*ROUTES, Mount("/static", StaticFiles(directory=STATIC), name="static")],
        exception_handlers={
            RibwrightError: _refused,
            HTTPException: _http,
            Exception: functools.partial(_unexpected, report=report),
        },
    )
    app.state.database, app.state.adviser, app.state.store = database, adviser, store
    return guard(GZipMiddleware(app, minimum_size=1000, compresslevel=5), hosts=LOCAL_HOSTS)


def waiting(request: Request) -> Response:
    """Questions without an answer, the longest waiting first, each with its form."""
    return _page(
        request, "adviser_waiting.html", {"title": "Waiting for an answer", "waiting": _waiting(request)}
    )


async def answer(request: Request) -> Response:
    """Answer one question; what was typed stays when it is refused."""
    async with request.form(max_fields=8, max_files=0) as sent:
        form = {key: value for key, value in sent.items() if isinstance(value, str)}

    def take() -> Response:
        state = request.app.state
        try:
            question = form.get("question", "")
            advisers.answer(
                state.database, adviser=state.adviser, request_id=form.get("request", ""), project=form.get("build", ""),
                question=int(question) if question.isdecimal() and len(question) < 12 else 0, words=form.get("words", ""),
                authority=form.get("authority", ""),
            )  # fmt: skip
        except RibwrightError as refused:
            context = {
                "title": "Waiting for an answer",
                "waiting": _waiting(request),
                "form": form,
                "mistake": refused.sentence(),
            }
            return _page(request, "adviser_waiting.html", context, status=422)
        return see_other("/")

    return await run_in_threadpool(take)


def often(request: Request) -> Response:
    """How requirements came out over the builds that share their findings."""
    state = request.app.state
    known = advisers.builds(state.store, state.adviser)
    context = {
        "title": "Often not within limits", "found": advisers.often(state.store, state.adviser),
        "sharing": sum(one.shares for _, _, one in known), "builds": len(known),
    }  # fmt: skip
    return _page(request, "adviser_often.html", context)


def builds(request: Request) -> Response:
    """Which builds invited this adviser, and which share their findings."""
    state = request.app.state
    return _page(
        request,
        "adviser_builds.html",
        {"title": "Builds", "builds": advisers.builds(state.store, state.adviser)},
    )


def _waiting(request: Request) -> tuple[advisers.Waiting, ...]:
    return advisers.waiting(request.app.state.store, request.app.state.adviser)


def _page(request: Request, template: str, context: dict[str, Any], *, status: int = 200) -> HTMLResponse:
    base = {
        "pages": [(url, name, url == request.url.path) for url, name in PAGES], "adviser": request.app.state.adviser, "project": request.app.state.adviser,
        "version": __version__, "authorities": AUTHORITIES, "request_id": new_request_id, "form": {}, "mistake": "",
    }  # fmt: skip
    html = environment().get_template(template).render(base | context)
    return HTMLResponse(html, status_code=status, headers={"cache-control": "no-store"})


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, RibwrightError)
    return _page(
        request,
        "adviser_error.html",
        {"title": "Not done", "mistake": error.sentence()},
        status=status_of(error),
    )


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    said = {404: "There is no such page.", 405: "This page can't be used that way."}
    context = {"title": "Not done", "mistake": said.get(error.status_code, str(error.detail))}
    return _page(request, "adviser_error.html", context, status=error.status_code)


def _unexpected(request: Request, error: Exception, *, report: Callable[[str], None] | None) -> Response:
    if report is not None:
        report("".join(traceback.format_exception(error)))
    return PlainTextResponse(
        "Something went wrong inside the program; nothing was half written.", status_code=500
    )


ROUTES = [
    Route("/static/drawing.css", drawing_css, name="drawing_css"),
    Route("/", waiting, name="adviser_waiting"),
    Route("/answer", answer, methods=["POST"], name="adviser_answer"),
    Route("/often", often, name="adviser_often"),
    Route("/builds", builds, name="adviser_builds"),
]
