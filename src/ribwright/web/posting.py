"""Reading a posted form, and where to go after it was taken."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

MOST_FIELDS = 12_000


def posting(handler: Callable[[Request, dict[str, str]], Response]) -> Callable[[Request], Any]:
    """A plain function of request and flat form: the form is read here, the work runs in a thread."""

    @functools.wraps(handler)
    async def wrapped(request: Request) -> Response:
        form: dict[str, str] = {}
        if request.method == "POST":
            async with request.form(max_fields=MOST_FIELDS, max_files=0) as sent:
                form = {key: value for key, value in sent.items() if isinstance(value, str)}
        return await run_in_threadpool(handler, request, form)

    return wrapped


def see_other(url: str) -> RedirectResponse:
    """After a form was taken: go and look at the page (sending the form again by reload is harmless)."""
    return RedirectResponse(url, status_code=303)
