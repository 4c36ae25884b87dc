"""Any calculation, without entering it anywhere."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import document_of_outcome, form_to_raw
from ribwright.core.audit.index import by_trade, load
from ribwright.errors import RibwrightError
from ribwright.services.calculations import run_calculation
from ribwright.web.forms import changed_rows, form_page, row_change
from ribwright.web.pages import page
from ribwright.web.posting import posting
from ribwright.web.routes import fullsize


def listing(request: Request) -> Response:
    """All calculations."""
    return page(request, "calculations.html", {"title": "Calculations", "trades": by_trade()})


def run(request: Request, form: dict[str, str]) -> Response:
    """A calculation's form, and its worksheet once it was sent."""
    made = load(request.path_params["name"])
    raw: dict[str, Any] = form_to_raw(made.spec, form) if request.method == "POST" else {}
    extra: dict[str, int] = {}
    error, done, document = None, None, None
    change = row_change(form)
    if change is not None:
        raw, extra = changed_rows(raw, change)
    elif request.method == "POST":
        try:
            done = run_calculation(made.name, raw)
            document = document_of_outcome(done.outcome, done.spec, title=made.title)
        except RibwrightError as refused:
            error = refused
    shown = form_page(made.spec, raw, error=error, extra_rows=extra)
    context = {
        "title": made.title, "calculation": made, "form": shown, "done": done, "document": document, "carried": fullsize.carried(form),
        "skin": done is not None and fullsize.has_skin(done.spec), "kept": fullsize.kept_layout(done),
    }  # fmt: skip
    return page(request, "calculation.html", context, status=422 if error else 200)


ROUTES = [
    Route("/calc", listing, name="calculations"),
    Route("/calc/{name}", posting(run), methods=["GET", "POST"], name="calculation"),
    *fullsize.ROUTES,
]
