"""Reading a posted form, and where to go after it was taken."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from ribwright.web.queue import answered, waited

MOST_FIELDS = 12_000


def posting(
    handler: Callable[[Request, dict[str, str]], Response], *, text_file: str = ""
) -> Callable[[Request], Any]:
    """A plain function of request and flat form: the form is read here, the work runs in a thread.

    Args:
        text_file: field of a file that may come with the form; its text joins the form, with bytes that are no text
            as ``surrogateescape`` keeps them.
    """

    @functools.wraps(handler)
    async def wrapped(request: Request) -> Response:
        form: dict[str, str] = {}
        if request.method == "POST":
            async with request.form(max_fields=MOST_FIELDS, max_files=1 if text_file else 0) as sent:
                form = {key: value for key, value in sent.items() if isinstance(value, str)}
                brought = sent.get(text_file) if text_file else None
                if isinstance(brought, UploadFile) and brought.filename:
                    form[text_file] = (await brought.read()).decode("utf-8", "surrogateescape")
        return await taken(request, form, functools.partial(handler, request, form))

    return wrapped


async def taken(request: Request, form: dict[str, str], work: Callable[[], Response]) -> Response:
    """Do a form's work in a thread; one that waited on a phone gets its own answer, and open pages look for the entry."""
    if waited(request):
        answer = await run_in_threadpool(answered, request, form, work)
    else:
        answer = await run_in_threadpool(work)
    if request.method == "POST":
        request.app.state.live.look()
    return answer


def see_other(url: str) -> RedirectResponse:
    """After a form was taken: go and look at the page (sending the form again by reload is harmless)."""
    return RedirectResponse(url, status_code=303)
