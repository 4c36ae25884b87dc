"""After a roll: type what the steel rule says, read stop or what next."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import document_of_outcome, form_to_raw
from ribwright.core.forming.roll_calculations import NosePass
from ribwright.errors import InputError, RibwrightError
from ribwright.services.rolled import ASKED, enter_roll, judge_roll, narrow_by_lot, planned, rolls
from ribwright.web.forms import changed_rows, form_page, new_request_id, row_change
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other

BESIDE = ("place", "lot", "stage")


def rolled(request: Request, form: dict[str, str]) -> Response:
    """What was found on a rolled edge, and what to do now; entered on request."""
    project, ref = project_of(request), request.path_params["ref"]
    place, lot, stage = (form.get(name, "").strip()[:80] for name in BESIDE)
    error: RibwrightError | None = None
    done, document, extra = None, None, {}  # type: ignore[var-annotated]
    try:
        view, raw = planned(project, ref, place=place)
    except InputError as refused:
        view, raw = planned(project, ref)
        error = refused
    request_id = form.get("request") or new_request_id()
    if request.method == "POST" and error is None:
        typed: dict[str, Any] = form_to_raw(NosePass, {k: v for k, v in form.items() if ":" not in k})
        change = row_change(form)
        try:
            if change is not None:
                raw, extra = changed_rows(raw | typed, change)
            elif form.get("narrow"):
                narrow_by_lot(project, actor=actor_of(request), request_id=request_id, ref=ref, lot=lot)
                return see_other(request.url_for("operation", ref=ref).path)
            elif form.get("enter"):
                enter_roll(
                    project, actor=actor_of(request), request_id=request_id, ref=ref, stage=stage, place=place, lot=lot, typed=typed
                )  # fmt: skip
                return see_other(request.url_for("rolled", ref=ref).path)
            else:
                done = judge_roll(project, ref, typed, place=place)
                document = document_of_outcome(done.outcome, done.spec, title="How it was worked out")
        except RibwrightError as refused:
            error = refused
        raw = raw | {key: value for key, value in typed.items() if value not in ("", [])}
    shown = form_page(NosePass, raw, request_id=request_id, error=error, extra_rows=extra)
    context = {
        "title": "After the roll", "one": view.object, "done": done, "form": shown, "document": document,
        "place": place, "lot": lot, "stage": stage, "stages": [s.name for s in view.stages],
        "asked": [part for name in ASKED for part in shown.parts if part.name == name],
        "known": [part for part in shown.parts if part.name not in ASKED],
        "expected": view.worked.outcome.results["radius"] if view.worked else None,
        "opening": view.worked.outcome.results["opening"] if view.worked else None,
        "rolls": [one for one in rolls(project) if one.ref == ref or (one.lot and one.lot == lot)],
    }  # fmt: skip
    return page(request, "rolled.html", context, status=422 if error else 200)


ROUTES = [Route("/operation/{ref}/rolled", posting(rolled), methods=["GET", "POST"], name="rolled")]
