"""“I spoiled a hole”: what the calipers say, and within a minute what it comes to."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import document_of_outcome, form_to_raw
from ribwright.core.bench import document_of_sheet
from ribwright.errors import InputError
from ribwright.services.record import get_object
from ribwright.services.spoiled import ASKED, Mistake, enter_spoiled, from_the_seam, judge_spoiled
from ribwright.web.forms import changed_rows, form_page, new_request_id, row_change
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other


def spoiled(request: Request, form: dict[str, str]) -> Response:
    """Caliper numbers of a hole of this seam: within limits, how to mend it, or ask; entered on request."""
    project, ref = project_of(request), request.path_params["ref"]
    one, error, done = get_object(project, ref), None, None
    extra: dict[str, int] = {}
    request_id = form.get("request") or new_request_id()
    raw: dict[str, Any] = from_the_seam(project, ref)
    if request.method == "POST":
        change = row_change(form)
        raw |= form_to_raw(Mistake, {k: v for k, v in form.items() if ":" not in k})
        if change is not None:
            raw, extra = changed_rows(raw, change)
        else:
            try:
                if form.get("enter"):
                    made = enter_spoiled(
                        project, actor=actor_of(request), request_id=request_id, ref=ref, typed=raw
                    )
                    return see_other(request.url_for("discrepancy", ref=f"D{made.seq}").path)
                done = judge_spoiled(project, ref, raw)
            except InputError as refused:
                error = refused
    shown = form_page(Mistake, raw, request_id=request_id, error=error, extra_rows=extra)
    context = {
        "title": "A spoiled hole", "one": one, "done": done,
        "asked": [part for name in ASKED for part in shown.parts if part.name == name],
        "known": [part for part in shown.parts if part.name not in ASKED and part.name != "photo"],
        "form": shown,
        "sheet": document_of_sheet(done.outcome.sheets[0], reference=ref) if done else None,
        "worksheet": document_of_outcome(done.outcome, done.spec, title="How it was worked out") if done else None,
    }  # fmt: skip
    return page(request, "spoiled.html", context, status=422 if error else 200)


ROUTES = [
    Route("/operation/{ref}/spoiled", posting(spoiled), methods=["GET", "POST"], name="spoiled"),
]
