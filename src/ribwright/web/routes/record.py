"""Record: the newest entries, search, and the check of the whole."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.errors import OutOfRangeError
from ribwright.services.record import check, get_entry, recent, search
from ribwright.web.pages import page, project_of
from ribwright.web.posting import posting

SHOWN = 50


def record(request: Request) -> Response:
    """The newest entries, or those that hold all the words looked for."""
    project = project_of(request)
    words = request.query_params.get("words", "").strip()[:200]
    before = _number(request.query_params.get("before", "0"))
    if words:
        lines = [get_entry(project, entry.seq) for entry in search(project, words, SHOWN, before=before)]
    else:
        lines = list(recent(project, before=before, limit=SHOWN))
    return page(
        request,
        "record.html",
        {
            "title": "Record",
            "lines": lines,
            "words": words,
            "more": lines[-1].entry.seq if len(lines) == SHOWN else 0,
        },
    )


def entry(request: Request) -> Response:
    """One entry as it is hashed."""
    line = get_entry(project_of(request), request.path_params["seq"])
    return page(request, "entry.html", {"title": f"Entry {line.entry.seq}", "line": line})


def check_record(request: Request, form: dict[str, str]) -> Response:
    """Follow the chain, rebuild every table and compare."""
    report = check(project_of(request))
    return page(
        request,
        "checked.html",
        {"title": "Check the record", "report": report},
        status=200 if report.ok else 409,
    )


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        raise OutOfRangeError("before", found=text, allowed="the number of an entry")
    return int(text)


ROUTES = [
    Route("/record", record, name="record"),
    Route("/record/check", posting(check_record), methods=["POST"], name="check_record"),
    Route("/record/{seq:int}", entry, name="entry"),
]
