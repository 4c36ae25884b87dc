"""The adviser's desk: what waits for an answer over many builds, and what is often not within limits.

It is a part of every server of a build that lies in a database with others, under ``/adviser/``, and is served alone
where no build is named. An adviser signs in with a key of his own, made by whoever owns the database; the builds'
sessions count for nothing here, nor does his there. The database lets him see no more of a build than that build's
questions, and its findings where they are shared.
"""

from __future__ import annotations

import functools
import hashlib
import secrets
import time
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
from ribwright.errors import RefusedError, RibwrightError
from ribwright.services import advisers
from ribwright.web.errors import status_of
from ribwright.web.forms import new_request_id
from ribwright.web.pages import environment
from ribwright.web.posting import see_other
from ribwright.web.security import LOCAL_HOSTS, App, guard
from ribwright.web.sessions import DESK, is_here, kind_of

AUTHORITIES = ("designer", "licensed mechanic", "inspector", "opinion")
PAGES = ((DESK, "Waiting"), (f"{DESK}often", "Often not within limits"), (f"{DESK}builds", "Builds"))
COOKIES = {"plain": "ribwright-adviser", "tls": "__Host-ribwright-adviser"}
SIGNED_IN_S = 12 * 3600
MOST_SIGNED_IN = 1000

Handler = Callable[[Request, dict[str, str]], Response]


def desk(store: Any, *, adviser: str = "", report: Callable[[str], None] | None = None) -> Starlette:
    """The pages under ``/adviser/``.

    Args:
        store: of the database, on no build.
        adviser: who sits at this machine, and needs no key; "" for whoever signs in.
        report: is given the traceback of anything unexpected; the page shows none.
    """
    app = Starlette(
        routes=ROUTES,
        exception_handlers={
            RibwrightError: _refused,
            HTTPException: _http,
            Exception: functools.partial(_unexpected, report=report),
        },
    )
    app.state.adviser, app.state.store = adviser, store
    app.state.signed_in = {}
    return app


def create_adviser_app(
    database: str, *, adviser: str = "", stack: ExitStack, report: Callable[[str], None] | None = None
) -> App:
    """The desk alone, on this machine; the stack closes the database.

    Args:
        database: ``postgresql://user@host/name``.
        adviser, report: as in :func:`desk`.

    Raises:
        ServeError: the link is open to others. OutOfRangeError: no such name can be.
        StoreError: the database isn't there.
    """
    from ribwright.web.app import STATIC, drawing_css

    store = stack.enter_context(advisers.database(database))
    # a wrong name or a database that isn't there is said before anything is served
    advisers.builds(store, adviser or "nobody")
    app = Starlette(
        routes=[
            Route("/", lambda request: see_other(DESK)),
            Route("/static/drawing.css", drawing_css, name="drawing_css"),
            Mount(DESK.rstrip("/"), desk(store, adviser=adviser, report=report)),
            Mount("/static", StaticFiles(directory=STATIC), name="static"),
        ],
        exception_handlers={HTTPException: _http},
    )
    return guard(GZipMiddleware(app, minimum_size=1000, compresslevel=5), hosts=LOCAL_HOSTS)


def enter(request: Request, form: dict[str, str]) -> Response:
    """Sign in with a key."""
    state, mistake = request.app.state, ""
    if request.method == "POST":
        digest = advisers.key_digest(form.get("key", ""))
        if advisers.holder(state.store, digest) is not None:
            token, now = secrets.token_urlsafe(32), time.monotonic()
            inside = state.signed_in
            for old in [one for one, (_, until) in list(inside.items()) if until < now]:
                inside.pop(old, None)
            if len(inside) >= MOST_SIGNED_IN:
                inside.pop(next(iter(inside)), None)
            inside[_mark(token)] = (digest, now + SIGNED_IN_S)
            answer = see_other(DESK)
            answer.set_cookie(
                COOKIES[kind_of(request.scope)], token, max_age=SIGNED_IN_S, path="/",
                secure=kind_of(request.scope) == "tls", httponly=True, samesite="strict",
            )  # fmt: skip
            return answer
        mistake = "This key is wrong, or was ended. Ask whoever runs the database for a new one."
    context = {"title": "Adviser", "mistake": mistake}
    return _page(request, "adviser_enter.html", context, status=403 if mistake else 200)


def leave(request: Request, form: dict[str, str]) -> Response:
    """Sign out."""
    kind = kind_of(request.scope)
    request.app.state.signed_in.pop(_mark(request.cookies.get(COOKIES[kind], "")), None)
    answer = see_other(f"{DESK}enter")
    answer.delete_cookie(COOKIES[kind], path="/", secure=kind == "tls", httponly=True, samesite="strict")
    return answer


def waiting(request: Request, form: dict[str, str]) -> Response:
    """Questions without an answer, the longest waiting first, each with its form."""
    return _page(
        request, "adviser_waiting.html", {"title": "Waiting for an answer", "waiting": _waiting(request)}
    )


def answer(request: Request, form: dict[str, str]) -> Response:
    """Answer one question; what was typed stays when it is refused."""
    question = form.get("question", "")
    try:
        advisers.answer(
            request.app.state.store, adviser=request.state.adviser, request_id=form.get("request", ""), project=form.get("build", ""),
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
    return see_other(DESK)


def often(request: Request, form: dict[str, str]) -> Response:
    """How requirements came out over the builds that share their findings."""
    store, adviser = request.app.state.store, request.state.adviser
    known = advisers.builds(store, adviser)
    context = {
        "title": "Often not within limits", "found": advisers.often(store, adviser),
        "sharing": sum(one.shares for _, _, one in known), "builds": len(known),
    }  # fmt: skip
    return _page(request, "adviser_often.html", context)


def builds(request: Request, form: dict[str, str]) -> Response:
    """Which builds invited this adviser, and which share their findings."""
    found = advisers.builds(request.app.state.store, request.state.adviser)
    return _page(request, "adviser_builds.html", {"title": "Builds", "builds": found})


def _open(handler: Handler, *, signed_in: bool = True) -> Callable[[Request], Any]:
    """A handler of request and form for whoever signed in, on this machine or over a secure connection."""

    @functools.wraps(handler)
    async def wrapped(request: Request) -> Response:
        form: dict[str, str] = {}
        if request.method == "POST":
            async with request.form(max_fields=8, max_files=0) as sent:
                form = {key: value for key, value in sent.items() if isinstance(value, str)}
        return await run_in_threadpool(inside, request, form)

    def inside(request: Request, form: dict[str, str]) -> Response:
        state = request.app.state
        if not state.adviser and not is_here(request.scope) and kind_of(request.scope) != "tls":
            raise RefusedError(
                "adviser",
                because="over an open connection anybody in the network could read your key",
                mend="Let the builder serve with: ribwright serve --lan --tls",
            )
        request.state.adviser = state.adviser or _who(request)
        if signed_in and not request.state.adviser:
            return see_other(f"{DESK}enter")
        return handler(request, form)

    return wrapped


def _who(request: Request) -> str:
    """Who signed in with this browser; "" for nobody. A key that was ended ends what was opened with it."""
    state = request.app.state
    token = request.cookies.get(COOKIES[kind_of(request.scope)], "")
    digest, until = state.signed_in.get(_mark(token), ("", 0.0))
    if not digest or until < time.monotonic():
        return ""
    return advisers.holder(state.store, digest) or ""


def _mark(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def _waiting(request: Request) -> tuple[advisers.Waiting, ...]:
    return advisers.waiting(request.app.state.store, request.state.adviser)


def _page(request: Request, template: str, context: dict[str, Any], *, status: int = 200) -> HTMLResponse:
    adviser = getattr(request.state, "adviser", "")
    pages = [(url, name, url == request.url.path) for url, name in PAGES] if adviser else []
    base: dict[str, Any] = {
        "pages": pages, "adviser": adviser, "project": adviser or "Adviser", "desk": DESK, "may_leave": bool(adviser) and not getattr(request.app.state, "adviser", ""),
        "version": __version__, "authorities": AUTHORITIES, "request_id": new_request_id, "form": {}, "mistake": "",
    }  # fmt: skip
    html = environment().get_template(template).render(base | context)
    return HTMLResponse(html, status_code=status, headers={"cache-control": "no-store"})


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, RibwrightError)
    context = {"title": "Not done", "mistake": error.sentence()}
    return _page(request, "adviser_error.html", context, status=status_of(error))


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
    Route("/", _open(waiting), name="adviser_waiting"),
    Route("/answer", _open(answer), methods=["POST"], name="adviser_answer"),
    Route("/often", _open(often), name="adviser_often"),
    Route("/builds", _open(builds), name="adviser_builds"),
    Route("/enter", _open(enter, signed_in=False), methods=["GET", "POST"], name="adviser_enter"),
    Route("/leave", _open(leave, signed_in=False), methods=["POST"], name="adviser_leave"),
]
